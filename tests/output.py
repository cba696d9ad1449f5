"""What the program says and draws of the invented farm, as text: one entry of ``OUTPUTS`` each.

``python tests/output.py`` writes all of it to ``tests/kept_output``, after a change that was meant
to change what people read; the difference to what was kept shows every place that it touched. It is
no proof that anything is right.
"""

from __future__ import annotations

import io
import re
import shutil
import tempfile
from collections.abc import Callable, Iterable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import click
import pandas as pd

import trials
from trials import TallybedError, season
from trials.cli import tallybed
from trials.decide import Rules, Sowing
from trials.decide.winter_if import WinterIf, plan_if
from trials.drawing.picture import Picture
from trials.drawing.svg import svg_file
from trials.model.photo import PhotosAdded, StoredPhoto
from trials.model.rows import Sheet
from trials.model.units import UnitSystem
from trials.report import photo_words, variety_page, what_if
from trials.report.calendar_file import calendar_file
from trials.report.documents import winter_document
from trials.report.figures import figures_of, measure_figures
from trials.report.grid import Table
from trials.report.pictures.bed_map import Showing, bed_map_picture
from trials.report.pictures.best import best_picture
from trials.report.pictures.choice import chance_picture, loss_picture, tall_picture
from trials.report.pictures.frame import NARROW_PX, WIDE_PX
from trials.report.pictures.grades import grades_picture
from trials.report.pictures.interaction import interaction_picture
from trials.report.pictures.means import means_picture
from trials.report.pictures.of_trial import answer_drawable, drawables
from trials.report.pictures.response import response_picture
from trials.report.pictures.seasons import seasons_picture
from trials.report.pictures.weeks import so_far_picture, weeks_picture
from trials.report.pictures.winter import beds_picture, money_picture, stems_picture
from trials.report.plain import json_text
from trials.report.record_forms import fields_of_sheet, template_csv
from trials.report.winter_page import winter_page
from trials.report.winter_tables import plantings_table
from trials.season.demo import STORE_NAME, fill
from trials.season.trial_reporting import report_html, trial_report
from trials.season.trial_views import views_of
from trials.stats.length_grades import GradeShare
from trials.stats.season_views import PlotSeen, SeasonMean, WeekStems
from trials.store import Store

ROOT = Path(__file__).parents[1]
KEPT = Path(__file__).with_name("kept_output")
DAY = date(2026, 11, 30)
METRIC, US = UnitSystem.METRIC, UnitSystem.US
SHORT = ("stem_length_cm", "marketable_share", "days_to_first_cut", "net_per_metre")

Said = Callable[[Path], str]
OUTPUTS: dict[str, Said] = {}


def output(say: Said) -> Said:
    """One more text, by the name of its function."""
    OUTPUTS[say.__name__] = say
    return say


