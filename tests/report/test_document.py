from __future__ import annotations

import itertools
import json
from collections.abc import Callable, Mapping
from dataclasses import fields, replace
from datetime import date
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from trials.model.trial import AppliedTo, Margin, RecordsDigest
from trials.report.document import comparison_document, schema
from trials.report.plain import json_text
from trials.stats import Question, compare
from trials.stats.design.table import PlotTable
from trials.stats.results import Comparison, LayoutKind, Method, Verdict
from trials.stats.what_was_tested import Check, FragileVerdict, OutlyingPlot, SecondOpinion, Solid

MakeTable = Callable[..., PlotTable]
REFERENCE = Path(__file__).parent.parent / "reference"

# name of the data, treatments, parts of the layout
PUBLISHED: tuple[tuple[str, tuple[str, ...], Mapping[str, Any]], ...] = (
    ("melon_crd", ("variety",), {}),
    ("cultivars_rcbd", ("cultivar",), {"block": "block"}),
    ("cucumber_latin_square", ("genotype",), {"row": "row", "column": "column"}),
    (
        "rice_nitrogen_split_plot",
        ("nitrogen", "variety"),
        {"block": "block", "on": {"nitrogen": AppliedTo.WHOLE_PLOT}},
    ),
    ("wheat_augmented", ("entry",), {"block": "block"}),
    ("oats_alpha", ("variety",), {"block": "replicate", "incomplete_block": "block"}),
)


def published(name: str) -> dict[str, list[Any]]:
    document = json.loads((REFERENCE / f"{name}.json").read_text(encoding="utf-8"))
    columns = zip(*document["rows"], strict=True)
    return dict(zip(document["columns"], map(list, columns), strict=True))


def require_valid(document: object) -> None:
    jsonschema.validate(
        document,
        schema(),
        cls=jsonschema.Draft202012Validator,
    )


def cultivars(plot_table: MakeTable, question: Question | None = None) -> Comparison:
    table = plot_table(published("cultivars_rcbd"), "cultivar", block="block")
    return compare(table, question or Question())


def test_the_schema_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(schema())


@pytest.mark.slow
@pytest.mark.parametrize(("name", "treatments", "parts"), PUBLISHED, ids=[p[0] for p in PUBLISHED])
def test_every_published_trial_gives_a_valid_document(
    plot_table: MakeTable, name: str, treatments: tuple[str, ...], parts: Mapping[str, Any]
) -> None:
    columns = published(name)
    table = plot_table(columns, *treatments, **parts)
    check = table.treatments[0].labels.levels[0]
    found = compare(table, Question(check=check, margin=Margin(5, percent=True)))
    document = comparison_document(found)
    require_valid(document)
    read_again = json.loads(json_text(document))
    assert read_again == document  # nothing is lost on the way through text
    assert document["plots"] == len(columns["yield"])


def test_the_keys_are_those_that_were_promised(plot_table: MakeTable) -> None:
    document = comparison_document(cultivars(plot_table, Question(check="C1")))
    promised = {
        "measure",
        "unit",
        "plots",
        "alpha",
        "layout",
        "model",
        "variance_components",
        "tests",
        "means",
        "all_pairs",
        "with_check",
        "with_best",
        "lsd",
        "cv_percent",
        "grand_mean",
        "relative_efficiency",
        "solid",
        "cautions",
    }
    assert promised <= set(document)
    means: Any = document["means"]
    assert set(means[0]) == {
        *("term", "levels", "n", "mean", "se", "df", "low", "high", "letters"),
    }
    assert means[0]["levels"] == {"cultivar": "C1"}
    pairs: Any = document["all_pairs"]
    assert set(pairs[0]) == {
        *("term", "a", "b", "difference", "se", "df", "t", "p", "p_adjusted", "low", "high"),
        *("verdict", "chance_by_randomisation"),
    }
    best: Any = document["with_best"]
    assert [row["levels"]["cultivar"] for row in best] == ["C1", "C2", "C3", "C4"]
    assert document["model"] == {"method": "least squares", "residual_df": 6.0}


