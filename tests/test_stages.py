"""What is told of each trial on a day, also where its calendar cannot be made."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from tests.plans import small_plan
from trials import season
from trials.errors import PlanRefused
from trials.model.rows import Signed
from trials.model.trial import TrialStage


def test_a_trial_whose_days_are_not_in_order_has_no_expected_days(tmp_path: Path) -> None:
    store, figures = tmp_path / "farm.tallybed", tmp_path / "crops.csv"
    season.plan_from_text(store, small_plan(), "plan.toml")
    assert season.trials_now(store, date(2026, 4, 1))["six-2026"].expected
    rows = ("zinnia,days_in_trays,40,own records", "zinnia,days_to_bloom,20,own records")
    figures.write_text("\n".join(["crop,figure,value,source", *rows, ""]), encoding="utf-8")
    season.load(store, [figures])
    with pytest.raises(PlanRefused, match="in that order"):
        season.calendar(store, "six-2026")
    season.planted(store, "six-2026", date(2026, 5, 15), signed=Signed("Ida"))
    told = season.trials_now(store, date(2026, 6, 20))["six-2026"]
    assert told.expected == ()
    assert told.stage is TrialStage.PLANTED
    assert told.uncounted == 12