def said(store: Path, *words: str) -> str:
    """What a command prints, and below it what it complains of."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        try:
            tallybed([*words, "--store", str(store)], prog_name="tallybed", standalone_mode=False)
        except (TallybedError, click.ClickException) as refusal:
            print(refusal)
    return f"$ tallybed {' '.join(words)}\n{out.getvalue()}{err.getvalue()}"


def table_text(table: Table) -> str:
    return "\n".join(map(str, (table.columns, *table.rows)))


def drawn(pictures: Iterable[Picture | None]) -> str:
    return "\n".join(svg_file(picture) for picture in pictures if picture is not None)


# ------------------------------------------------------------------------------ commands


@output
def trials_and_history(store: Path) -> str:
    words = (
        ("trials",), ("history",), ("history", "cosmos-2026"), ("history", "--json", "--last", "2"),
        ("units",), ("photo", "list"),
    )  # fmt: skip
    return "\n".join(said(store, *each) for each in words)


@output
def keys_and_columns(store: Path) -> str:
    words = (("plan", "--keys"), ("load", "--columns"))
    return "\n".join(said(store, *each) for each in words)


@output
def comparisons(store: Path) -> str:
    codes = [trial.code for trial in season.trials(store)]
    return "\n".join(
        [
            *(said(store, "compare", code) for code in codes),
            *(said(store, "compare", "cosmos-2026", "--measure", each) for each in SHORT),
            said(store, "compare", "cosmos-2024", "--units", "us", "--measure", SHORT[0]),
            said(store, "compare", "cosmos-2026", "--check", "Wrenlatch"),
        ]
    )


@output
def comparison_documents(store: Path) -> str:
    codes = ("cosmos-2024", "cosmos-bed-2026")
    return "\n".join(said(store, "compare", code, "--json") for code in codes)


@output
def plans(store: Path) -> str:
    here = (str(ROOT / "data" / name) for name in ("plan-example.toml", "plan-packets.toml"))
    return "\n".join(
        said(store, "plan", path, *how)
        for path in here
        for how in (("--propose",), ("--propose", "--units", "us"), ("--dry-run",))
    )


@output
def plan_in_money(store: Path) -> str:
    """A crop with prices and costs, some of whose varieties were grown before."""
    text = (ROOT / "data" / "plan-example.toml").read_text("utf-8").replace("aster", "cosmos")
    for new, known in (("Our usual", "Wrenlatch"), ("Early white", "Quernshaw")):
        text = text.replace(new, known)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plan.toml"
        path.write_text(text.replace("cosmos-2026", "cosmos-more-2026"), "utf-8")
        return said(store, "plan", str(path), "--propose").replace(folder, "")


@output
def plan_document(store: Path) -> str:
    path = str(ROOT / "data" / "plan-example.toml")
    return said(store, "plan", path, "--propose", "--json")


# ---------------------------------------------------------------------- reports and pictures


def report(store: Path, code: str, system: UnitSystem) -> str:
    html = report_html(trial_report(store, code, system), farm="Heronlap", on=DAY)
    return re.sub(r"base64,[\w+/=]+", "base64", html).replace("><", ">\n<")


@output
def report_of_a_split_plot(store: Path) -> str:
    return report(store, "cosmos-2026", METRIC)


@output
def report_of_whole_plots_in_us_units(store: Path) -> str:
    return report(store, "plume-2026", US)


@output
def report_of_spacings(store: Path) -> str:
    return report(store, "cosmos-bed-2026", METRIC)


@output
def pictures_on_a_phone(store: Path) -> str:
    return "\n".join(_pictures_of(store, code) for code in ("cosmos-2024", "cosmos-bed-2026"))


def _pictures_of(store: Path, code: str) -> str:
    found = season.compare_trial(store, code, asked=season.Asked(second_opinions=False))
    pictures = []
    for views in views_of(store, code, found):
        answer = answer_drawable(views.comparison, views.factor, US)
        every = (*([answer] if answer else []), *drawables(views, METRIC))
        pictures.append(drawn(each.draw(NARROW_PX) for each in every))
    return "\n".join(pictures)


# ----------------------------------------------------------------------- choice and order


@output
def choices(store: Path) -> str:
    crops = ("cosmos", "plume celosia", "zinnia")
    said_of = "\n".join(said(store, "choose", crop) for crop in crops)
    by_stems = said(store, "choose", "cosmos", "--measure", "stems_per_plant", "--json")
    return f"{said_of}\n{by_stems}"


@output
def choice_and_what_if(store: Path) -> str:
    choice = season.choose(store, "cosmos")
    figures = measure_figures(choice.measure, METRIC)
    basis = season.money_basis(store, choice)
    assert basis is not None
    then = season.choose_if(basis, season.MoneyIf(0.4, basis.bed_cost * 3), Rules())
    sowing = Sowing(20.0, varieties=choice.reordered)
    now = season.order(store, choice, sowing)
    other = season.order(store, choice, replace(sowing, bed_metres=50.0), 20.0, accept_short=True)
    tables = (
        what_if.choice_table(choice.standings, then, figures),
        what_if.order_if_table(now, other, METRIC),
        what_if.order_if_table(now, other, US),
    )
    pictures = [
        picture
        for width in (WIDE_PX, NARROW_PX)
        for picture in (
            chance_picture(choice, width),
            loss_picture(choice, figures, width),
            tall_picture(choice, width),
        )
    ]
    return "\n".join(
        [what_if.choice_sentence(choice.standings, then), *map(table_text, tables), drawn(pictures)]
    )


@output
def orders(store: Path) -> str:
    words = (
        ("order", "cosmos", "--bed-metres", "24", "--trial-plants", "64"),
        ("order", "cosmos", "--stems", "1800", "--json"),
        ("order", "zinnia", "--bed-metres", "12", "--successions", "3", "--units", "us"),
    )
    return "\n".join(said(store, *each) for each in words)


# ------------------------------------------------------------------------------- varieties


@output
def varieties(store: Path) -> str:
    every = season.varieties(store)
    parts = [
        f"{sort}: {each.variety}"
        for sort in variety_page.SORTS
        for text in ("", "white tall")
        for each in variety_page.listed_varieties(every, text, sort)
    ]
    for each in every:
        parts += [each.variety, *variety_page.list_facts(each, METRIC)]
        parts += variety_page.description_lines(each, US)
    choice = season.choose(store, "cosmos", "stems_per_plant")
    figures = measure_figures(choice.measure, METRIC)
    for name in ("Wrenlatch", "Fennadrift"):
        records, in_trials = season.variety(store, name), season.variety_in_trials(store, name)
        parts += [
            table_text(variety_page.trials_table(records, in_trials, METRIC)),
            *variety_page.not_compared_lines(in_trials),
            variety_page.standing_sentence(choice, name, figures),
            table_text(variety_page.lots_table(records.lots)),
            table_text(variety_page.prices_table(records)),
        ]
    parts += [repr(found) for found in season.find(store, "wren")]
    return "\n".join(parts)


@output
def forms(store: Path) -> str:
    del store  # the forms are the same for every farm
    parts = []
    for sheet in Sheet:
        for system in (METRIC, US):
            parts += [repr(field) for field in fields_of_sheet(sheet, system)]
        parts.append(template_csv(sheet))
    return "\n".join(parts)


@output
def photos(store: Path) -> str:
    del store  # the invented farm has none
    when, day = datetime(2026, 8, 3, 10, 30, tzinfo=UTC), date(2026, 8, 2)
    of_variety = StoredPhoto(
        "a" * 64, "Wrenlatch", None, None, day, "from the south", 1, "Ida", when
    )
    of_plot = StoredPhoto("b" * 64, "Wrenlatch", "C4222", "cosmos-2024", day, "", 2, None, when)
    bare = StoredPhoto("c" * 64, None, "C4222", "cosmos-2024", day, "", 2, None, when)
    every = (of_variety, of_plot, bare)
    parts = [
        photo_words.added_page(PhotosAdded(every, 2)),
        photo_words.added_page(PhotosAdded((), 1)),
        photo_words.photos_page(()),
    ]
    for each in every:
        parts += [photo_words.photo_facts(each), photo_words.photo_alt(each)]
    return "\n".join(parts)


# --------------------------------------------------------------------------- many entries


@output
def pictures_of_many(store: Path) -> str:
    """Thirty entries by two treatments, eight seasons and twenty weeks, by a rule."""
    del store
    rows = [
        {
            "variety": f"Sort {v:02}", "pinched": pinched, "block": str(block),
            "stems": 20 + 0.4 * v + (3 - 0.3 * v) * (pinched == "yes") + 7 * v * block % 5,
        }
        for v in range(30) for pinched in ("no", "yes") for block in range(1, 4)
    ]  # fmt: skip
    found = trials.compare(
        pd.DataFrame(rows), measure="stems", treatments=["variety", "pinched"], block="block",
        check="Sort 07",
    ).comparison  # fmt: skip
    figures = figures_of(found, METRIC)
    names = [f"Sort {v:02}" for v in range(30)]
    monday = date(2026, 6, 1)
    weeks = [
        WeekStems(name, monday + timedelta(7 * week), (v + 3 * week) % 7 / 2)
        for v, name in enumerate(names[:12]) for week in range(20)
    ]  # fmt: skip
    seasons = [
        SeasonMean(2019 + n, f"trial-{2019 + n}", name, 10 + (v * n) % 9, 8.0, 21.5)
        for v, name in enumerate(names) for n in range(8) if (v + n) % 5
    ]  # fmt: skip
    grades = [
        GradeShare(name, grade, (v + grade / 10) % 6, 0.2 + (v % 3) / 10)
        for v, name in enumerate(names) for grade in (30.0, 40.0, 50.0, 60.0)
    ]  # fmt: skip
    seen = [
        PlotSeen(f"P{n:03}", f"Bed {n // 30 + 1}", n % 30 + 1, str(n // 30), (names[n % 30],),
                 None if n % 17 == 0 else 10.0 + n % 13, None if n % 17 == 0 else n % 13 - 6.0)
        for n in range(120)
    ]  # fmt: skip
    bent = trials.compare(
        pd.DataFrame(
            {"spacing": cm, "block": str(b), "stems": 30 - (cm - 22) ** 2 / 9 + (b * cm) % 3 / 4}
            for cm in (10, 15, 20, 25, 30) for b in range(1, 5)
        ),
        measure="stems", treatments=["spacing"], block="block",
    ).comparison  # fmt: skip
    large = [replace(plot, value=plot.value and 1000 * plot.value) for plot in seen]
    drawings: list[Picture | None] = []
    for width in (WIDE_PX, NARROW_PX):
        drawings += [
            means_picture(found, "variety", figures, width),
            best_picture(found, "variety", figures, width),
            interaction_picture(found, "variety:pinched", figures, width),
            weeks_picture(weeks, "variety", names[:12], width),
            so_far_picture(weeks, "variety", names[:12], width),
            seasons_picture(seasons, "stems", "variety", figures, width),
            grades_picture(grades, 40.0, METRIC, "variety", names, width),
            grades_picture(grades, 40.0, US, "variety", names, width, as_shares=True),
            bed_map_picture(seen, "stems", figures, Showing.VALUE, width),
            bed_map_picture(seen, "stems", figures, Showing.APART, width),
            bed_map_picture(large, "stems", figures, Showing.VALUE, width),
            response_picture(bent, "spacing", figures_of(bent, METRIC), width),
        ]
    return drawn(drawings)


@output
def from_python(store: Path) -> str:
    farm = trials.Farm(store)
    found = farm.compare("cosmos-2025", "stem_length_cm", second_opinions=False)
    tables = (found.means, found.pairs, found.with_best, found.tests, farm.trials())
    return "\n".join(
        [
            found.summary(),
            json_text(found.to_dict()),
            found._repr_html_(),
            *(table.to_csv() for table in tables),
            repr(farm),
            repr(farm.choose("plume celosia", "stems_per_plant").standings),
        ]
    )


# -------------------------------------------------------------------- a season of one's own


@output
def planned_trial(store: Path) -> str:
    with tempfile.TemporaryDirectory() as folder:
        own = Path(shutil.copy(store, folder))
        plan = (ROOT / "data" / "plan-example.toml").read_text("utf-8")
        season.plan_from_text(own, plan, "plan.toml")
        parts = [
            said(own, "trials"),
            said(own, "calendar", "aster-2026"),
            said(own, "calendar", "aster-2026", "--units", "us"),
            said(own, "planted", "aster-2026", "--on", "2026-04-06"),
            said(own, "compare", "aster-2026"),
            *corrected(own, Path(folder)),
            said(own, "compare", "aster-2026", "--measure", "stems_per_metre"),
            report(own, "aster-2026", US),
            said(own, "trials"),
            said(own, "close", "aster-2026", "--on", "2026-10-01", "--reason", "frost"),
        ]
    return "\n".join(parts).replace(folder, "")


def corrected(own: Path, folder: Path) -> list[str]:
    """What is said while a day's stems are recorded, corrected, withdrawn and brought back."""
    days = ["plot,cut_on,outcome,grade_cm,stems,cull_reason"]
    for number, plot in enumerate(Store.open(own).plots("aster-2026")["plot"]):
        days.append(f"{plot},2026-06-10,picked,40,{20 + 7 * number % 11},")
    living = ["plot,counted_on,living"]
    living += [f"{row.partition(',')[0]},2026-05-20,17" for row in days[1:]]
    sheets = {"cuts": days, "stand_counts": living, "recount": [days[0], days[1][:-3] + "9,"]}
    for name, rows in sheets.items():
        (folder / f"{name}.csv").write_text("\n".join(rows), "utf-8")
    signed = ("--who", "Ida", "--why", "counted again")
    again = str(folder / "recount.csv")
    plot = days[1].partition(",")[0]
    return [
        # Without a name the computer's own is stored, which is another on every computer.
        said(own, "load", str(folder / "cuts.csv"), str(folder / "stand_counts.csv"), *signed[:2]),
        said(own, "correct", again, *signed),
        said(own, "withdraw", again, *signed),
        said(own, "undo", *signed),
        said(own, "history", plot),
        said(own, "history", "--json", "--last", "2"),
    ]


