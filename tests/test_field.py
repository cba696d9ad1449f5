"""What happens in the field after a trial is laid out: planting, swaps, and what follows them.

A trial with a swap recorded is held against the same trial entered as it really stood.
"""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest
from click.testing import CliRunner

from trials import season
from trials.cli import tallybed
from trials.errors import RecordsRefused, TrialState, UnknownName
from trials.model.trial import MEASURES, TrialStage
from trials.season.comparing import Asked, compare_plots
from trials.season.field import as_it_stands, as_staked
from trials.season.planning import drawn_again
from trials.season.printing import Printing
from trials.stats.results import Comparison
from trials.store import Store

pytestmark = pytest.mark.slow

Rows = list[list[Any]]
EXAMPLE = Path(__file__).parents[1] / "data" / "plan-example.toml"
VARIETIES = ("Ash", "Birch", "Cedar")
DAYS = ("2026-07-01", "2026-07-08", "2026-07-15")
PLOTS = [f"P{n}" for n in range(1, 19)]


class Farm:
    """A split-plot of 3 blocks, 2 whole plots each and 3 varieties in them, as plain rows."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir()
        self.folder, self.store = folder, folder / "farm.tallybed"
        places = [(b, pinch, v) for b in "123" for pinch in ("yes", "no") for v in range(3)]
        self.levels: dict[str, list[str]] = {
            plot: [pinch, VARIETIES[(v + int(b)) % 3]]
            for plot, (b, pinch, v) in zip(PLOTS, places, strict=True)
        }
        self.blocks = {plot: b for plot, (b, _, _) in zip(PLOTS, places, strict=True)}
        luck = [(n * 7) % 11 for n in range(1, 19)]
        self.tallies: dict[str, Rows] = {
            "stand_counts": [
                [plot, "2026-06-20", 18 - n % 3] for plot, n in zip(PLOTS, luck, strict=True)
            ],
            "cuts": [],
            "stem_samples": [],
        }
        for number, day in enumerate(DAYS):
            for plot, n in zip(PLOTS, luck, strict=True):
                if number == 0 and n == 3:
                    self.tallies["cuts"].append([plot, day, "missed", "", "", ""])
                    continue
                self.tallies["cuts"] += [
                    [plot, day, "picked", 30, 6 + n % 4, ""],
                    [plot, day, "picked", 50, 20 + 2 * n + number, ""],
                    [plot, day, "picked", "", n % 3 + 1, "bent"],
                ]
                self.tallies["stem_samples"] += [
                    [plot, day, stem, 44.5 + n + stem + number] for stem in (1, 2)
                ]
        self.events: Rows = []

    def recode(self, a: str, b: str, first: str, last: str = "9999-12-31") -> None:
        """Write what was recorded of two plots from one day up to another under each other."""
        other = {a: b, b: a}
        for rows in self.tallies.values():
            for row in rows:
                if row[0] in other and first <= row[1] < last:
                    row[0] = other[row[0]]

    def write(self, name: str, heading: str, rows: Sequence[Sequence[Any]]) -> None:
        with (self.folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([heading.split(), *rows])

    def load(self) -> None:
        self.write("sites", "site place bed_width_m", [["F", "here", 1]])
        self.write(
            "seasons", "season site starts_on ends_on", [[2026, "F", "2026-03-01", "2026-10-31"]]
        )
        self.write("varieties", "variety crop", [[name, "aster"] for name in VARIETIES])
        self.write(
            "trials",
            "trial season site crop question factors primary_measure alpha minimum_length_cm",
            [
                [
                    *("T", 2026, "F", "aster", "Which?"),
                    *("pinch on whole plots; variety on plots", "stems_per_plant", 0.05, 40),
                ]
            ],
        )
        self.write(
            "plots",
            "trial plot block whole_plot bed position pinch variety plants_set net_length_m "
            "net_area_m2 transplanted_on",
            [
                ["T", plot, self.blocks[plot], pinch, "Bed", n, pinch, variety, 18, 2, 2.4, ""]
                for n, (plot, (pinch, variety)) in enumerate(self.levels.items(), start=1)
            ],
        )
        self.write("stand_counts", "plot counted_on living", self.tallies["stand_counts"])
        self.write("cuts", "plot cut_on outcome grade_cm stems cull_reason", self.tallies["cuts"])
        self.write("stem_samples", "plot cut_on stem length_cm", self.tallies["stem_samples"])
        planted = ["T", "", "", "2026-05-20", "planted", ""]
        self.write(
            "events", "trial plot other_plot happened_on kind reason", [planted, *self.events]
        )
        season.load(self.store, [self.folder])

    def compare(self, measure: str) -> Comparison:
        return season.compare_trial(self.store, "T", measure, Asked(second_opinions=False))


NewFarm = Callable[[], Farm]


@pytest.fixture
def new_farm(tmp_path: Path) -> NewFarm:
    made: list[Farm] = []

    def make() -> Farm:
        made.append(Farm(tmp_path / f"farm{len(made)}"))
        return made[-1]

    return make


def require_same(swapped: Farm, stood: Farm, caution: str | None) -> None:
    """Every figure of the two farms is the same; the first also carries the caution."""
    stores = [Store.open(farm.store) for farm in (swapped, stood)]
    given = [(store.trial("T"), store.plots("T")) for store in stores]
    quick = Asked(second_opinions=False)
    for measure in MEASURES:
        if measure.unit == "money/m":
            continue  # no prices: no money on either farm
        found, there = (compare_plots(trial, plots, measure.key, quick) for trial, plots in given)
        extra = [each for each in found.cautions if each.code == caution]
        assert len(extra) == (caution is not None)
        rest = tuple(each for each in found.cautions if each.code != caution)
        assert replace(found, cautions=rest) == there
    for ask in (Store.cuts, Store.culls, Store.grades):
        ours, theirs = (ask(store, "T") for store in stores)
        pd.testing.assert_frame_equal(ours, theirs)
    assert stores[0].completeness("T") == stores[1].completeness("T")


# ------------------------------------------------------------------------------- plants swapped


def swap_plants(a: str, b: str, day: str = "2026-05-20") -> list[str]:
    return ["T", a, b, day, "plants swapped", "trays mixed up"]


def test_swapped_plants_give_the_figures_of_the_trial_as_it_stood(new_farm: NewFarm) -> None:
    swapped, stood = new_farm(), new_farm()
    swapped.events = [swap_plants("P2", "P1")]
    stood.levels["P1"], stood.levels["P2"] = stood.levels["P2"], stood.levels["P1"]
    for farm in (swapped, stood):
        farm.load()
    require_same(swapped, stood, "plants-swapped")
    (caution,) = [
        c for c in swapped.compare("saleable_length_share").cautions if c.code == "plants-swapped"
    ]
    assert caution.plots == ("P1", "P2")
    assert "P1 and P2" in caution.text


def test_plants_go_from_one_whole_plot_to_another_and_the_pinching_stays(
    new_farm: NewFarm,
) -> None:
    swapped, stood = new_farm(), new_farm()
    assert (swapped.levels["P1"], swapped.levels["P6"]) == (["yes", "Birch"], ["no", "Ash"])
    swapped.events = [swap_plants("P1", "P6")]
    stood.levels["P1"], stood.levels["P6"] = ["yes", "Ash"], ["no", "Birch"]
    for farm in (swapped, stood):
        farm.load()
    require_same(swapped, stood, "plants-swapped")


def test_a_second_swap_takes_the_first_back(new_farm: NewFarm) -> None:
    twice, never = new_farm(), new_farm()
    twice.events = [swap_plants("P1", "P2"), swap_plants("P2", "P1")]
    for farm in (twice, never):
        farm.load()
    require_same(twice, never, None)


def test_what_was_entered_stays_in_the_store(new_farm: NewFarm) -> None:
    farm = new_farm()
    farm.events = [swap_plants("P1", "P2")]
    farm.load()
    assert season.load(farm.store, [farm.folder]).nothing_new
    grown = dict(
        zip(*(Store.open(farm.store).plots("T")[name] for name in ("plot", "variety")), strict=True)
    )
    assert (grown["P1"], grown["P2"]) == (farm.levels["P2"][1], farm.levels["P1"][1])


# ------------------------------------------------------------------------------- labels swapped


def swap_labels(a: str, b: str, day: str) -> list[str]:
    return ["T", a, b, day, "labels swapped", "put back wrong after weeding"]


@pytest.mark.parametrize(
    "until",
    [None, *(pytest.param(day, marks=pytest.mark.slow) for day in ("2026-07-15", "2026-07-16"))],
)
def test_records_under_swapped_stakes_count_where_they_were_seen(
    new_farm: NewFarm, until: str | None
) -> None:
    swapped, stood = new_farm(), new_farm()
    swapped.events = [swap_labels("P7", "P12", "2026-07-08")]
    if until is not None:
        swapped.events.append(swap_labels("P12", "P7", until))
    stood.recode("P7", "P12", "2026-07-08", until or "9999-12-31")
    for farm in (swapped, stood):
        farm.load()
    require_same(swapped, stood, "labels-swapped")


def test_stakes_swapped_before_the_stand_was_counted(new_farm: NewFarm) -> None:
    swapped, stood = new_farm(), new_farm()
    swapped.events = [swap_labels("P2", "P3", "2026-06-01"), swap_labels("P4", "P5", "2026-07-08")]
    stood.recode("P2", "P3", "2026-06-01")
    stood.recode("P4", "P5", "2026-07-08")
    for farm in (swapped, stood):
        farm.load()
    require_same(swapped, stood, "labels-swapped")


def test_stakes_that_wander_off_twice(new_farm: NewFarm) -> None:
    swapped, stood = new_farm(), new_farm()
    days = ("2026-06-01", "2026-07-02", "2026-07-15")
    swapped.events = [swap_labels("P2", "P3", day) for day in days]
    stood.recode("P2", "P3", days[0], days[1])
    stood.recode("P2", "P3", days[2])
    for farm in (swapped, stood):
        farm.load()
    require_same(swapped, stood, "labels-swapped")


def test_plants_and_labels_of_the_same_plots_can_both_be_swapped(new_farm: NewFarm) -> None:
    swapped, stood = new_farm(), new_farm()
    swapped.events = [swap_plants("P1", "P2"), swap_labels("P1", "P2", "2026-07-08")]
    stood.levels["P1"], stood.levels["P2"] = stood.levels["P2"], stood.levels["P1"]
    stood.events = [swap_labels("P1", "P2", "2026-07-08")]
    for farm in (swapped, stood):
        farm.load()
    require_same(swapped, stood, "plants-swapped")


# ------------------------------------------------------------------------------------- refusals


def lost(plot: str, day: str) -> list[str]:
    return ["T", plot, "", day, "lost", "voles"]


@pytest.mark.parametrize(
    ("events", "column", "said"),
    [
        ([swap_plants("P1", "P1")], "other_plot", "cannot be swapped with itself"),
        ([swap_plants("P1", "P99")], "other_plot", "There is no plot 'P99'"),
        ([["T", "P1", "", "2026-06-01", "plants swapped", "why"]], "other_plot", "is empty"),
        ([["T", "", "P1", "2026-06-01", "plants swapped", "why"]], "plot", "is empty"),
        ([["T", "P1", "P2", "2026-06-01", "labels swapped", ""]], "reason", "is empty"),
        ([["T", "P1", "P2", "2026-06-01", "note", "?"]], "other_plot", "Only a swap"),
        (
            [swap_plants("P1", "P2"), swap_plants("P2", "P3")],
            "other_plot",
            "'P2' is swapped with plot 'P3' at the same time",
        ),
        (
            [swap_labels("P1", "P2", "2026-06-01"), swap_labels("P2", "P3", "2026-07-01")],
            "other_plot",
            "'P2' is swapped with plot 'P3' at the same time",
        ),
        (
            [lost("P1", "2026-07-30"), swap_plants("P1", "P2", "2026-08-01")],
            "other_plot",
            "'P1' was lost on 2026-07-30",
        ),
        (
            [swap_labels("P1", "P2", "2026-07-20"), lost("P1", "2026-07-30")],
            "plot",
            "either may have been lost",
        ),
        ([swap_plants("P1", "P9")], "other_plot", "have the same treatments"),
        ([swap_plants("P3", "P6")], "other_plot", "differ only in pinch"),
        ([["T", "", "", "2026-05-21", "planted", ""]], "kind", "is planted already"),
        ([["T", "P1", "", "2026-05-21", "planted", ""]], "kind", "is planted already"),
    ],
)
def test_what_cannot_be_followed_is_refused_with_its_place(
    new_farm: NewFarm, events: Rows, column: str, said: str
) -> None:
    farm = new_farm()
    farm.events = events
    with pytest.raises(RecordsRefused) as refused:
        farm.load()
    faults = [fault for fault in refused.value.faults if said in fault.problem]
    assert faults
    assert {(fault.file, fault.column) for fault in faults} == {("events.csv", column)}
    assert not farm.store.exists()


def test_a_swap_with_a_plot_of_another_trial(new_farm: NewFarm) -> None:
    farm = new_farm()
    farm.load()
    trials = (farm.folder / "trials.csv").read_text("utf-8").replace("\nT,", "\nU,")
    plots = (farm.folder / "plots.csv").read_text("utf-8").replace("\nT,P", "\nU,Q")
    for name, text in (("trials", trials), ("plots", plots)):
        (farm.folder / f"{name}2.csv").write_text(text, encoding="utf-8")
    farm.write("more", "trial plot other_plot happened_on kind reason", [swap_plants("P1", "Q2")])
    with pytest.raises(RecordsRefused, match="Plot 'Q2' belongs to the trial 'U'"):
        season.load(
            farm.store, [farm.folder / f"{name}.csv" for name in ("trials2", "plots2", "more")]
        )


def test_a_plot_that_was_lost_later_keeps_the_plants_it_got(new_farm: NewFarm) -> None:
    swapped, stood = new_farm(), new_farm()
    swapped.events = [swap_plants("P1", "P2"), lost("P1", "2026-07-20")]
    stood.levels["P1"], stood.levels["P2"] = stood.levels["P2"], stood.levels["P1"]
    stood.events = [lost("P1", "2026-07-20")]
    for farm in (swapped, stood):
        farm.load()
    require_same(swapped, stood, "plants-swapped")


# ------------------------------------------------------------------------------------- planting


@pytest.fixture(scope="module")
def planned_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    store = tmp_path_factory.mktemp("planned") / "farm.tallybed"
    farm = EXAMPLE.parent / "farm"
    season.load(store, [farm / "sites.csv", farm / "seasons.csv"])
    season.plan(store, EXAMPLE)
    return store


@pytest.fixture
def planned(planned_once: Path, tmp_path: Path) -> Path:
    """A store with the example's trial laid out."""
    return Path(shutil.copy(planned_once, tmp_path))


