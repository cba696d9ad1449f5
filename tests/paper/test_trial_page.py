from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from trials.layout.plan import PlannedLayout
from trials.model.trial import Margin
from trials.model.units import PaperSize
from trials.paper.trial_page import write_trial_page
from trials.stats.results import LayoutKind

if TYPE_CHECKING:
    from tests.paper.conftest import Layouts, Printed


def written(layout: PlannedLayout, folder: Path, **asked: Any) -> Path:
    path = folder / "trial.pdf"
    write_trial_page(layout, path, farm="Murrowhask Flowers", on=date(2027, 3, 1), **asked)
    return path


@pytest.mark.slow
@pytest.mark.parametrize("size", list(PaperSize))
@pytest.mark.parametrize(("entries", "replicates", "beds"), [(2, 2, 1), (10, 6, 3), (50, 4, 8)])
def test_the_whole_trial_stands_on_one_page(
    layouts: Layouts,
    printed: type[Printed],
    tmp_path: Path,
    size: PaperSize,
    entries: int,
    replicates: int,
    beds: int,
) -> None:
    layout = layouts.blocks(entries, replicates, beds=beds)
    found = printed(written(layout, tmp_path, size=size))
    assert len(found.pages) == 1
    assert layout.plan.question in found.words
    assert all(plot.code in found.words for plot in layout.plots)
    assert all(level in found.words for level in layout.plan.factors[0].levels)
    assert not found.overrun(margin_mm=5)


def test_it_tells_the_check_the_measure_and_what_does_not_matter(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    layout = layouts.whole_plots()
    plan = replace(layout.plan, margin=Margin(10, percent=True))
    words = printed(written(replace(layout, plan=plan), tmp_path)).words
    assert "the check: Ember" in words
    assert "stems per plant: marketable stems" in words
    assert "A difference under 10% does not matter to you" in words
    assert "12 plots, split-plot" in words
    assert "Pinch (on whole plots) 2: pinched; not pinched" in words


def test_days_stand_in_their_order(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    calendar = ((date(2027, 7, 12), "first cut expected"), (date(2027, 4, 28), "start the seed"))
    words = printed(written(layouts.blocks(2, 2), tmp_path, calendar=calendar)).words
    told = ("2027-04-28 start the seed", "2027-05-20 plant out", "2027-07-12 first cut expected")
    places = [words.index(line) for line in told]
    assert places == sorted(places)


def test_it_says_what_to_record_and_what_can_hurt(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    words = printed(written(layouts.blocks(2, 2), tmp_path)).words
    for told in ("living plants", "Picked, nothing there: 0", "eye caps", "Sprays", "Chlorine"):
        assert told in words


@pytest.mark.slow
def test_what_cannot_be_read_on_one_page_takes_more(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    found = printed(written(layouts.blocks(2, 2), tmp_path, care=("Take care. " * 1000,)))
    assert len(found.pages) > 1
    assert found.words.count("Take care.") == 1000


def test_entries_that_stand_once_are_not_said_to_stand_more_often(
    layouts: Layouts, printed: type[Printed], tmp_path: Path
) -> None:
    layout = layouts.blocks(6, 4)
    augmented = replace(layout, plan=replace(layout.plan, kind=LayoutKind.AUGMENTED_BLOCKS))
    words = printed(written(augmented, tmp_path)).words
    assert "the checks in every block and every other entry once" in words
    assert "each treatment 4 times" in printed(written(layout, tmp_path)).words
