from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
import statsmodels.formula.api as smf
from click.testing import CliRunner
from scipy.stats import f as f_distribution

from trials.cli import tallybed
from trials.errors import ComparisonRefused, TableUnclear
from trials.report.document import schema

ROWS = """variety,block,stems
old,1,4
old,2,5
old,3,6
new,1,8
new,2,11
new,3,13
"""


def compared(path: Path, *options: str) -> str:
    words = ["compare", "--table", str(path), "--measure", "stems", "--treatment", "variety"]
    said = CliRunner().invoke(tallybed, [*words, "--block", "block", *options])
    assert said.exit_code == 0, said.output
    return said.output


@pytest.fixture
def rows(tmp_path: Path) -> Path:
    path = tmp_path / "rows.csv"
    path.write_text(ROWS, encoding="utf-8")
    return path


def test_on_the_log_scale_the_difference_is_a_ratio(rows: Path) -> None:
    document = json.loads(compared(rows, "--scale", "log", "--json"))
    (pair,) = document["all_pairs"]
    ratio = (8 * 11 * 13 / (4 * 5 * 6)) ** (1 / 3)  # of geometric means
    assert max(pair["difference"], 1 / pair["difference"]) == pytest.approx(ratio)
    assert document["scale"] == "log"
    assert "differences are ratios" in " ".join(compared(rows, "--scale", "log").split())


def test_the_square_root_scale_and_none(rows: Path) -> None:
    assert json.loads(compared(rows, "--scale", "sqrt", "--json"))["scale"] == "square root"
    assert json.loads(compared(rows, "--json"))["scale"] == "as measured"


def test_what_has_no_logit_is_refused_with_a_remedy(rows: Path) -> None:
    words = ["compare", "--table", str(rows), "--measure", "stems", "--treatment", "variety"]
    said = CliRunner().invoke(tallybed, [*words, "--scale", "logit"])
    assert isinstance(said.exception, ComparisonRefused) or "as measured" in said.output
    assert said.exit_code != 0


BED = "half,plant,stems\n" + "".join(
    f"{half},{plant},{plant * 7 % 11 + shift}\n"
    for half, shift in (("left", 3), ("right", 6))
    for plant in range(1, 21)
)


@pytest.fixture
def bed(tmp_path: Path) -> list[str]:
    path = tmp_path / "bed.csv"
    path.write_text(BED, encoding="utf-8")
    return ["compare", "--table", str(path), "--measure", "stems", "--treatment", "half"]


def test_without_a_terminal_plants_are_refused_by_the_options_that_answer(bed: list[str]) -> None:
    said = CliRunner().invoke(tallybed, bed)
    assert isinstance(said.exception, TableUnclear)
    assert "--rows-are plots or --rows-are plants" in str(said.exception)
    page = CliRunner().invoke(tallybed, [*bed, "--rows-are", "plants"]).output
    assert "2 plots, side by side, without replication" in page
    assert "p =" not in page
    assert "40 plots" in CliRunner().invoke(tallybed, [*bed, "--rows-are", "plots"]).output


def test_in_a_terminal_plants_are_asked_about(
    bed: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("trials.cli.compare.in_a_terminal", lambda: True)
    said = CliRunner().invoke(tallybed, bed, input="trees\nplants\n")
    assert said.exit_code == 0, said.output
    assert "looks like plants" in said.output
    assert "2 plots, side by side" in said.output


def counted() -> pd.DataFrame:
    """Tall stems among all stems of 5 varieties in 4 blocks, varying more than by chance."""
    rng = np.random.default_rng(11)
    frame = pd.DataFrame({"block": np.repeat(range(4), 5), "variety": list("ABCDE") * 4})
    frame["stems"] = rng.integers(30, 61, 20)
    odds = np.exp(-0.4 + 0.3 * np.tile(range(5), 4) + rng.normal(0, 0.4, 20))
    frame["tall"] = rng.binomial(frame["stems"], odds / (1 + odds))
    return frame


def by_statsmodels(frame: pd.DataFrame, family: Any, formula: str, **more: Any) -> list[float]:
    """Quasi-likelihood F of variety in blocks, its degrees of freedom and p."""

    def fit(terms: str) -> Any:
        model = smf.glm(f"{formula} ~ C(block){terms}", frame, family=family, **more)
        return model.fit(scale="X2", tol=1e-12)

    less, full = fit(""), fit(" + variety")
    F = (less.deviance - full.deviance) / 4 / (full.pearson_chi2 / full.df_resid)
    return [F, 4, full.df_resid, float(f_distribution.sf(F, 4, full.df_resid))]


def second_opinion(path: Path, *words: str) -> dict[str, Any]:
    words = ("compare", "--table", str(path), "--treatment", "variety", "--block", "block", *words)
    said = CliRunner().invoke(tallybed, [*words, "--json"])
    assert said.exit_code == 0, said.output
    document: dict[str, Any] = json.loads(said.output)
    jsonschema.validate(document, schema())
    found: dict[str, Any] = document["solid"]["count_model"]
    return found


def test_a_share_of_a_column_has_the_share_model(tmp_path: Path) -> None:
    frame = counted()
    frame.to_csv(tmp_path / "t.csv", index=False)
    found = second_opinion(tmp_path / "t.csv", "--measure", "tall", "--of", "stems")
    assert found["method"].startswith("share model")
    shares = frame.assign(share=frame["tall"] / frame["stems"])
    expected = by_statsmodels(
        shares, sm.families.Binomial(), "share", var_weights=shares["stems"].to_numpy(float)
    )
    (test,) = found["tests"]
    got = [test["F"], test["num_df"], test["den_df"], test["p"]]
    assert got == pytest.approx(expected, rel=1e-6)
    assert found["p"] == {"variety": test["p"]}
    # The same shares written as shares, and in per cent, have the same counts behind them.
    for name, share in (("tall share", shares["share"]), ("tall %", 100 * shares["share"])):
        frame.assign(**{name: share.round(4)}).to_csv(tmp_path / "s.csv", index=False)
        again = second_opinion(tmp_path / "s.csv", "--measure", name, "--of", "stems")
        assert again["tests"] == found["tests"]


def test_whole_counts_have_the_count_model_without_plants(tmp_path: Path) -> None:
    frame = counted()
    frame.to_csv(tmp_path / "t.csv", index=False)
    found = second_opinion(tmp_path / "t.csv", "--measure", "tall")
    assert found["method"].startswith("count model")
    expected = by_statsmodels(frame, sm.families.Poisson(), "tall")
    (test,) = found["tests"]
    got = [test["F"], test["num_df"], test["den_df"], test["p"]]
    assert got == pytest.approx(expected, rel=1e-6)


def test_heights_in_whole_centimetres_are_no_counts(tmp_path: Path) -> None:
    frame = counted().rename(columns={"tall": "height_cm"})
    frame.to_csv(tmp_path / "t.csv", index=False)
    assert second_opinion(tmp_path / "t.csv", "--measure", "height_cm") is None
