"""Materials for parts added by hand, by diameter."""

from trace2pop import data
from trace2pop.model.material import Material

_SAME = 0.15
"""A material suits where its diameter is within this share of the one asked for."""


_DIAMETERS = (0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.2, 1.5, 2.0)
"""Diameters in mm worth telling apart by eye."""


def nearest_diameter(width: float) -> float:
    """Return the round diameter in mm nearest to a drawn width."""
    return min(_DIAMETERS, key=lambda size: (abs(size - width), size))


def suggestions(diameter: float) -> tuple[Material, ...]:
    """Return the materials of about that diameter in mm, of each kind the nearest."""
    best: dict[str, Material] = {}
    for row in data.materials():
        off = abs(row.diameter - diameter)
        known = best.get(row.kind)
        if off <= _SAME * diameter + 0.02 and (
            known is None or off < abs(known.diameter - diameter)
        ):
            best[row.kind] = row
    return tuple(best.values())