WRONG = {
    "cuts.csv": "plot,cut_on,outcome,grade_cm,stems,cull_reason\nC4222,2024-08-40,picked,40,3,\n"
    "C9999,2024-08-01,picked,40,-3,\n",
    "varieties.csv": "variety,crop,colour,habit\nWrenlach,cosmos,white,tall\n",
    "stand_counts.csv": "Plot;Counted on;Living\nC4222;2024-07-01;eleven\n",
    "trials.csv": "trial,season\nx,2031\n",
}


@output
def faults_and_refusals(store: Path) -> str:
    with tempfile.TemporaryDirectory() as folder:
        own = Path(shutil.copy(store, folder))
        parts = []
        for name, text in WRONG.items():
            path = Path(folder) / name
            path.write_text(text, "utf-8")
            parts.append(said(own, "load", str(path)))
        parts += [
            said(own, "compare", "cosmos-2024", "--as-of", "1"),
            said(own, "people", "list"),
            said(own, "units", "us"),
            said(own, "choose", "roses"),
            said(own, "compare", "cosmos-2062"),
        ]
    return "\n".join(parts).replace(folder, "")


@output
def order_variants(store: Path) -> str:
    bed = ("--bed-metres", "24")
    words = (
        ("order", "cosmos", *bed, "--budget", "15"),
        ("order", "cosmos", "zinnia", *bed, "--max-varieties", "2"),
        (
            "order",
            "zinnia",
            "plume celosia",
            "--bed-metres",
            "zinnia=8",
            "--stems",
            "plume celosia=200",
            "--json",
        ),
        ("order", "cosmos", *bed, "--variety", "Fennadrift", "--variety", "Wrenlatch"),
        ("order", "plume celosia", *bed, "--prices", "2025"),
    )
    return "\n".join(said(store, *each) for each in words)


