"""What a network of farms publishes."""

from __future__ import annotations

import re
import tempfile
from pathlib import Path

from tests.benchmarks import make_network
from tests.output.registry import drawn, output, table_text
from trials import season
from trials.report.pictures.frame import NARROW_PX, WIDE_PX
from trials.report.pictures.network import lead_picture
from trials.report.pool_page import best_first, measure_of, pooled_page, remarks, trials_wanted

MADE = make_network.Network(farms=6, seasons=2, trials=1, varieties=10, entries=8, days=2)
PUBLISHED = ["stems_per_plant"]


@output
def network_of_farms(store: Path) -> str:
    del store
    with tempfile.TemporaryDirectory() as folder:
        source, into, to = (Path(folder) / name for name in ("network", "results", "published"))
        make_network.make(source, MADE)
        done = season.pool(
            [str(source)], into, measures=PUBLISHED, publish_to=to, fewest_farms=3
        )  # fmt: skip
        assert done.published is not None
        parts = [re.sub(r"in \d+\.\d s", "in SECONDS", pooled_page(done))]
        for subject in done.published.subjects:
            ranked = best_first(subject)
            parts += [*remarks(subject), table_text(trials_wanted(subject))]
            parts.append(
                drawn(
                    lead_picture(ranked, measure_of(subject).unit, width)
                    for width in (WIDE_PX, NARROW_PX)
                )
            )
    return "\n".join(parts).replace(folder, "")
