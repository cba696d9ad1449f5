"""Rules of factors: each plot has a level of what its trial varies, written in one way."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

import numpy as np

from trials.model.rows import Sheet
from trials.model.trial import AppliedTo
from trials.records.faults import Faults, Wrong, hint, nearest, shown
from trials.records.rules.field import mask_of, trials_of
from trials.records.rules.one_level import looks, reads
from trials.records.rules.reference_data import TrialFacts, World, records
from trials.records.rules.validation import Judged


def factors_have_columns(judged: Judged, world: World, faults: Faults) -> None:
    """Each file of plots has a column for each factor of its trials, and no other column."""
    trials = trials_of(judged, world)
    for number, part in enumerate(judged.parts):
        here = [trials[record] for record in np.flatnonzero(judged.part == number)]
        known = list(dict.fromkeys(trial for trial in here if trial is not None))
        needed = {
            factor: trial.code for trial in reversed(known) for factor, _ in trial.factors or ()
        }
        there = part.factor_names
        for factor in [factor for factor in needed if factor not in there]:
            near = nearest(factor, [name for name in there if name not in needed])
            ask = f"Is it the column {shown(near)}? Then call it {factor}." if near else ""
            faults.add(
                part.file,
                1,
                factor,
                Wrong(
                    f"The trial {shown(needed[factor])} has the factor {shown(factor)}, "
                    "but the file has no such column.",
                    ask or f"Add a column {factor} with each plot's level.",
                ),
            )
        if None in here or any(trial.factors is None for trial in known) or not known:
            continue  # an unknown trial may have any factor
        for name in [name for name in there if name not in needed]:
            valid = [*needed, *judged.form.names]
            faults.add(
                part.file,
                1,
                name,
                Wrong(
                    "This is neither a column of plots nor a factor of the trials in this file.",
                    hint(name, valid, f"Remove it. The factors are: {', '.join(needed)}."),
                ),
            )


def levels_are_filled(judged: Judged, world: World, faults: Faults) -> None:
    """A plot has a level of each factor of its trial, and of no other."""
    trials = trials_of(judged, world)
    mine = [dict(trial.factors) if trial and trial.factors else None for trial in trials]
    columns = {part.file: part.factor_names for part in judged.parts}
    for factor in judged.factor_names:
        cells = judged.cells(factor)
        there = mask_of(factor in columns[judged.place(record)[0]] for record in range(len(judged)))
        clear = judged.clear(factor) & there
        empty = mask_of(
            own is not None and factor in own and cell is None
            for own, cell in zip(mine, cells, strict=True)
        )
        judged.fault(
            faults,
            empty & clear,
            factor,
            lambda record: Wrong(
                f"The trial {shown(judged.cell(record, 'trial'))} varies this, "
                "but the cell is empty.",
                "Write this plot's level, even if it is none or 0.",
            ),
        )
        strange = mask_of(
            own is not None and factor not in own and cell is not None
            for own, cell in zip(mine, cells, strict=True)
        )
        # Where no trial of the file has the factor, the column itself was noted.
        varied = any(own is not None and factor in own for own in mine)
        judged.fault(
            faults,
            strange & clear & varied,
            factor,
            lambda record: Wrong(
                f"The trial {shown(judged.cell(record, 'trial'))} does not vary this.",
                "Empty the cell, or name the factor in the file of trials.",
            ),
        )


def levels_are_spelled_alike(judged: Judged, world: World, faults: Faults) -> None:
    """One level is written in one way: not None and none, nor 30 and 30.0."""
    together = world.frames[Sheet.PLOTS]
    for factor in judged.factor_names:
        if judged.form.column(factor).sheet is not None:
            continue  # names of another sheet are judged by that sheet
        spellings: dict[tuple[str, str], Counter[str]] = {}
        for trial, level in records(together, "trial", factor):
            if trial is not None and level is not None:
                spellings.setdefault((trial, _plain(level)), Counter())[level] += 1
        usual = {key: counts.most_common(1)[0][0] for key, counts in spellings.items()}
        other = {
            record: usual[trial, _plain(level)]
            for record, (trial, level) in enumerate(records(judged.frame, "trial", factor))
            if trial is not None and level is not None and usual[trial, _plain(level)] != level
        }

        def words(record: int, factor: str = factor, other: dict[int, str] = other) -> Wrong:
            return Wrong(
                f"{shown(judged.cell(record, factor))} is written {shown(other[record])} elsewhere "
                "in this trial.",
                "Write each level in one way, or it counts as two.",
            )

        judged.fault(
            faults, mask_of(record in other for record in range(len(judged))), factor, words
        )


def varieties_are_spelled_alike(judged: Judged, world: World, faults: Faults) -> None:
    """One variety is written in one way: its capitals, spaces and hyphens make no second one."""
    first: dict[str, str] = {}
    for (name,) in records(world.frames[Sheet.VARIETIES], "variety"):
        if name is not None:
            first.setdefault(reads(name), name)
    judged.fault(
        faults,
        mask_of(
            name is not None and first[reads(name)] != name for name in judged.cells("variety")
        ),
        "variety",
        lambda record: Wrong(
            f"{shown(judged.cell(record, 'variety'))} is written "
            f"{shown(first[reads(judged.cell(record, 'variety'))])} elsewhere.",
            "Write one variety in one way. If they are two, give them names that differ in more "
            "than capitals, hyphens or spaces.",
        ),
    )


def _plain(level: str) -> str:
    level = looks(level)
    try:
        return str(float(level))
    except ValueError:
        return "".join(level.casefold().replace("_", " ").replace("-", " ").split())


# The ground that was given one level as a whole, and the labels that tell its pieces apart.
_PIECES: Mapping[AppliedTo, tuple[str, ...]] = {
    AppliedTo.WHOLE_PLOT: ("block", "whole_plot"),
    AppliedTo.SPLIT_PLOT: ("block", "whole_plot", "split_plot"),
}


def larger_units_are_whole(judged: Judged, world: World, faults: Faults) -> None:
    """All plots of one whole plot, or split plot, have the same level of what was given to it."""
    for unit, labels in _PIECES.items():
        for factor in judged.factor_names:
            _one_level_a_piece(judged, world, faults, factor, unit, labels)


def _one_level_a_piece(
    judged: Judged,
    world: World,
    faults: Faults,
    factor: str,
    unit: AppliedTo,
    labels: tuple[str, ...],
) -> None:
    trials = trials_of(judged, world)
    first: dict[tuple[str | None, ...], str] = {}
    for *piece, level in records(world.frames[Sheet.PLOTS], "trial", *labels, factor):
        if piece[-1] is not None and level is not None:
            first.setdefault(tuple(piece), level)
    here = list(records(judged.frame, "trial", *labels, factor))
    split = mask_of(
        own is not None
        and dict(own.factors or ()).get(factor) is unit
        and piece[-1] is not None
        and level is not None
        and _plain(first[tuple(piece)]) != _plain(level)
        for own, (*piece, level) in zip(trials, here, strict=True)
    )
    judged.fault(
        faults,
        split & judged.clear("trial", *labels),
        factor,
        lambda record: Wrong(
            f"{unit.value.capitalize()} {shown(judged.cell(record, labels[-1]))} has another "
            "level in another of its plots.",
            f"All plots of a {unit.value} have the same level of {factor}. Correct the level, the "
            f"{unit.value}, or the trial's factors.",
        ),
    )


def check_is_a_level(judged: Judged, world: World, faults: Faults) -> None:
    """The check of a new trial is a level of one of its factors."""
    wrong = [_check_fault(trial, world) for trial in trials_of(judged, world)]
    known = {i: said for i, said in enumerate(wrong) if said is not None}
    judged.fault(
        faults,
        mask_of(record in known for record in range(len(judged))) & judged.clear("check"),
        "check",
        known.__getitem__,
    )


def stored_check_is_a_level(judged: Judged, world: World, faults: Faults) -> None:
    """New plots of a stored trial include its check, unless stored plots do."""
    seen: set[str] = set()
    for record, trial in enumerate(trials_of(judged, world)):
        if trial is None or trial.new or trial.code in seen:
            continue
        seen.add(trial.code)
        wrong = _check_fault(trial, world)
        if wrong is not None:
            faults.add(judged.place(record)[0], None, None, wrong)


def _check_fault(trial: TrialFacts | None, world: World) -> Wrong | None:
    if trial is None or trial.check is None or not trial.factors or Sheet.PLOTS in world.unsure:
        return None
    plots = world.frames[Sheet.PLOTS]
    mine = plots[plots["trial"] == trial.code]
    if mine.empty:
        return None
    levels: set[str] = set()
    for factor, _ in trial.factors:
        if factor not in mine.columns or mine[factor].isna().any():
            return None  # noted already
        levels |= set(mine[factor])
    if trial.check in levels:
        return None
    return Wrong(
        f"No plot of the trial {shown(trial.code)} has the check {shown(trial.check)}.",
        hint(trial.check, levels, "Name a variety that is grown, or load the plots of the check."),
    )
