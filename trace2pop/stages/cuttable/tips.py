"""How far a needle's tip may have been drawn beyond what the picture shows."""

import numpy as np

from trace2pop.geometry.middle import MiddleLine
from trace2pop.model.card import PlacedMotif

_LOST_PX = 1.5
"""A stroke narrower than this many pixels fades into the paper; measured, see docs/fragile.md."""

_LAST = 0.4
"""Share of a middle line over which its taper is measured."""


def fading(middle: MiddleLine, placed: PlacedMotif) -> float:
    """Return how much longer than measured a part may have been drawn, in mm; 0 if its tip shows.

    A tip that tapers to nothing is seen only where it is wider than the picture resolves; what is
    lost is that width over its taper.
    """
    artwork = placed.motif.artwork
    if artwork.scale.source == "vector":
        return 0.0
    lost = _LOST_PX * placed.scale / artwork.px_per_mm
    if middle.tip_width > lost or middle.length <= 0:
        return 0.0
    count = len(middle.widths)
    last = slice(int((1 - _LAST) * count), max(count - 1, 2))
    at = np.linspace(0, middle.length, count)[last]
    slope = -float(np.polyfit(at, middle.widths[last], 1)[0]) if len(at) > 2 else 0.0
    return min(lost / slope, 0.25 * middle.length) if slope > 1e-3 else 0.0
