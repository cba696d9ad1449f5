"""What is wrong with a form, in the words of its fields."""

from __future__ import annotations

import re
from collections.abc import Mapping

from trials.errors import Fault, RecordsRefused
from trials.report.figures import listed

EMPTY = "is missing."
_NUMBERS = ("", "One field is", "Two fields are", "Three fields are", "Four fields are")


def form_sentences(refused: RecordsRefused, fields: Mapping[str, str]) -> list[str]:
    """The empty fields in one sentence, then one sentence for each field that cannot be right.

    ``fields`` has the label of each key; a key of a part or a row is ``part.key`` or
    ``parts[2].key``, and goes by its own label or that of the whole part.
    """
    empty = [_label(fault, fields) for fault in refused.faults if fault.problem == EMPTY]
    wrong = [fault for fault in refused.faults if fault.problem != EMPTY]
    sentences = []
    if empty:
        number = len(empty)
        some = _NUMBERS[number] if number < len(_NUMBERS) else f"{number} fields are"
        sentences.append(f"{some} empty: {listed(list(dict.fromkeys(empty)), most=number)}.")
    sentences += [f"{_label(fault, fields)}: {fault.problem} {_typed(fault)}" for fault in wrong]
    return sentences


def _typed(fault: Fault) -> str:
    """The remedy without its quotes, which belong to a file: nobody types them into a field."""
    return re.sub(r"\bin quotes,? ", "", fault.remedy.replace('"', ""))


def _label(fault: Fault, fields: Mapping[str, str]) -> str:
    key = fault.column or ""
    part, _, own = key.rpartition(".")
    for name in (key, own, part.partition("[")[0], key.partition("[")[0]):
        if name in fields:
            return f"“{fields[name]}”"
    return key or "the form"
