"""What is chosen and ordered, and the varieties."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

from tests.output.registry import METRIC, US, choosing_once, drawn, output, said, table_text
from trials import season
from trials.decide import Rules, Sowing
from trials.model.photo import PhotosAdded, StoredPhoto
from trials.model.rows import Sheet
from trials.report import photo_words, variety_page, what_if
from trials.report.figures import measure_figures
from trials.report.pictures.choice import chance_picture, loss_picture, tall_picture
from trials.report.pictures.frame import NARROW_PX, WIDE_PX
from trials.report.record_forms import fields_of_sheet, template_csv


@output
@choosing_once()
def choices(store: Path) -> str:
    crops = ("cosmos", "plume celosia", "zinnia")
    said_of = "\n".join(said(store, "choose", crop) for crop in crops)
    by_stems = said(store, "choose", "cosmos", "--measure", "stems_per_plant", "--json")
    return f"{said_of}\n{by_stems}"


@output
@choosing_once()
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
@choosing_once()
def orders(store: Path) -> str:
    words = (
        ("order", "cosmos", "--bed-metres", "24", "--trial-plants", "64"),
        ("order", "cosmos", "--stems", "1800", "--json"),
        ("order", "zinnia", "--bed-metres", "12", "--successions", "3", "--units", "us"),
    )
    return "\n".join(said(store, *each) for each in words)


@output
@choosing_once()
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


@output
@choosing_once()
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
