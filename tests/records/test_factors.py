from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trials.errors import RecordsRefused
from trials.model.trial import AppliedTo
from trials.records import read_factors
from trials.records.rules.factors import say_factors


@pytest.mark.parametrize(
    ("text", "factors"),
    [
        ("variety on plots", (("variety", AppliedTo.PLOT),)),
        (
            "pinch on whole plots; variety on plots",
            (("pinch", AppliedTo.WHOLE_PLOT), ("variety", AppliedTo.PLOT)),
        ),
        (
            " Date on whole plots ;pinch on  SPLIT plots; variety on plot;",
            (
                ("date", AppliedTo.WHOLE_PLOT),
                ("pinch", AppliedTo.SPLIT_PLOT),
                ("variety", AppliedTo.PLOT),
            ),
        ),
        (
            "netting on strips; variety on strips",
            (("netting", AppliedTo.STRIP), ("variety", AppliedTo.STRIP)),
        ),
        ("Planting date on plots", (("planting_date", AppliedTo.PLOT),)),
    ],
)
def test_factors_are_read_in_order(text: str, factors: tuple[tuple[str, AppliedTo], ...]) -> None:
    assert read_factors(text) == factors


@pytest.mark.parametrize(
    "text",
    [
        "",
        ";",
        "variety",
        "variety, pinch",
        "on plots",
        "variety on beds",
        "variety on",
        "block on plots",  # a column of plots already
        "living on plots",  # a figure of each plot
        "pinch:variety on plots",  # the colon joins factors
        "_ on plots",
        "variety on plots; variety on whole plots",
    ],
)
def test_what_cannot_be_read_as_factors(text: str) -> None:
    with pytest.raises(RecordsRefused) as refused:
        read_factors(text)
    (fault,) = refused.value.faults
    assert fault.column == "factors"
    assert fault.remedy


names = st.text("abcdefgh _", min_size=1, max_size=12).map(lambda t: f"x{t.strip()}y")


@settings(deadline=None, derandomize=True, database=None)
@given(st.lists(st.tuples(names, st.sampled_from(AppliedTo)), min_size=1, max_size=4))
def test_what_is_said_is_read_back(written: list[tuple[str, AppliedTo]]) -> None:
    try:
        factors = read_factors(say_factors(written))
    except RecordsRefused:
        assert len({"_".join(n.replace("_", " ").split()) for n, _ in written}) < len(written)
        return
    assert read_factors(say_factors(factors)) == factors
    assert [unit for _, unit in factors] == [unit for _, unit in written]
