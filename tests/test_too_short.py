"""Stems too short to sell: what a comparison, a choice and an order make of them.

A small trial of three varieties in three blocks, worked by hand: Dwarfkin flowers most, but 8 of
its 10 stems a plot are of 30 cm, where 40 cm is the shortest that can be sold.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from trials import season
from trials.decide import ReasonCode, Sowing
from trials.errors import TrialState
from trials.report.choice_page import choice_page
from trials.report.comparison_page import comparison_page
from trials.report.order_page import order_page
from trials.season.comparing import Asked

SHEETS = {
    "sites": "site,place,bed_width_m\nTop,behind the barn,1.2\n",
    "seasons": "season,site,starts_on,ends_on\n2026,Top,2026-04-01,2026-10-31\n",
    "varieties": "variety,crop\nDwarfkin,zinnia\nLongshanks,zinnia\nMidling,zinnia\n",
    "trials": (
        "trial,season,site,crop,question,factors,check,primary_measure,alpha,"
        "equivalence_margin,minimum_length_cm\n"
        "T,2026,Top,zinnia,Which is best?,variety on plots,,stems_per_plant,0.05,,40\n"
    ),
}
PLOTS = "trial,plot,block,bed,position,variety,plants_set,net_length_m,net_area_m2,transplanted_on"
# Stems of 30 and 50 cm by block; two plants a plot.
CUT = {
    "Dwarfkin": ((8, 2), (8, 2), (8, 2)),
    "Longshanks": ((0, 6), (1, 7), (0, 8)),
    "Midling": ((1, 5), (0, 5), (1, 6)),
}


def write(folder: Path) -> Path:
    plots = [PLOTS]
    cuts = ["plot,cut_on,outcome,grade_cm,stems,cull_reason"]
    stands = ["plot,counted_on,living"]
    place = 0
    for variety, by_block in CUT.items():
        for block, (short, long) in enumerate(by_block, 1):
            place += 1
            code = f"{variety[0]}{block}"
            plots.append(f"T,{code},{block},Bed 1,{place},{variety},2,1,1.2,2026-05-20")
            stands.append(f"{code},2026-06-01,2")
            # Dwarfkin flowers first, with short stems; what can be sold comes on the day of all.
            if short:
                cuts.append(f"{code},2026-07-01,picked,30,{short},")
            cuts.append(f"{code},2026-07-08,picked,50,{long},")
    sheets = {
        **SHEETS,
        "plots": "\n".join(plots),
        "cuts": "\n".join(cuts),
        "stand_counts": "\n".join(stands),
    }
    for name, text in sheets.items():
        (folder / f"{name}.csv").write_text(text.rstrip("\n") + "\n", encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("short")
    path = folder / "short.tallybed"
    (folder / "files").mkdir()
    season.load(path, [write(folder / "files")])
    season.close(path, "T", date(2026, 10, 10), "first frost")
    return path


def test_short_stems_are_in_no_measure_but_length_and_shares(store: Path) -> None:
    plots = season.plots(store, "T").set_index("plot")
    assert list(plots.loc[["D1", "D2", "D3"], "stems_per_plant"]) == [1, 1, 1]
    assert plots.loc["D1", "saleable_length_share"] == 0.2
    assert plots.loc["D1", "days_to_first_cut"] == 49  # 20 May to 8 July, not to 1 July
    assert plots.loc["L2", "stems_per_plant"] == 3.5


@pytest.mark.parametrize(
    "measure", ["stems_per_plant", "days_to_first_cut", "saleable_length_share"]
)
def test_a_comparison_takes_it_out_of_the_running(store: Path, measure: str) -> None:
    found = season.compare_trial(store, "T", measure, Asked(second_opinions=False))
    assert [(each.level, each.share) for each in found.too_short] == [("Dwarfkin", 0.2)]
    named = {item.levels[0][1] for item in found.with_best}
    assert "Dwarfkin" not in named
    (caution,) = (each for each in found.cautions if each.code == "too-short")
    assert "Dwarfkin (20%)" in caution.text
    page = comparison_page(found, "T")
    headline = " ".join(page.partition("Too close to call")[0].split())
    # All plots took 49 days to the first cut, so that nothing is compared by it.
    said = "Too short to sell, so compared but not to be chosen: Dwarfkin." in headline
    assert said == (measure != "days_to_first_cut")
    assert "than Dwarfkin" not in headline  # it is no yardstick for those in the running
    means = [line for line in page.splitlines() if "Dwarfkin" in line and "too short" in line]
    assert means, page


def test_a_choice_drops_it_though_its_stems_were_never_measured(store: Path) -> None:
    choice = season.choose(store, "zinnia")
    last = choice.standings[-1]
    assert last.entry == "Dwarfkin"
    assert last.chance_best is None
    assert [reason.code for reason in last.reasons] == [ReasonCode.MOSTLY_SHORT]
    said = choice_page(choice)
    assert "Its share of saleable length is 20% so far" in " ".join(said.split())
    assert "Dwarfkin" not in choice.reordered


@pytest.mark.slow
def test_an_order_of_it_asks_first_and_says_so(store: Path) -> None:
    """Nothing is sold of it here, so that all is unfilled: the question comes before."""
    choice = season.choose(store, "zinnia")
    sowing = Sowing(bed_metres=2, varieties=("Dwarfkin",))
    with pytest.raises(TrialState, match="too short to sell: Dwarfkin"):
        season.order(store, choice, sowing)
    ordering = season.order(store, choice, sowing, accept_short=True)
    assert ordering.too_short == ("Dwarfkin",)
    assert "Ordered although too short to sell: Dwarfkin." in order_page(ordering)


@pytest.mark.slow
def test_a_variety_of_the_trials_can_be_ordered_by_its_name(store: Path, tmp_path: Path) -> None:
    """Its list of varieties may call the crop otherwise than the trial does."""
    files = tmp_path / "files"
    files.mkdir()
    write(files)
    listed = (files / "varieties.csv").read_text(encoding="utf-8")
    (files / "varieties.csv").write_text(listed.replace(",zinnia", ",Zinnias"), encoding="utf-8")
    path = tmp_path / "other.tallybed"
    season.load(path, [files])
    season.close(path, "T", date(2026, 10, 10), "first frost")
    choice = season.choose(path, "zinnia")
    by_itself = season.order(path, choice, Sowing(bed_metres=2))
    named = season.order(path, choice, Sowing(bed_metres=2, varieties=choice.reordered))
    assert [need.variety for need in named.needs] == [need.variety for need in by_itself.needs]
