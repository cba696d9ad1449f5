from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from tests.plans import plan_of
from trials.errors import FileRefused, RecordsRefused
from trials.layout import Bed, Planting, TrialPlan, lay_out
from trials.layout.field.beds import spacings_cm
from trials.model.trial import AppliedTo, Margin
from trials.model.units import grade_in_inches
from trials.records.plan.file import plan_text, stored_plan
from trials.stats.results import LayoutKind

EXAMPLE = Path(__file__).parents[2] / "data" / "plan-example.toml"
TEXT = EXAMPLE.read_text(encoding="utf-8")


def read_plan(path: Path) -> TrialPlan:
    return plan_of(plan_text(path), path.name)


def written(folder: Path, text: str) -> Path:
    path = folder / "plan.toml"
    path.write_text(text, encoding="utf-8")
    return path


def faults(folder: Path, text: str) -> dict[str | None, str]:
    with pytest.raises(RecordsRefused) as refused:
        read_plan(written(folder, text))
    return {fault.column: f"{fault.problem} {fault.remedy}" for fault in refused.value.faults}


def test_the_example_says_what_stands_in_it() -> None:
    plan = read_plan(EXAMPLE)
    assert plan.code == "aster-2026"
    assert plan.kind is LayoutKind.COMPLETE_BLOCKS
    assert plan.checks == ("Our usual",)
    assert plan.margin == Margin(10, percent=True)
    assert plan.beds == (Bed("Bed 1", 20, 1.2), Bed("Bed 2", 20, 1.2))
    assert plan.planting == Planting(3, 20)
    assert plan.transplant_on == date(2026, 4, 5)
    assert plan.factors[0].applied_to is AppliedTo.PLOT


def test_the_example_fits_its_beds() -> None:
    assert len(lay_out(read_plan(EXAMPLE)).plots) == 16


def test_every_fault_is_listed_under_its_key(tmp_path: Path) -> None:
    text = (
        TEXT.replace("replicates = 4", 'replicates = "four"')
        .replace("rows = 3\n", "")
        .replace('name = "Bed 2"\nlength_m = 20', 'name = "Bed 2"\nlength_m = -20')
        .replace('equivalence_margin = "10 %"', 'equivalence_margin = "a lot"')
    )
    assert set(faults(tmp_path, text)) == {
        "replicates",
        "planting.rows",
        "beds[2].length_m",
        "equivalence_margin",
    }


def test_a_misspelt_key_is_told_the_nearest(tmp_path: Path) -> None:
    found = faults(tmp_path, TEXT.replace("replicates =", "replicats ="))
    assert "Did you mean 'replicates'?" in found["replicats"]
    assert "missing" in found["replicates"]


def test_a_misspelt_kind_is_told_the_nearest(tmp_path: Path) -> None:
    found = faults(tmp_path, TEXT.replace('"complete blocks"', '"complet blocks"'))
    assert "complete blocks" in found["layout"]


def test_what_may_be_left_out_is_filled_in(tmp_path: Path) -> None:
    gone = ("alpha", "equivalence_margin", "guards", "checks", "sow_on", "transplant_on", "on =")
    kept = [line for line in TEXT.splitlines() if not line.startswith(gone)]
    plan = read_plan(written(tmp_path, "\n".join(kept)))
    assert (plan.alpha, plan.margin, plan.guard_plants, plan.checks) == (0.05, None, 0, ())
    assert plan.transplant_on is None


@pytest.mark.parametrize("text", ["trial = ", "[[beds]\n"])
def test_what_is_not_toml_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(FileRefused, match="not valid TOML"):
        read_plan(written(tmp_path, text))


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FileRefused, match="Name the file"):
        read_plan(tmp_path / "none.toml")


def test_inches_and_feet_are_converted_exactly() -> None:
    """1 in = 2.54 cm and 1 ft = 0.3048 m (international yard and pound agreement, 1959)."""
    us = (
        TEXT.replace("minimum_length_cm = 40", "minimum_length_in = 16")
        .replace("grades_cm = [30, 40, 50]", "grades_in = [12, 16, 20]")
        .replace("length_m = 20", "length_ft = 66")
        .replace("width_m = 1.2", "width_ft = 4")
        .replace("spacing_cm = 20", "spacing_in = 9")
    )
    plan = plan_of(us, "plan")
    assert plan.minimum_length_cm == 41  # as the grade that starts there
    assert plan.grades_cm == (30, 41, 51)
    assert [grade_in_inches(grade) for grade in plan.grades_cm] == [12, 16, 20]
    assert plan.planting.spacing_cm == pytest.approx(22.86)
    assert plan.beds[0].length_m == pytest.approx(20.1168)
    assert plan.beds[0].width_m == pytest.approx(1.2192)


def test_a_length_is_given_once() -> None:
    twice = TEXT.replace("spacing_cm = 20", "spacing_cm = 20\nspacing_in = 8")
    with pytest.raises(RecordsRefused, match=r"planting\.spacing_in: is given as spacing_cm too"):
        plan_of(twice, "plan")


def test_spacings_are_compared_in_inches_as_they_are_written() -> None:
    factor = '[[factors]]\nname = "spacing_in"\nlevels = ["6", "9"]\non = "whole plot"\n\n'
    plan = plan_of(TEXT.replace("[[factors]]", f"{factor}[[factors]]", 1), "plan")
    assert spacings_cm(plan) == pytest.approx([15.24, 22.86])
    assert plan.factors[0].levels == ("6", "9")


def test_a_former_key_is_refused_with_its_name_today() -> None:
    text = TEXT.replace("randomisation_number", "seed") + "\n[assume]\nstems_an_hour = 120\n"
    with pytest.raises(RecordsRefused) as refusal:
        plan_of(text, "plan")
    remedies = {fault.column: fault.remedy for fault in refusal.value.faults}
    assert remedies["seed"] == "It is now called randomisation_number."
    assert remedies["assume.stems_an_hour"] == "It is now called stems_per_hour."
    stored = stored_plan(text, "plan")
    assert (stored.plan.seed, stored.assumed.stems_per_hour) == (20260301, 120)
