"""A trial's plan as text: for a form that is filled in, and for a proposal that is taken."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date

from trials.errors import PlanRefused
from trials.layout.plan import TrialPlan
from trials.model.trial import AppliedTo
from trials.records.plan.file import WrittenPlan
from trials.records.plan.keys import PARTS, REPEATED
from trials.records.plan.toml_text import quoted


def plan_text_of(values: Mapping[str, object]) -> str:
    """The text of a plan's file from its values, by the keys of the file.

    For a form: ``factors`` and ``beds`` are lists of mappings, ``planting`` and the other parts
    are mappings, days are dates. None and empty parts are left out, as a key that was not filled
    in. Whether it can be right is for ``season.propose`` to say, with the key's name.
    """
    return toml_of(values, {*PARTS, *REPEATED})


def toml_of(values: Mapping[str, object], parts: Collection[str]) -> str:
    """Values as TOML: those named in ``parts`` as parts or lists of parts, None left out."""
    lines = [
        f"{name} = {_written(value)}"
        for name, value in values.items()
        if name not in parts and value is not None
    ]
    for name, part in values.items():
        if name in parts and isinstance(part, Mapping) and part:
            lines += ["", f"[{name}]", *_lines(part)]
        elif name in parts and isinstance(part, list | tuple):
            for item in part:
                lines += ["", f"[[{name}]]", *_lines(item)]
    return "\n".join(lines) + "\n"


def with_taken(text: str, written: WrittenPlan, taken: TrialPlan) -> str:
    """The text with the part ``[taken]`` that makes the written plan into the one taken.

    ``written`` is what the text says. Refuses (PlanRefused) a text that has such a part already.
    """
    if written.plan == taken:
        return text
    if written.has_taken:
        raise PlanRefused(
            "The plan's file already has a part [taken]. Remove that part, or take no proposal."
        )
    return f"{text.rstrip()}\n\n{taken_part(written.plan, taken)}"


def taken_part(written: TrialPlan, taken: TrialPlan) -> str:
    """The part ``[taken]`` of a plan's file, to copy into it."""
    on_plots = {f.name for f in written.factors if f.applied_to is AppliedTo.PLOT}
    moved = [
        factor.name
        for factor in taken.factors
        if factor.name in on_plots and factor.applied_to is AppliedTo.WHOLE_PLOT
    ]
    values = {
        "layout": str(taken.kind),
        "replicates": taken.replicates,
        "plants_per_plot": taken.plants_per_plot,
        "block_size": taken.block_size,
        "whole_plots": moved or None,
    }
    return "\n".join(["[taken]", *_lines(values)]) + "\n"


def _lines(part: Mapping[str, object]) -> list[str]:
    return [f"{name} = {_written(value)}" for name, value in part.items() if value is not None]


def _written(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, list | tuple):
        return f"[{', '.join(_written(item) for item in value)}]"
    if isinstance(value, str):
        # A basic string of TOML is one of JSON, but for the delete character.
        return quoted(value)
    return repr(value)
