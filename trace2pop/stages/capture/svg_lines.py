"""The area a pen paints along a chain of Beziers: its sides, joins and caps.

Definitions: SVG 2 (W3C), sections 13.5.3 to 13.5.5 (caps, joins, mitre limit). The sides are put
beside the curve itself, not beside chords of it, so that they are as true as the chords between.
"""

import math
from dataclasses import dataclass

import numpy as np
import shapely

from trace2pop.geometry import beziers
from trace2pop.model.outline import Contour, FloatArray
from trace2pop.stages.capture.svg_bounds import Tally

FINE = 5e-4
"""mm by which chords may miss a side."""

_HALVINGS = 8
"""How often a step of a curve is halved at most: a cusp has no side to follow."""

_SAME = 1e-9
"""mm: arms whose ends are nearer are one."""

_PAST = 1e-6


@dataclass(frozen=True)
class Pen:
    """Half the width in mm of what it paints, its caps and joins, and the mitre limit."""

    radius: float
    cap: str
    join: str
    mitre: float

    @property
    def step(self) -> float:
        """Return the largest turn in radians whose chord stays within ``FINE`` of the arc."""
        return 2 * math.acos(max(0.0, 1 - FINE / self.radius))


def painted(chain: Contour, *, closed: bool, pen: Pen, tally: Tally) -> shapely.Geometry:
    """Return the area that ``pen`` paints along a chain (n, 4, 2), in mm.

    Raises:
        PictureError: where that takes more than ``tally`` allows.
    """
    owner, t = _cuts(chain, pen.radius, tally)
    at, reach = _cut(chain[owner], t, pen.radius)
    within = owner[:-1] == owner[1:]
    ends, starts = np.flatnonzero(~within), np.flatnonzero(~within) + 1
    if closed:
        ends, starts = np.append(ends, len(at) - 1), np.append(starts, 0)
    smooth = np.hypot(*(reach[ends] - reach[starts]).T) < _SAME
    reach[starts[smooth]] = reach[ends[smooth]]  # to the last digit, lest a slit stay open
    corners = np.stack([at + reach, at - reach], axis=1)
    steps = np.concatenate([corners[:-1], corners[1:]], axis=1)[within]
    # The hull: on the inner side of a tight bend the cuts cross.
    areas = list(shapely.convex_hull(shapely.multipoints(steps)))
    areas += _joints(at[ends], reach[ends], reach[starts], pen)
    if not closed:
        areas += [_cap(at[0], reach[0], pen), _cap(at[-1], -reach[-1], pen)]
    return shapely.union_all(areas)


def _cuts(chain: Contour, radius: float, tally: Tally) -> tuple[FloatArray, FloatArray]:
    """Return segment numbers and parameters (m,) between which chords are true to both sides."""
    owner, low = beziers.sampling(chain, FINE)
    tally.line(len(owner))
    high = np.append(low[1:], 0.0)
    high[high == 0] = 1.0
    done = []
    for _ in range(_HALVINGS):
        if not len(owner):
            break
        middle = (low + high) / 2
        (p, r), (q, s), (m, o) = (_cut(chain[owner], t, radius) for t in (low, high, middle))
        bow = [np.hypot(*(m + k * o - (p + k * r + q + k * s) / 2).T) for k in (-1, 1)]
        bent = np.maximum(*bow) > FINE
        tally.line(int(bent.sum()))
        done.append(np.column_stack([owner, low])[~bent])
        owner, low, middle, high = owner[bent], low[bent], middle[bent], high[bent]
        owner = np.tile(owner, 2)
        low, high = np.append(low, middle), np.append(middle, high)
    segments = np.arange(len(chain))
    last = np.column_stack([segments, np.ones(len(chain))])
    every = np.concatenate([*done, np.column_stack([owner, low]), last])
    every = every[np.lexsort(every.T[::-1])]
    return every[:, 0].astype(np.int64), every[:, 1]


def _cut(segments: Contour, t: FloatArray, radius: float) -> tuple[FloatArray, FloatArray]:
    """Return points (m, 2) on segments, and from each the vector ``radius`` long to the left."""
    at = beziers.evaluate(segments, t)
    s = (1 - t)[:, None]
    u = t[:, None]
    a, b, c = np.moveaxis(np.diff(segments, axis=1), 1, 0)
    way = s * s * a + 2 * s * u * b + u * u * c
    size = np.hypot(*way.T)
    still = size < 1e-6 * np.abs(np.diff(segments, axis=1)).max(axis=(1, 2))
    if still.any():  # a handle in its end, or a cusp: the direction just beside it
        some, near = segments[still], t[still]
        ahead = beziers.evaluate(some, np.minimum(near + 1e-3, 1))
        way[still] = ahead - beziers.evaluate(some, np.maximum(near - 1e-3, 0))
        size[still] = np.maximum(np.hypot(*way[still].T), 1e-300)
    left = np.column_stack([way[:, 1], -way[:, 0]])
    return at, left * (radius / size)[:, None]


def _joints(
    at: FloatArray, before: FloatArray, after: FloatArray, pen: Pen
) -> list[shapely.Geometry]:
    """Return what joins paint at nodes (n, 2) on the outer side of their turns."""
    square = pen.radius**2
    sine = (before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]) / square
    turn = np.arctan2(sine, (before * after).sum(axis=1) / square)
    outer = np.where(turn > 0, 1.0, -1.0)[:, None]
    one, other = outer * before, outer * after
    # Wedges reach past the node, lest a slit without width stay open between them and the sides.
    inward = outer * np.column_stack([one[:, 1] - other[:, 1], other[:, 0] - one[:, 0]])
    size = np.maximum(np.hypot(*inward.T), 1e-300)[:, None]
    wedges = np.stack([at + _PAST * inward / size, at + one, at + other], axis=1)
    plain = (np.abs(turn) <= pen.step) | (pen.join == "bevel")
    areas = list(shapely.polygons(wedges[plain & ((before != after).any(axis=1))]))
    for k in np.flatnonzero(~plain):
        inner, start, end = wedges[k]
        half = math.cos(turn[k] / 2)
        if pen.join == "round":
            areas.append(shapely.Polygon([inner, *_arc(at[k], start, end, turn[k], pen)]))
        elif half * pen.mitre >= 1:
            tip = at[k] + (one[k] + other[k]) / (2 * half * half)
            areas.append(shapely.Polygon([inner, start, tip, end]))
        else:
            areas.append(shapely.Polygon(wedges[k]))
    return areas


def _cap(at: FloatArray, reach: FloatArray, pen: Pen) -> shapely.Geometry:
    """Return what the cap paints at an end, ``reach`` to the left of the way into the line."""
    left, right = at + reach, at - reach
    if pen.cap == "round":
        return shapely.Polygon(_arc(at, left, right, -math.pi, pen))
    if pen.cap == "square":
        out = np.array([reach[1], -reach[0]])
        return shapely.Polygon([left, left + out, right + out, right])
    return shapely.Polygon()


def _arc(
    at: FloatArray, start: FloatArray, end: FloatArray, turn: float, pen: Pen
) -> list[FloatArray]:
    """Return points from ``start`` to ``end`` on the circle round ``at``; both stay exact."""
    angle = np.linspace(0, turn, max(2, math.ceil(abs(turn) / pen.step)) + 1)[1:-1, None]
    arm = start - at
    square = np.array([-arm[1], arm[0]])
    return [start, *(at + np.cos(angle) * arm + np.sin(angle) * square), end]