def codes(store: Path) -> list[str]:
    return [plot.code for plot in drawn_again(store, "aster-2026").plots]


def count_file(store: Path, plot: str) -> Path:
    path = store.parent / "counts.csv"
    path.write_text(f"plot,counted_on,living\n{plot},2026-06-01,17\n", encoding="utf-8")
    return path


def test_a_trial_is_laid_out_until_it_is_planted(planned: Path) -> None:
    (trial,) = season.trials(planned)
    assert trial.stage is TrialStage.LAID_OUT
    with pytest.raises(TrialState, match="not planted yet"):
        season.compare_trial(planned, "aster-2026")
    with pytest.raises(RecordsRefused, match=r"is not planted yet\. .*record the day first"):
        season.load(planned, [count_file(planned, codes(planned)[0])])
    season.planted(planned, "aster-2026", date(2026, 4, 7))
    (trial,) = season.trials(planned)
    assert trial.stage is TrialStage.PLANTED
    assert set(season.plots(planned, "aster-2026")["transplanted_on"]) == {date(2026, 4, 7)}
    season.load(planned, [count_file(planned, codes(planned)[0])])


def test_plots_planted_later_have_their_own_day(planned: Path) -> None:
    late = codes(planned)[3]
    season.planted(planned, "aster-2026", date(2026, 4, 9), [late])
    season.planted(planned, "aster-2026", date(2026, 4, 7))
    plots = season.plots(planned, "aster-2026").set_index("plot")["transplanted_on"]
    assert plots[late] == date(2026, 4, 9)
    assert set(plots.drop(late)) == {date(2026, 4, 7)}