# ----------------------------------------------------------------------------------- winter


@output
def winter(store: Path) -> str:
    wishes = (ROOT / "data" / "farm" / "winter.toml").read_text("utf-8")
    found = season.winter_of(store, wishes, "winter.toml")
    then = plan_if(found.plan, WinterIf(price=0.7, budget=60.0))
    pictures = [
        picture
        for width in (WIDE_PX, NARROW_PX)
        for picture in (
            beds_picture(found, METRIC, width),
            *(stems_picture(found, place, width) for place in range(len(found.winter.outlets))),
            money_picture(found, width),
        )
    ]
    return "\n".join(
        [
            winter_page(found),
            table_text(plantings_table(found, US)),
            json_text(winter_document(found)),
            what_if.winter_if_sentence(found, then),
            what_if.winter_if_sentence(found, found.plan),
            table_text(what_if.winter_if_table(found, then, US)),
            calendar_file(found, datetime(2026, 11, 30, tzinfo=UTC)),
            drawn(pictures),
        ]
    )


# --------------------------------------------------------------------------------- to keep

_WHEN = re.compile(r"\d{8}-\d{6}|\d{4}-\d\d-\d\d[ T]\d\d:\d\d(:\d\d(\.\d+)?)?([+-]\d\d:\d\d|Z)?")
_NUMBER = re.compile(r"\d+\.\d+")


