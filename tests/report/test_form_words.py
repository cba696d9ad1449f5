"""A form's refusals speak of its fields."""

from __future__ import annotations

from trials.errors import Fault, RecordsRefused
from trials.report.form_words import form_sentences

FIELDS = {
    "crop": "Crop",
    "site": "Field",
    "equivalence_margin": "Margin",
    "beds": "Beds",
    "rows": "Rows",
}


def refused(*faults: tuple[str, str, str]) -> list[str]:
    found = [Fault("the plan", None, key, wrong, do) for key, wrong, do in faults]
    return form_sentences(RecordsRefused(found), FIELDS)


def test_empty_fields_are_one_sentence() -> None:
    missing = [(key, "is missing.", "Write it in quotes.") for key in ("crop", "site")]
    assert refused(*missing) == ["Two fields are empty: “Crop” and “Field”."]
    assert refused(missing[0]) == ["One field is empty: “Crop”."]


def test_what_cannot_be_right_goes_by_its_label_and_without_quotes() -> None:
    assert refused(("equivalence_margin", "'3 x' cannot be right.", 'Write "3" or "10%".')) == [
        "“Margin”: '3 x' cannot be right. Write 3 or 10%."
    ]
    wrong = ("beds[1].length_m", "cannot be right.", "Write it in quotes on one line.")
    assert refused(wrong) == ["“Beds”: cannot be right. Write it on one line."]
    assert refused(("planting.rows", "is missing.", "")) == ["One field is empty: “Rows”."]


def test_a_key_without_a_field_is_named_itself() -> None:
    assert refused(("calendar.days", "is wrong.", "Leave it out.")) == [
        "calendar.days: is wrong. Leave it out."
    ]
