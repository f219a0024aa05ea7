"""Where an end bends too far by its own weight: a wire glued along the back that carries it.

It runs along the middle of the limb from the farthest place that sags back to where beams can
stand, and on between them, so that they hold it level there. It never crosses the crease.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
import shapely
from numpy.typing import NDArray

from trace2pop.limits import GLUE_FOLD_GAP
from trace2pop.mechanism.predicates import glued_runs
from trace2pop.model.card import STIFFENER, CutMotif, HandPart
from trace2pop.model.outline import FloatArray, Outline
from trace2pop.stages.supports.places import Stretch

DIAMETERS = (0.5, 0.8, 1.0, 1.2)
"""Tried in this order: what bends by hand and is sold by the piece."""
_EDGE = 0.4
"""Paper beside a wire that doesn't show, mm."""
_GRIPS = (25.0, 50.0)
"""How far a wire runs on between beams, which hold it there against turning; the first first."""
_ROUNDS = 2
"""Wires one after the other that an end may take."""
_PITCH = 0.5
_WIDE, _DRAWN = 3.0, 0.5
"""In a limb a wire keeps to the middle; in a body it stays near the edge, out of the beams' way."""
_SMOOTH = 4.0
"""Half the length along a wire over which the raster's corners are evened out."""
_TIP = 0.01


@dataclass(frozen=True, eq=False)
class _Paper:
    """One half of the motif's paper on a raster: ``away`` (rows, cols) is how far the edge is."""

    low: FloatArray
    away: FloatArray

    def pixel(self, points: FloatArray) -> NDArray[np.int64]:
        """Return the pixels (n, 2) row, column of places (n, 2)."""
        at = np.rint((points - self.low) / _PITCH).astype(np.int64)[:, ::-1]
        found: NDArray[np.int64] = np.clip(at, 0, np.array(self.away.shape) - 1)
        return found

    def place(self, pixels: FloatArray) -> FloatArray:
        """Return the places (n, 2) of pixels (n, 2)."""
        found: FloatArray = self.low + _PITCH * pixels[:, ::-1]
        return found


@dataclass(frozen=True, eq=False)
class Heavy:
    """The ``ends`` that bend too far by their own weight, each its places (k, 2), worst first.

    ``places`` are where beams could stand; ``mirrored`` if both halves are to be alike.
    """

    shape: shapely.Polygon
    places: Sequence[Stretch]
    ends: tuple[FloatArray, ...]
    mirrored: bool


def stiffened(cut: CutMotif, heavy_ends: Callable[[CutMotif], Heavy]) -> CutMotif:
    """Return the motif with the thinnest wires that let all its ends carry their own weight.

    The motif as it was where none do.
    """
    heavy = heavy_ends(cut)
    if not heavy.ends:
        return cut

    def carried(diameter: float, grip: float) -> CutMotif | None:
        found, left = cut, heavy
        for _ in range(_ROUNDS):
            more = _with_wires(found, left, diameter, grip)
            if more is None:
                return None
            found, left = more, heavy_ends(more)
            if not left.ends:
                return found
            if any(_wired(end, found) for end in left.ends):
                return None
        return None

    # What the thickest doesn't carry, thinner ones needn't be tried for.
    ways = product(DIAMETERS[-1:], _GRIPS[::-1])
    thickest = next((found for way in ways if (found := carried(*way))), None)
    if thickest is None:
        return cut
    ways = product(DIAMETERS[:-1], _GRIPS)
    return next((found for way in ways if (found := carried(*way))), thickest)


def _wired(end: FloatArray, cut: CutMotif) -> bool:
    """Whether a wire is glued to an end already."""
    wires = [part.overlap for part in cut.hand_parts if part.kind == STIFFENER]
    lines = shapely.union_all([shapely.LineString(line) for line in wires])
    return bool(shapely.dwithin(shapely.points(end), lines, _WIDE).any())


def _with_wires(cut: CutMotif, heavy: Heavy, diameter: float, grip: float) -> CutMotif | None:
    """Return the motif with a wire more for each end that needs one, None where none can be."""
    parts = list(cut.hand_parts)
    for end in heavy.ends:
        line = route(heavy.shape, heavy.places, end, glued_runs(parts), diameter, grip)
        if line is None:
            continue
        sides = (1.0, -1.0) if heavy.mirrored else (1.0,)
        for side in sides:
            number = 1 + max(
                [*(part.id for part in parts), *(item.id for item in cut.features)], default=0
            )
            parts.append(wire(number, line * [side, 1.0], diameter))
    added = len(parts) > len(cut.hand_parts)
    return replace(cut, hand_parts=tuple(parts)) if added else None