def test_what_is_planted_is_not_planted_again(planned: Path) -> None:
    with pytest.raises(TrialState, match="is outside the season 2026"):
        season.planted(planned, "aster-2026", date(2027, 4, 7))
    with pytest.raises(UnknownName, match="No plot is called 'nowhere'"):
        season.planted(planned, "aster-2026", date(2026, 4, 7), ["nowhere"])
    season.planted(planned, "aster-2026", date(2026, 4, 7))
    with pytest.raises(TrialState, match="planted already, since 2026-04-07"):
        season.planted(planned, "aster-2026", date(2026, 4, 8))
    with pytest.raises(TrialState, match="planted already"):
        season.planted(planned, "aster-2026", date(2026, 4, 8), codes(planned)[:1])


def test_a_layout_is_never_drawn_again_and_takes_no_other_plots(
    planned: Path, tmp_path: Path
) -> None:
    with pytest.raises(TrialState, match="its layout cannot change"):
        season.plan(planned, EXAMPLE)
    path = tmp_path / "plots.csv"
    path.write_text(
        "trial,plot,block,bed,position,variety,plants_set,net_length_m,net_area_m2,"
        "transplanted_on\naster-2026,EXTRA,1,Bed 1,99,Our usual,18,1,1,\n",
        encoding="utf-8",
    )
    varieties = tmp_path / "varieties.csv"
    varieties.write_text("variety,crop\nOur usual,aster\n", encoding="utf-8")
    with pytest.raises(TrialState, match="takes no other plots or treatments"):
        season.load(planned, [path, varieties])


