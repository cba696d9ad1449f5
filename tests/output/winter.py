"""A plan for the winter."""

from __future__ import annotations

from pathlib import Path

from tests.output.printed import winter_files
from tests.output.registry import METRIC, ROOT, US, drawn, output, table_text
from trials import season
from trials.decide.winter_if import WinterIf, plan_if
from trials.report import what_if
from trials.report.documents import winter_document
from trials.report.pictures.frame import NARROW_PX, WIDE_PX
from trials.report.pictures.winter import beds_picture, money_picture, stems_picture
from trials.report.plain import json_text
from trials.report.winter_tables import plantings_table


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
            winter_files(found),
            table_text(plantings_table(found, US)),
            json_text(winter_document(found)),
            what_if.winter_if_sentence(found, then),
            what_if.winter_if_sentence(found, found.plan),
            table_text(what_if.winter_if_table(found, then, US)),
            drawn(pictures),
        ]
    )
