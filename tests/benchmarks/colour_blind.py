"""Draws each chart of the pages as the colour-blind see it, in light and in dark, to be looked at.

    python tests/benchmarks/colour_blind.py STORE WISHES

STORE is the demo's store and WISHES its winter wishes (``tallybed demo`` writes both). One PNG for
each chart goes to ``tests/reference/colour_blind/``: light above dark, and from left to right usual
vision, protanopia, deuteranopia and tritanopia. Simulation: Machado, G. M., Oliveira, M. M. &
Fernandes, L. A. F. (2009), A physiologically-based model for simulation of color vision deficiency,
IEEE Transactions on Visualization and Computer Graphics 15(6):1291-1298, severity 1.0, on linear
RGB.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from functools import partial
from io import BytesIO
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from PIL import Image

from tests.drawing.test_inks import VISION
from trials import season
from trials.drawing.inks import DARK, LIGHT, channels
from trials.drawing.picture import Picture
from trials.model.units import UnitSystem
from trials.paper.png import png_file
from trials.pool.network import AcrossFarms
from trials.records.table.columns import TableColumns
from trials.report.figures import Figures, measure_figures
from trials.report.pictures.choice import chance_picture, loss_picture, tall_picture
from trials.report.pictures.frame import NARROW_PX
from trials.report.pictures.network import lead_picture
from trials.report.pictures.of_trial import answer_drawable, drawables
from trials.report.pictures.response import response_picture
from trials.report.pictures.winter import beds_picture, money_picture, stems_picture
from trials.season import Asked

INTO = Path(__file__).parents[1] / "reference" / "colour_blind"
TRIALS = ("cosmos-2026", "plume-2026")  # the second has a factor of numbers, whose trend is drawn
GAP_PX, MOST_PX, WIDE_PX = 6, 520, 270

LEADS = tuple(
    AcrossFarms(name, 9, 21, lead, 0.5, 9.0, lead - 1, lead + 1, lead - 2, lead + 2, 0.2)
    for name, lead in (("Ember", 2.4), ("Fern", 0.6), ("Tallow", -0.4), ("Sky", -2.1))
)

Draw = Callable[[int], Picture | None]
Pixels = NDArray[np.float64]


def charts(store: Path, wishes: Path) -> Iterator[tuple[str, Draw]]:
    """Every chart of the pages, by a name for its file."""
    seen: set[str] = set()
    for code in TRIALS:
        found = season.compare_trial(store, code, asked=Asked(second_opinions=False))
        for views in season.views_of(store, code, found):
            first = answer_drawable(views.comparison, views.factor, UnitSystem.METRIC)
            drawn = [*([first] if first else []), *drawables(views, UnitSystem.METRIC)]
            for each in drawn:
                name = f"compare {each.label}".lower().replace(",", "").replace(" ", "-")
                kind = "compare-two-factors" if "-and-" in name and "ground" not in name else name
                if kind not in seen and len(views.comparison.means) > 3:
                    seen.add(kind)
                    yield kind, each.draw
    choice = season.choose(store, "cosmos")
    figures = measure_figures(choice.measure, UnitSystem.METRIC)
    yield "choose-chance", partial(chance_picture, choice)
    yield "choose-loss", partial(loss_picture, choice, figures)
    yield "choose-long-enough", partial(tall_picture, choice)
    planned = season.winter_of(store, wishes.read_text("utf-8"), wishes.name)
    yield "winter-beds", partial(beds_picture, planned, UnitSystem.METRIC)
    yield "winter-stems", partial(stems_picture, planned, 0)
    yield "winter-money", partial(money_picture, planned)
    yield "compare-trend", trend()
    yield "many-farms-leads", partial(lead_picture, LEADS, "stems/plant")


def trend() -> Draw:
    """The line through spacings, which no trial of the invented farm has enough of."""
    spacings, blocks = (15, 20, 30, 40), (0.4, -0.3, 0.1)
    grown = pd.DataFrame(
        [
            (
                block,
                spacing,
                3 + 0.25 * spacing - 0.003 * spacing**2 + effect + spacing * (block + 1) % 7 / 5,
            )
            for block, effect in enumerate(blocks)
            for spacing in spacings
        ],
        columns=["block", "spacing_cm", "stems"],
    )
    columns = TableColumns(measure="stems", treatments=("spacing_cm",), block="block")
    found = season.compare_table(grown, columns, Asked(second_opinions=False))
    return partial(response_picture, found, "spacing_cm", Figures("stems/plant"))


def as_seen(pixels: Pixels, vision: str) -> Pixels:
    """RGB of 0 to 1 (height, width, 3) as that kind of vision sees it (sRGB: IEC 61966-2-1)."""
    linear = np.where(pixels <= 0.04045, pixels / 12.92, ((pixels + 0.055) / 1.055) ** 2.4)
    light = np.clip(linear @ np.array(VISION[vision]).T, 0.0, 1.0)
    written = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.asarray(written, dtype=np.float64)


def sheet(picture: Picture) -> Image.Image:
    """Light above dark, one column for each kind of vision."""
    rows = []
    for palette in (LIGHT, DARK):
        drawn = Image.open(BytesIO(png_file(picture, palette))).convert("RGB")
        small = drawn.resize((WIDE_PX, round(drawn.height * WIDE_PX / drawn.width)))
        shown = small.crop((0, 0, small.width, min(small.height, MOST_PX)))
        pixels = np.asarray(shown, dtype=np.float64) / 255
        ground = np.array(channels(next(iter(palette.values())))) / 255
        gap = np.broadcast_to(ground, (shown.height, GAP_PX, 3))
        parts = [part for vision in VISION for part in (as_seen(pixels, vision), gap)]
        rows.append(np.concatenate(parts[:-1], axis=1))
    whole = (255 * np.concatenate(rows)).round().astype(np.uint8)
    return Image.fromarray(whole).quantize(256, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)


def main() -> None:
    """Write the sheets, and print how large they are."""
    store, wishes = map(Path, sys.argv[1:])
    INTO.mkdir(exist_ok=True)
    total = 0
    for name, draw in charts(store, wishes):
        picture = draw(NARROW_PX)
        if picture is None:
            continue
        path = INTO / f"{name}.png"
        sheet(picture).save(path, optimize=True)
        total += path.stat().st_size
        print(f"{path.name}: {path.stat().st_size:,} bytes", flush=True)
    print(f"{total:,} bytes in all")


if __name__ == "__main__":
    main()
