"""Where the glued end of a part added by hand lies: inside the body, off the crease."""

import numpy as np
import shapely

from trace2pop.limits import GLUE_FOLD_GAP, GLUE_LEAST
from trace2pop.model.outline import FloatArray

_TURNS_DEG = np.array([0, *(sign * turn for turn in range(4, 89, 4) for sign in (1, -1))])
_RIM = 0.4
"""Up to this share of a glued end may lie in the rim next to the join, or beside the crease."""

_SHARES = (1.0, 0.8, 0.6, 0.45, 0.3)
_APART = 0.5
"""mm between two glued ends."""

_PAPER = (1.0, 0.5, 0.1)
"""mm of paper wanted beside a glued end: the first that leaves room for all of it counts."""

_SET_OUT = 2.0
"""mm of a middle line that tell its direction at the join."""


def direction(path: FloatArray) -> FloatArray:
    """Return the unit direction in which a middle line sets out."""
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    reach = min(_SET_OUT, float(along[-1]))
    ahead = np.array([np.interp(reach, along, path[:, axis]) for axis in (0, 1)]) - path[0]
    result: FloatArray = ahead / max(float(np.linalg.norm(ahead)), 1e-9)
    return result


class GlueRoom:
    """The body's back, where glued ends find room one after the other."""

    def __init__(self, body: shapely.Polygon) -> None:
        self._body = body
        self._halves = [body.intersection(_half(side)) for side in (-1, 1)]
        self._free: dict[tuple[int, float], tuple[shapely.Geometry, shapely.Geometry]] = {}
        self._taken: list[shapely.LineString] = []
        self._diameters: list[float] = []

    def overlap(
        self, join: FloatArray, inwards: FloatArray, length: float, diameter: float
    ) -> FloatArray:
        """Return the glued run (2, 2) from ``join`` into the body, as long as there is room for.

        It continues the part's own direction ``inwards`` where it can, else turns off as little as
        need be. It stays on one side of the crease (u = 0), apart from it and from other glued
        ends; where not even ``limits.GLUE_LEAST`` is free, the run has no length.
        """
        for crowded in (False, True):
            for wanted in _lengths(length):
                for paper in _PAPER if wanted == length else _PAPER[-1:]:
                    run = self._straight(join, inwards, wanted, diameter, paper, crowded)
                    if run is not None:
                        self._taken.append(shapely.LineString(run))
                        self._diameters.append(diameter)
                        return run
        return np.vstack([join, join])

    def has(
        self,
        join: FloatArray,
        inwards: FloatArray,
        length: float,
        diameter: float,
        paper: float,
    ) -> bool:
        """Whether there is room for a glued end of any such length, were it the only one.

        ``paper`` mm of it are wanted on either side.
        """
        return any(
            self._straight(join, inwards, wanted, diameter, paper, True) is not None
            for wanted in _lengths(length)
        )

    def _straight(
        self,
        join: FloatArray,
        inwards: FloatArray,
        length: float,
        diameter: float,
        paper: float,
        crowded: bool,
    ) -> FloatArray | None:
        angles = np.radians(_TURNS_DEG)
        ways = np.stack(
            [
                np.cos(angles) * inwards[0] - np.sin(angles) * inwards[1],
                np.sin(angles) * inwards[0] + np.cos(angles) * inwards[1],
            ],
            axis=1,
        )
        tips = join + length * ways
        rims = join + _RIM * length * ways
        inner = shapely.linestrings(np.stack([rims, tips], axis=1))
        first = shapely.linestrings(np.stack([join + 0.02 * ways, rims], axis=1))
        good = np.zeros(len(ways), bool)
        for side in (0, 1):
            half, free = self._room(side, diameter / 2, paper)
            good |= shapely.covers(free, inner) & shapely.covers(half, first)
        for best in np.flatnonzero(good):
            if crowded or self._apart(inner[best], diameter):
                return np.vstack([join, tips[best]])
        return None

    def _room(
        self, side: int, half_width: float, paper: float
    ) -> tuple[shapely.Geometry, shapely.Geometry]:
        """Return a half of the body, and what of it is free for a middle line."""
        key = (side, round(half_width + 10 * paper, 6))
        if key not in self._free:
            half = self._halves[side]
            inner = self._body.buffer(-half_width - paper, quad_segs=4)
            beside = half_width + GLUE_FOLD_GAP.value
            strip = shapely.box(-beside, -1e4, beside, 1e4)
            free = inner.intersection(half).difference(strip)
            whole = half.buffer(0.02)
            shapely.prepare(free)
            shapely.prepare(whole)
            self._free[key] = (whole, free)
        return self._free[key]

    def _apart(self, line: shapely.LineString, diameter: float) -> bool:
        """Whether a glued end keeps clear of the others."""
        if not self._taken:
            return True
        apart = (diameter + np.array(self._diameters)) / 2 + _APART
        return bool((shapely.distance(line, np.array(self._taken)) >= apart).all())


def _lengths(length: float) -> list[float]:
    """Return the lengths tried for a glued end, longest first."""
    least = min(GLUE_LEAST.value, length)
    return [*(share * length for share in _SHARES if share * length > least), least]


def _half(side: int) -> shapely.Polygon:
    return shapely.box(-1e4, -1e4, 0, 1e4) if side < 0 else shapely.box(0, -1e4, 1e4, 1e4)