def test_rows_stand_in_the_order_of_levels(plot_table: MakeTable) -> None:
    columns = published("rice_nitrogen_split_plot")
    table = plot_table(
        columns, "nitrogen", "variety", block="block", on={"nitrogen": AppliedTo.WHOLE_PLOT}
    )
    document: Any = comparison_document(compare(table, Question()))
    by_term = {
        term: [row["levels"] for row in rows]
        for term, rows in itertools.groupby(document["means"], key=lambda row: row["term"])
    }
    amounts = ["0", "60", "90", "120", "150", "180"]
    assert by_term["nitrogen"] == [{"nitrogen": amount} for amount in amounts]
    assert by_term["nitrogen:variety"] == [
        {"nitrogen": amount, "variety": f"V{i}"} for amount in amounts for i in range(1, 5)
    ]
    within = [row for row in document["all_pairs"] if row["term"] == "nitrogen:variety"]
    assert all(row["within"] for row in within)
    assert {tuple(row["within"]) for row in within} == {("nitrogen",), ("variety",)}
    assert not any("within" in row for row in document["all_pairs"] if ":" not in row["term"])


def test_a_bed_split_in_two_gives_nulls(plot_table: MakeTable) -> None:
    columns = {"half": ["left"] * 3 + ["right"] * 3, "yield": [1.0, 2.0, 4.0, 3.0, 5.0, 8.0]}
    document: Any = comparison_document(
        compare(plot_table(columns, "half", plot="half"), Question())
    )
    require_valid(document)
    assert document["model"] == {"method": "description only", "residual_df": None}
    assert document["tests"] == document["all_pairs"] == document["with_best"] == []
    assert [row["se"] for row in document["means"]] == [None, None]
    assert document["layout"]["not_replicated"][0]["factor"] == "half"


def test_a_full_solid_part_is_valid(plot_table: MakeTable) -> None:
    solid = Solid(
        normality=Check(0.97, 0.4, True),
        equal_spread=Check(1.2, 0.3, True),
        outliers=(OutlyingPlot("P3", 2.0, 4.1, 0.01),),
        randomisation=SecondOpinion("randomisation test", (("cultivar", 0.03),), True),
        count_model=SecondOpinion("quasi-Poisson", (("cultivar", 0.06),), False, "wider"),
        fragile=(FragileVerdict("cultivar", "P5", 0.07),),
    )
    document: Any = comparison_document(replace(cultivars(plot_table), solid=solid))
    require_valid(document)
    assert document["solid"]["randomisation"]["p"] == {"cultivar": 0.03}
    assert document["solid"]["outliers"][0]["plot"] == "P3"


@pytest.mark.parametrize(
    ("kind", "path"),
    [
        (LayoutKind, ("properties", "layout", "properties", "kind")),
        (Method, ("properties", "model", "properties", "method")),
        (Verdict, ("$defs", "pair", "properties", "verdict")),
    ],
    ids=["layouts", "methods", "verdicts"],
)
def test_the_schema_knows_every_word(kind: Any, path: tuple[str, ...]) -> None:
    place: Any = schema()
    for key in path:
        place = place[key]
    assert place["enum"] == [word.value for word in kind]


def test_no_field_of_a_comparison_is_left_out(plot_table: MakeTable) -> None:
    renamed = {
        "method": "model",
        "residual_df": "model",
        "components": "variance_components",
        "least_differences": "lsd",
    }
    document = comparison_document(cultivars(plot_table))
    said = {renamed.get(field.name, field.name) for field in fields(Comparison)}
    assert said | {"records"} == set(document)


def test_the_digest_of_the_records_goes_along(plot_table: MakeTable) -> None:
    comparison = cultivars(plot_table)
    assert comparison_document(comparison)["records"] is None
    now, then = "a" * 64, "b" * 64
    for at_closing, changed in ((now, False), (then, True), (None, None)):
        found = RecordsDigest("beets", now, date(2025, 10, 6), at_closing)
        document = comparison_document(comparison, found)
        require_valid(document)
        assert document["records"] == {
            "trial": "beets",
            "digest": now,
            "closed_on": "2025-10-06",
            "digest_at_closing": at_closing,
            "changed_after_closing": changed,
        }


def test_an_unknown_key_is_refused_by_the_schema(plot_table: MakeTable) -> None:
    document = {**comparison_document(cultivars(plot_table)), "stars": "***"}
    with pytest.raises(jsonschema.ValidationError):
        require_valid(document)