def route(
    shape: shapely.Geometry,
    places: Sequence[Stretch],
    end: FloatArray,
    taken: shapely.Geometry,
    diameter: float,
    grip: float,
) -> FloatArray | None:
    """Return a wire's line (n, 2) from where beams hold the paper to the far end of ``end``.

    ``end`` (k, 2) are the places that bend too far, the worst first. None where no way leads there
    on one half.
    """
    from skimage.graph import MCP_Geometric  # 0.4 s to import

    side = 1.0 if end[0, 0] >= 0 else -1.0
    paper = _half(shape, side, taken, diameter)
    open_ = paper.away > 0
    near = 1 / np.clip(paper.away, 0.1, _WIDE) ** 2
    cost = np.where(open_, near * (1 + _DRAWN * np.maximum(paper.away - _WIDE, 0)), -1.0)
    held = _held(paper, places, side)
    there = paper.pixel(end[end[:, 0] * side > 0])
    there = there[open_[tuple(there.T)]]
    if not len(there) or not len(held):
        return None
    ways = MCP_Geometric(np.where(open_, 1.0, -1.0))
    reach, _ = ways.find_costs(starts=held)
    far = reach[tuple(there.T)]
    if not np.isfinite(far).any():
        return None
    tip = there[int(np.argmax(np.where(np.isfinite(far), far, -1.0)))]
    ways = MCP_Geometric(cost)
    paid, _ = ways.find_costs(starts=[tuple(tip)])
    first = held[int(np.argmin(paid[tuple(held.T)]))]
    on = np.hypot(*(held - first).T) * _PITCH
    deep = held[on >= min(grip, float(on.max()))]
    goal = deep[int(np.argmin(paid[tuple(deep.T)]))]
    if not np.isfinite(paid[tuple(goal)]):
        goal = first
    way = np.array(ways.traceback(tuple(goal)), dtype=float)[::-1]
    return _smooth(paper.place(way)) if len(way) > 2 else None


def _half(shape: shapely.Geometry, side: float, taken: shapely.Geometry, diameter: float) -> _Paper:
    from scipy.ndimage import distance_transform_edt

    left, top, right, foot = shape.bounds
    fold = GLUE_FOLD_GAP.value
    half = shapely.box(min(side * fold, side * 1e4), top, max(side * fold, side * 1e4), foot)
    own = shape.intersection(half).difference(taken.buffer(GLUE_FOLD_GAP.value))
    u = np.arange(left - 1, right + 1, _PITCH)
    v = np.arange(top - 1, foot + 1, _PITCH)
    across, along = np.meshgrid(u, v)
    shapely.prepare(own)
    inside = shapely.contains_xy(own, across.ravel(), along.ravel()).reshape(across.shape)
    away = distance_transform_edt(inside) * _PITCH
    return _Paper(np.array([u[0], v[0]]), np.where(away >= diameter / 2 + _EDGE, away, 0.0))


def _held(paper: _Paper, places: Sequence[Stretch], side: float) -> NDArray[np.int64]:
    """Return the pixels (n, 2) on this half over which a beam could stand."""
    found = [
        np.column_stack([np.full(len(v), place.u), v])
        for place in places
        if place.u * side > 0
        for v in (np.arange(place.v0, place.v1, _PITCH),)
    ]
    if not found:
        return np.zeros((0, 2), dtype=np.int64)
    pixels = np.unique(paper.pixel(np.concatenate(found)), axis=0)
    kept: NDArray[np.int64] = pixels[paper.away[tuple(pixels.T)] > 0]
    return kept


def _smooth(line: FloatArray) -> FloatArray:
    """Return a raster's line with its corners evened out, its ends kept, a point every mm."""
    whole = shapely.LineString(line)
    at = np.linspace(0, whole.length, max(int(whole.length / _PITCH), 2) + 1)
    window = np.minimum(_SMOOTH, np.minimum(at, whole.length - at))
    shares = np.linspace(-1, 1, 9)
    spread = at[:, None] + window[:, None] * shares
    points = shapely.get_coordinates(shapely.line_interpolate_point(whole, spread.ravel()))
    even = shapely.LineString(points.reshape(len(at), len(shares), 2).mean(axis=1)).simplify(0.03)
    result: FloatArray = np.round(shapely.get_coordinates(even), 3)
    return result


def wire(number: int, line: FloatArray, diameter: float) -> HandPart:
    """Return a wire along ``line``, from the held end outwards, as a part to be added by hand."""
    inwards = line[::-1]
    back = inwards[1] - inwards[0]
    away = -back / float(np.hypot(*back))
    length = float(np.hypot(*np.diff(line, axis=0).T).sum())
    tip = np.array([inwards[0], inwards[0] + _TIP * away])
    return HandPart(
        id=number,
        kind=STIFFENER,
        length=0.0,
        root_width=diameter,
        tip_width=diameter,
        width=diameter,
        cut_length=length,
        diameter=diameter,
        join=(float(inwards[0, 0]), float(inwards[0, 1])),
        direction_deg=float(np.degrees(np.arctan2(away[1], away[0]))),
        path=tip,
        overlap=inwards,
        shape=Outline(np.zeros((0, 4, 2))),
        choice="hand",
    )
