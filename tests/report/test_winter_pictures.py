"""The pictures of a winter plan hold its sowings, sales and money, and stay within their edges."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from trials.decide.planted import WinterChoice
from trials.drawing.picture import Line, Picture
from trials.drawing.svg import svg_file
from trials.model.units import UnitSystem
from trials.report.pictures.frame import HALF_PX, NARROW_PX, WIDE_PX
from trials.report.pictures.winter import beds_picture, money_picture, stems_picture

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def planned(demo_winter: WinterChoice) -> WinterChoice:
    return demo_winter


def there(picture: Picture | None) -> Picture:
    assert picture is not None
    return picture


def column(picture: Picture, name: str) -> list[float]:
    place = picture.columns.index(name)
    return [float(str(row[place])) for row in picture.rows]


def test_each_sowing_has_its_days_and_metres(planned: WinterChoice) -> None:
    picture = there(beds_picture(planned, UnitSystem.METRIC, WIDE_PX))
    assert len(picture.rows) == len(planned.plantings)
    days = [(str(row[3]), str(row[4]), str(row[5])) for row in picture.rows]
    assert sorted(days) == sorted(
        (d.plant_out.isoformat(), d.first_cut.isoformat(), d.last_cut.isoformat())
        for d in (each.days for each in planned.plantings)
    )
    metres = sum(each.metres for each in planned.plantings)
    assert sum(column(picture, "m")) == pytest.approx(metres, abs=0.05 * len(picture.rows))
    feet = there(beds_picture(planned, UnitSystem.US, WIDE_PX))
    # 1 ft = 0.3048 m (international yard and pound agreement of 1959).
    assert sum(column(feet, "ft")) == pytest.approx(metres / 0.3048, abs=0.05 * len(feet.rows))


def test_a_market_has_its_weeks_sales_and_wishes(planned: WinterChoice) -> None:
    for place, outlet in enumerate(planned.winter.outlets):
        picture = there(stems_picture(planned, place, HALF_PX))
        weeks = [week for week, most in enumerate(outlet.at_most) if most > 0]
        assert column(picture, "week") == [week + 1 for week in weeks]
        sold, most = column(picture, "stems sold"), column(picture, "most taken")
        assert all(one <= other + 1e-6 for one, other in zip(sold, most, strict=True))
        assert sum(sold) == pytest.approx(planned.sold.stems[place].sum())
        wanted = "least it wants" in svg_file(picture)
        assert wanted == bool(outlet.at_least.any())


def test_the_money_of_the_varieties_adds_up_to_the_plan(planned: WinterChoice) -> None:
    picture = there(money_picture(planned, WIDE_PX))
    total = sum(column(picture, "sales")) - sum(column(picture, "costs")) - planned.sold.charges
    assert total == pytest.approx(planned.plan.expected)
    assert column(picture, "net") == pytest.approx([each.net for each in planned.earned])


@pytest.mark.parametrize("width", [WIDE_PX, NARROW_PX])
def test_every_mark_stays_within_the_edges(planned: WinterChoice, width: int) -> None:
    stems = [stems_picture(planned, n, width) for n in range(len(planned.winter.outlets))]
    beds = beds_picture(planned, UnitSystem.METRIC, width)
    for picture in map(there, (beds, money_picture(planned, width), *stems)):
        assert picture.alt
        assert all(len(row) == len(picture.columns) for row in picture.rows)
        for mark in picture.marks:
            places = mark.points if isinstance(mark, Line) else ((mark.x, mark.y),)
            for x, y in places:
                assert -1 <= x <= picture.width + 1, (picture.name, mark)
                assert -1 <= y <= picture.height + 1, (picture.name, mark)
        ElementTree.fromstring(svg_file(picture))
