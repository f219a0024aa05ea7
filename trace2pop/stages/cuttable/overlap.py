"""Where the glued end of a part added by hand lies: inside the body, off the crease."""

import numpy as np
import shapely

from trace2pop.model.outline import FloatArray

CLEAR = 1.0
"""mm of paper beside a glued end, and between it and the crease."""

_TURNS_DEG = tuple(sign * turn for turn in range(0, 86, 5) for sign in (1, -1))


def glue_overlap(
    body: shapely.Polygon, join: FloatArray, inwards: FloatArray, length: float, diameter: float
) -> FloatArray:
    """Return the glued run (2, 2) from ``join`` into the body, as long as there is room for.

    It continues the part's own direction where it can, else turns off as little as need be; it
    stays on one side of the crease (u = 0). Narrow bodies get less paper beside it.
    """
    best = np.vstack([join, join])
    for clear in (CLEAR, CLEAR / 4):
        found = _overlap(body, join, inwards, length, diameter / 2 + clear)
        if np.linalg.norm(found[1] - found[0]) > np.linalg.norm(best[1] - best[0]):
            best = found
        if np.linalg.norm(best[1] - best[0]) >= length / 2:
            break
    return best


def _overlap(
    body: shapely.Polygon, join: FloatArray, inwards: FloatArray, length: float, strip: float
) -> FloatArray:
    """Return the longest run whose strip fits, turned off as little as may be."""
    inner = body.buffer(-strip)
    side = np.sign(join[0]) or 1.0
    crease = shapely.box(-strip, -1e4, strip, 1e4)
    free = inner.difference(crease)
    free = free.intersection(
        shapely.box(*((0, -1e4, 1e4, 1e4) if side > 0 else (-1e4, -1e4, 0, 1e4)))
    )
    best, best_length = np.vstack([join, join]), 0.0
    for turn in _TURNS_DEG:
        angle = np.radians(turn)
        spin = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        way = spin @ inwards
        run = _room(free, join, way, length)
        if run > best_length + 0.2:
            best, best_length = np.vstack([join, join + run * way]), run
        if best_length >= length - 1e-6:
            break
    return best


def _room(free: shapely.Geometry, join: FloatArray, way: FloatArray, length: float) -> float:
    """Return how far a straight run from the join stays in the free paper.

    The first bit, up to twice the clearance, may lie in the rim next to the join.
    """
    line = shapely.LineString([join, join + length * way])
    inside = line.intersection(free)
    first = [
        part
        for part in shapely.get_parts(inside)
        if part.length > 0 and part.distance(shapely.Point(join)) < 4 * CLEAR
    ]
    if not first:
        return 0.0
    ends = shapely.get_coordinates(first[0])
    return float(np.linalg.norm(ends - join, axis=1).max())
