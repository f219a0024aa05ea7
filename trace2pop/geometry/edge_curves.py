"""New edges of many points as few Beziers, smooth where they go on smoothly."""

import math
from itertools import pairwise

import numpy as np

from trace2pop.geometry import beziers
from trace2pop.geometry.corners import Spans
from trace2pop.geometry.greedy import fitted, longest_runs
from trace2pop.model.outline import Contour, FloatArray

_CORNER_DEG = 18.0
"""An edge that turns by more at a point has a corner there: three times an arc's step."""

_NICK = 1.5
"""Points nearer than so many tolerances are one: what polygon operations leave where arcs meet."""

_LONGEST, _SHORT = 0.8, 0.3
"""A half circle's handles are 0.67 of its chord; longer ones tie a piece shorter than that (mm)."""

_STEP = 0.04
"""mm between the places an edge is looked at."""

_AROUND = 2
"""Samples to either side that tell an edge's direction: more than an arc's step."""


def edge_curves(
    points: FloatArray, tolerance: float, into: FloatArray | None, out: FloatArray | None
) -> Contour:
    """Return an edge (n, 2) as Beziers (k, 4, 2) within about ``tolerance`` mm of it.

    ``into`` and ``out`` (2,) are the directions of what comes before it and after it, None where
    that is a corner at any rate. An edge that goes on in about their direction does so smoothly.
    """
    points = _apart(points, _NICK * tolerance)
    steps = np.diff(points, axis=0)
    if len(steps) < 2:
        return beziers.straight(points, closed=False)
    angle = np.arctan2(steps[:, 1], steps[:, 0])
    turn = np.abs(np.angle(np.exp(1j * np.diff(angle))))
    corners = np.flatnonzero(turn > np.radians(_CORNER_DEG)) + 1
    bounds = [0, *corners.tolist(), len(points) - 1]
    runs = [_sampled(points[a : b + 1]) for a, b in pairwise(bounds)]
    tangents = [_tangents(run) for run in runs]
    for number, place, way in ((0, 0, into), (-1, -1, out)):
        if way is not None and way @ tangents[number][place] > np.cos(np.radians(_CORNER_DEG)):
            tangents[number][place] = way
    first = np.cumsum([0, *(len(run) for run in runs[:-1])])
    last = first + [len(run) - 1 for run in runs]
    spans = Spans(np.vstack(runs), np.vstack(tangents), first, last, smooth=False)
    start, end = longest_runs(spans, tolerance)
    cubics = fitted(spans, start, end)[0]
    _untie(cubics)
    # Between two corners on a straight line nothing is gained by handles that are not on it.
    plain = np.isin(start, first) & np.isin(end, last) & (_bow(spans, start, end) < 0.1 * tolerance)
    for k in np.flatnonzero(plain):
        cubics[k] = beziers.straight(cubics[k, [0, 3]], closed=False)[0]
    return cubics


def ring_curves(points: FloatArray, tolerance: float) -> Contour:
    """Return a closed edge (n, 2), first point not repeated, as Beziers (k, 4, 2) likewise."""
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    turn = np.abs(np.arctan2(*((before * side).sum(axis=1) for side in (_left(after), after))))
    corner = bool(turn.max() > np.radians(_CORNER_DEG))
    start = int(np.argmax(turn) if corner else np.argmin(turn))
    way = before[start] / np.hypot(*before[start])
    ring = np.roll(points, -start, axis=0)
    through = None if corner else way
    return edge_curves(np.vstack([ring, ring[:1]]), tolerance, through, through)


def _left(steps: FloatArray) -> FloatArray:
    return np.column_stack([steps[:, 1], -steps[:, 0]])


def _untie(cubics: Contour) -> None:
    """Shorten handles so long that they make a loop of a short piece."""
    chord = np.hypot(*(cubics[:, 3] - cubics[:, 0]).T)
    for end, handle in ((0, 1), (3, 2)):
        arm = cubics[:, handle] - cubics[:, end]
        size = np.hypot(*arm.T)
        long = (size > _LONGEST * chord) & (chord < _SHORT)
        cubics[long, handle] = cubics[long, end] + arm[long] * (chord / 3 / size)[long, None]


def _apart(points: FloatArray, least: float) -> FloatArray:
    """Return the points without those nearer than ``least`` to the one before, the ends kept."""
    kept = [0]
    for k in range(1, len(points) - 1):
        if min(math.dist(points[k], points[other]) for other in (kept[-1], -1)) > least:
            kept.append(k)
    return points[[*kept, len(points) - 1]]


def _sampled(run: FloatArray) -> FloatArray:
    """Return a run's points at even steps, its ends kept."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(run, axis=0).T))])
    at = np.linspace(0, along[-1], max(4, round(along[-1] / _STEP) + 1))
    return np.column_stack([np.interp(at, along, run[:, axis]) for axis in (0, 1)])


def _tangents(run: FloatArray) -> FloatArray:
    """Return a run's unit directions, at its ends those of a parabola through the first points."""
    reach = min(_AROUND, (len(run) - 1) // 2)
    ways = np.empty_like(run)
    ways[reach:-reach] = run[2 * reach :] - run[: -2 * reach]
    for k in range(reach):
        ways[k] = run[k + 1] - run[max(k - 1, 0)]
        ways[-1 - k] = run[-1 - max(k - 1, 0)] - run[-2 - k]
    ways[0] = 4 * run[reach] - 3 * run[0] - run[2 * reach]
    ways[-1] = 3 * run[-1] - 4 * run[-1 - reach] + run[-1 - 2 * reach]
    result: FloatArray = ways / np.maximum(np.hypot(*ways.T), 1e-12)[:, None]
    return result


def _bow(spans: Spans, start: np.ndarray, end: np.ndarray) -> FloatArray:
    """Return how far each run strays from its chord, (k,)."""
    result = np.zeros(len(start))
    for k, (a, b) in enumerate(zip(start, end, strict=True)):
        chord = spans.points[b] - spans.points[a]
        off = spans.points[a : b + 1] - spans.points[a]
        cross = chord[0] * off[:, 1] - chord[1] * off[:, 0]
        result[k] = float(np.abs(cross).max()) / max(float(np.hypot(*chord)), 1e-9)
    return result
