"""Where the picture's edge cuts off what was taken, and how much of it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from trace2pop.model.finding import Finding
from trace2pop.stages.trace.things import Thing

_EDGE_MM = 1.5
"""As near to the picture's edge a thing is cut off by it; a sheet's rim is left out of it."""

TELLS = 0.12
"""Share of the way round a thing: a limb's width is less, a body's more."""


@dataclass(frozen=True)
class Cut:
    """How long the straight cuts are in mm, their share of the way round, and where the longest."""

    length: float
    share: float
    place: tuple[float, float]


def cut_of(taken: Sequence[Thing], px_per_mm: float) -> Cut | None:
    """Return how the picture's edge cuts the things taken, None where it doesn't."""
    runs = [run for thing in taken if thing.cut_off for run in _runs(thing, px_per_mm)]
    if not runs:
        return None
    around = sum(2 * sum(thing.box[2:]) for thing in taken)
    length = sum(count for count, _, _ in runs)
    _, x, y = max(runs)
    return Cut(length / px_per_mm, length / around, (x / px_per_mm, y / px_per_mm))


def _runs(thing: Thing, px_per_mm: float) -> Iterator[tuple[int, float, float]]:
    """Yield for each side of the picture that is touched how many px of it, and their middle."""
    x, y, width, height = thing.box
    rows, cols = thing.mask.shape
    edge = _EDGE_MM * px_per_mm + 2
    for near, line, across in (
        (y <= edge, y, False),
        (rows - y - height <= edge, y + height - 1, False),
        (x <= edge, x, True),
        (cols - x - width <= edge, x + width - 1, True),
    ):
        inked = np.flatnonzero(thing.mask[:, line] if across else thing.mask[line])
        if near and len(inked):
            middle = float(np.median(inked))
            yield len(inked), *((line, middle) if across else (middle, line))


def closed_at_edge(cut: Cut | None) -> tuple[Finding, ...]:
    """Tell of a cut short enough to be taken as a limb's, as the maker said to."""
    if cut is None or cut.share > TELLS:
        return ()
    x, y = cut.place
    advice = (
        f"the motif runs over the picture's edge and was closed there by a straight line "
        f"{cut.length:.0f} mm long; round it by hand after cutting, or take the picture again "
        "with all of it on"
    )
    where = f"near {x:.0f} mm from the left, {y:.0f} mm from the top"
    return (Finding("closed-at-edge", "warning", where, cut.length, None, advice),)
