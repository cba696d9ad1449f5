from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from trials.errors import RecordsRefused
from trials.model.rows import Known, Sheet
from trials.records.encoded_column import Cells
from trials.records.faults import Faults
from trials.records.rules.forms import FORMS, Form
from trials.records.rules.headings import recognise

if TYPE_CHECKING:
    from tests.records.conftest import Farm


def _cells(*heading: str) -> Cells:
    return Cells.of_rows("some.csv", "0" * 64, 1, heading, (), ())


@pytest.mark.parametrize("form", FORMS.values(), ids=lambda form: str(form.sheet))
def test_each_kind_is_told_by_all_its_headings_and_by_those_it_needs(form: Form) -> None:
    faults = Faults()
    for heading in (form.names, form.must, tuple(reversed(form.names))):
        found = recognise(_cells(*heading), faults)
        assert found is not None
        assert found.form is form
    assert len(faults) == 0


def test_every_sheet_has_a_form_whose_key_is_among_its_columns() -> None:
    assert list(FORMS) == list(Sheet)
    for form in FORMS.values():
        assert set(form.key) <= set(form.names)
        assert len(set(form.names)) == len(form.names)


def test_headings_may_be_written_with_capitals_and_blanks(farm: Farm) -> None:
    heading, _, body = farm.text("cuts.csv").partition("\n")
    farm.write("cuts.csv", " Plot ,Cut on,OUTCOME,Grade-cm,stems,Cull reason\n" + body)
    assert len(farm.read().frames[Sheet.CUTS]) == 6
    assert heading.startswith("plot")


def test_columns_that_may_be_left_out_are_empty(farm: Farm) -> None:
    farm.write("varieties.csv", "variety,crop\nEmber,zinnia\nFrost Fern,zinnia\n")
    assert farm.read().frames[Sheet.VARIETIES]["habit"].tolist() == [None, None]


def test_a_missing_column_is_named(farm: Farm, known: Known) -> None:
    farm.write("stand_counts.csv", "plot,living\nA1,16\n")
    fault = farm.fault(known)
    assert (fault.file, fault.row, fault.column) == ("stand_counts.csv", 1, "counted_on")
    assert fault.problem == "A file of stand counts needs this column."
    assert fault.remedy == "Add a column with the heading counted_on."


def test_an_unknown_column_names_the_nearest(farm: Farm, known: Known) -> None:
    heading, _, body = farm.text("cuts.csv").partition("\n")
    farm.write("cuts.csv", heading.replace("cull_reason", "cul_reson") + "\n" + body)
    unknown, missing = sorted(farm.faults(known), key=lambda fault: fault.column or "")
    assert (unknown.row, unknown.column) == (1, "cul_reson")
    assert "Did you mean cull_reason?" in unknown.remedy
    assert (missing.row, missing.column) == (1, "cull_reason")
    assert missing.remedy == "Is it the column 'cul_reson'? Then call it cull_reason."


def test_a_column_too_many_is_refused(farm: Farm, known: Known) -> None:
    farm.write("stand_counts.csv", "plot,counted_on,living,weather\nA1,2026-06-10,16,dry\n")
    fault = farm.fault(known)
    assert (fault.file, fault.row, fault.column) == ("stand_counts.csv", 1, "weather")
    assert fault.problem == "A file of stand counts has no such column."
    assert "plot, counted_on, living" in fault.remedy


def test_a_heading_twice_is_refused(farm: Farm, known: Known) -> None:
    farm.write("stand_counts.csv", "plot,counted_on,living,Living\nA1,2026-06-10,16,16\n")
    fault = farm.fault(known)
    assert (fault.file, fault.row, fault.column) == ("stand_counts.csv", 1, "living")
    assert fault.problem == "Two columns have this heading."
    assert fault.remedy


def test_a_column_with_cells_needs_a_heading(farm: Farm, known: Known) -> None:
    farm.write("stand_counts.csv", "plot,counted_on,living,\nA1,2026-06-10,16,dry\n")
    fault = farm.fault(known)
    assert (fault.row, fault.column) == (1, None)
    assert fault.problem == "Column 4 has cells but no heading."
    assert fault.remedy


def test_headings_of_no_kind_name_what_the_nearest_kind_lacks(farm: Farm, known: Known) -> None:
    farm.write("odd.csv", "plot,stems,colour,taste,smell\nA1,3,red,,\n")
    fault = farm.fault(known)
    assert (fault.file, fault.row, fault.column) == ("odd.csv", 1, None)
    assert "The nearest is cuts, which also needs: cut_on, outcome" in fault.problem
    assert fault.remedy.startswith("The headings of cuts are: plot, cut_on")


def test_a_file_without_any_known_heading_is_refused(farm: Farm, known: Known) -> None:
    farm.write("odd.csv", "3,4,5\n1,2,3\n")
    fault = farm.fault(known)
    assert (fault.file, fault.row) == ("odd.csv", 1)
    assert "no known heading" in fault.problem
    assert fault.remedy


@pytest.mark.parametrize("mark", [";", "\t", "|"])
def test_cells_separated_by_something_else_are_accepted(farm: Farm, mark: str) -> None:
    farm.write("cuts.csv", farm.text("cuts.csv").replace(",", mark))
    assert len(farm.read().frames[Sheet.CUTS]) == 6


def test_names_in_a_file_that_could_not_be_read_are_not_called_unknown(farm: Farm) -> None:
    farm.write("plots.csv", b"PK\x03\x04" + bytes(40))
    assert farm.fault().file == "plots.csv"


def test_weeks_are_no_days() -> None:
    faults = Faults()
    assert recognise(_cells("Tag", "wk 30", "KW 31"), faults) is None
    with pytest.raises(RecordsRefused, match="'wk 30' is a week, not a day"):
        faults.refuse_if_any()
