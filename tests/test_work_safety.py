from __future__ import annotations

from trials.model.work_safety import DEFER, WHOLE_TRIAL, Work, cautions


def test_every_task_has_a_caution_and_every_list_ends_by_deferring() -> None:
    for work in Work:
        told = cautions(work)
        assert len(told) == 2
        assert told[-1] == DEFER
    assert set(WHOLE_TRIAL) == set(Work)
    for who in ("Labels", "local rules", "adviser"):
        assert who in DEFER


def test_what_hurts_most_is_named() -> None:
    # Common practice of the trade.
    said = {work: cautions(work)[0] for work in Work}
    for work, words in {
        Work.CHLORINE: ("label", "acids", "ammonia", "gloves", "eye protection", "open the doors"),
        Work.SEED: ("gloves", "food or feed"),
        Work.SPRAY: ("label", "licensed", "re-entry"),
        Work.POSTS: ("eye caps", "gloves", "eye protection"),
    }.items():
        assert all(word in said[work] for word in words), work
