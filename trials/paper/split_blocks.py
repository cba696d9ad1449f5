"""Says which blocks are split over several beds, so that both parts are treated alike."""

from __future__ import annotations

from trials.layout.plan import PlannedLayout
from trials.paper.strip_drawing import bed_words


def split_blocks_note(layout: PlannedLayout) -> str:
    """A sentence or two on blocks that are split over beds; empty where none is."""
    beds: dict[str, dict[str, None]] = {}
    for plot in layout.plots:
        if plot.block is not None:
            beds.setdefault(plot.block, {})[plot.bed] = None
    split = [
        f"Block {block} is split over {' and '.join(map(bed_words, over))}."
        for block, over in beds.items()
        if len(over) > 1
    ]
    return (
        " ".join([*split, "Do the same work in all parts of a split block on the same day."])
        if split
        else ""
    )