def text_of(name: str, store: Path) -> str:
    """An output, without what differs from one farm's making to the next: places and times."""
    text = OUTPUTS[name](store).replace(str(store), "STORE").replace(str(ROOT), "ROOT")
    lines = _WHEN.sub("WHEN", text).replace("\r\n", "\n").splitlines()
    return "\n".join(line.rstrip() for line in lines) + "\n"


def differences(kept: str, now: str) -> list[str]:
    """The lines that are not the same; the last digit of a fraction may differ by one."""
    before, after = kept.splitlines(), now.splitlines()
    found = [f"- {a}\n+ {b}" for a, b in zip(before, after, strict=False) if not _same(a, b)]
    if len(before) != len(after):
        found.append(f"{len(before)} lines were kept, and now there are {len(after)}")
    return found


def _same(kept: str, now: str) -> bool:
    if kept == now:
        return True
    if _NUMBER.sub("#", kept) != _NUMBER.sub("#", now):
        return False
    pairs = zip(_NUMBER.findall(kept), _NUMBER.findall(now), strict=True)
    return all(_near(a, b) for a, b in pairs)


def _near(kept: str, now: str) -> bool:
    """Processors differ in the last digits of what they calculate, and so do what is rounded."""
    a, b = float(kept), float(now)
    decimals = min(len(kept.partition(".")[2]), len(now.partition(".")[2]), 6)
    return abs(a - b) <= max(1.01 * 10.0**-decimals, 1e-6 * abs(a))


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / STORE_NAME
        fill(store, print)
        KEPT.mkdir(exist_ok=True)
        for name in OUTPUTS:
            text = text_of(name, store)
            (KEPT / f"{name}.txt").write_text(text, encoding="utf-8", newline="\n")
            print(name, len(text))


if __name__ == "__main__":
    main()