def test_a_plot_s_treatment_is_never_edited(planned: Path, new_farm: NewFarm) -> None:
    farm = new_farm()
    farm.load()
    farm.levels["P1"][1] = "Cedar" if farm.levels["P1"][1] != "Cedar" else "Ash"
    with pytest.raises(RecordsRefused, match="differs from what is stored"):
        farm.load()


def test_the_day_is_recorded_from_the_command_line(planned: Path) -> None:
    run = CliRunner()
    arguments = ["planted", "aster-2026", "--on", "2026-04-07", "--store", str(planned)]
    said = run.invoke(tallybed, arguments)
    assert said.exit_code == 0
    assert "aster-2026 planted on 2026-04-07" in said.output


# ------------------------------------------------------------------------- what is printed after


def test_sheets_show_what_stands_there(planned: Path, tmp_path: Path) -> None:
    layout = drawn_again(planned, "aster-2026")
    first, second, third, fourth = (
        next(plot for plot in layout.plots if plot.levels == ((("variety"), name),))
        for name in ("Our usual", "Early white", "Tall pink", "Late blue")
    )
    season.planted(planned, "aster-2026", date(2026, 4, 7))
    path = tmp_path / "events.csv"
    swaps = [
        (first, second, "2026-04-07", "plants swapped"),
        (third, fourth, "2026-06-01", "labels swapped"),
        (third, fourth, "2026-07-01", "labels swapped"),
    ]
    rows = [f"aster-2026,{a.code},{b.code},{day},{kind},mixed up" for a, b, day, kind in swaps]
    path.write_text("\n".join(["trial,plot,other_plot,happened_on,kind,reason", *rows]) + "\n")
    season.load(planned, [path])

    grown = as_it_stands(planned, layout)
    at = {(plot.bed, plot.position): plot for plot in grown.plots}
    assert at[first.bed, first.position].levels == second.levels
    assert at[second.bed, second.position].levels == first.levels
    assert at[third.bed, third.position] == third

    staked = {
        day: {(p.bed, p.position): p for p in as_staked(planned, grown, day).plots}
        for day in (date(2026, 5, 31), date(2026, 6, 1), date(2026, 7, 1))
    }
    there = (third.bed, third.position)
    assert [staked[day][there].code for day in staked] == [third.code, fourth.code, third.code]
    assert {staked[day][there].levels for day in staked} == {third.levels}

    walked = {
        (plot.bed, plot.position): plot for plot in Store.open(planned).bed.walk(date(2026, 6, 15))
    }
    assert len(walked) == len(layout.plots)
    assert walked[there].plot == fourth.code
    assert walked[there].treatment == "Tall pink"
    assert walked[first.bed, first.position].treatment == "Early white"

    out = tmp_path / "out"
    files = season.sheets(planned, "aster-2026", out, Printing("F", date(2026, 6, 15)))
    book = openpyxl.load_workbook(files[-1])
    lists = book.worksheets[-1]
    shown = {
        str(row[place]): str(row[place + 3])
        for row in lists.iter_rows(values_only=True)
        for place in range(len(row) - 3)
        if row[place] in {first.code, fourth.code} and row[place + 3]
    }
    assert "Early white" in shown[first.code]
    assert "Tall pink" in shown[fourth.code]
