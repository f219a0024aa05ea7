"""A nearly symmetric outline made truly symmetric: the mean of both halves."""

import numpy as np
import shapely

from trace2pop.geometry import beziers
from trace2pop.geometry.corners import ARM, Indices, Spans, find_corners, resampled, spans_of
from trace2pop.geometry.crossing import uncrossed
from trace2pop.geometry.fitting import STEP, fit_closed, fit_spans
from trace2pop.model.artwork import MirrorAxis
from trace2pop.model.outline import Contour, FloatArray, Outline

_SPACING = 0.15
_TURN_MM = 1.5
"""How many mm of distance a radian's difference in direction counts as."""

_PAIRED = 0.3
_SQUARE_DEG = 8.0
_CLOSER = (1.0, 0.5, 0.25)


def evened_outline(outline: Outline, axis: MirrorAxis, tolerance: float) -> Outline:
    """Return ``outline`` with both halves the mean of the two, exact mirror images.

    Points of the halves are matched by dynamic time warping over place and direction, so that
    corners meet corners. Holes on the axis are treated alike; those beside it are paired across
    it, and one without a partner gets its mirror image. Where that crosses itself it is fitted
    closer; halves that cross each other may be left.
    """
    for share in _CLOSER:
        even = _evened(outline, axis, share * tolerance)
        if uncrossed(even):
            break
    return even


def _evened(outline: Outline, axis: MirrorAxis, tolerance: float) -> Outline:
    turn = np.radians(axis.tilt_deg)
    across = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    shift = across @ np.array(axis.point)
    ahead = np.column_stack([across, -shift])
    back = np.column_stack([across.T, axis.point])
    outer = _on_axis(beziers.transform(outline.outer, ahead), tolerance)
    holes = _holes([beziers.transform(hole, ahead) for hole in outline.holes], tolerance)
    return Outline(
        beziers.transform(outer, back), tuple(beziers.transform(hole, back) for hole in holes)
    )


def _holes(holes: list[Contour], tolerance: float) -> list[Contour]:
    """Return the holes made even; x is the distance from the axis."""
    found = []
    beside = []
    for hole in holes:
        left, _, right, _ = beziers.bounds(hole)
        if left < 0 < right:
            found.append(_on_axis(hole, tolerance))
        else:
            beside.append(hole)
    rights = [hole for hole in beside if hole[:, 0, 0].mean() > 0]
    lefts = [_flipped(hole) for hole in beside if hole[:, 0, 0].mean() < 0]
    while rights:
        one = rights.pop(0)
        overlaps = [_overlap(one, other) for other in lefts]
        if overlaps and max(overlaps) > _PAIRED:
            one = _mean_ring(one, lefts.pop(int(np.argmax(overlaps))), tolerance)
        found += [one, _flipped(one)]
    for one in lefts:
        found += [one, _flipped(one)]
    return found


def _flipped(contour: Contour) -> Contour:
    """Return a contour mirrored at the axis, run the same way round as before."""
    mirrored: Contour = contour * (-1, 1)
    return beziers.reverse(mirrored)


def _overlap(one: Contour, other: Contour) -> float:
    a, b = (shapely.Polygon(beziers.flatten(ring, 0.02)) for ring in (one, other))
    both = a.intersection(b).area
    return float(both / (a.area + b.area - both))


def _mean_ring(one: Contour, other: Contour, tolerance: float) -> Contour:
    first, second = (_from_the_head(_points(ring)) for ring in (one, other))
    return fit_closed(_mean(first, second)[:-1], tolerance)


def _from_the_head(points: FloatArray) -> FloatArray:
    ring = np.roll(points, -int(points[:, 1].argmin()), axis=0)
    return np.vstack([ring, ring[:1]])


def _points(contour: Contour) -> FloatArray:
    """Return points (n, 2) at most ``_SPACING`` apart, every node among them, none doubled."""
    reach = np.hypot(*np.diff(contour, axis=1).sum(axis=1).T)
    counts = np.maximum(1, np.ceil(1.2 * reach / _SPACING)).astype(int)
    owner = np.repeat(np.arange(len(contour)), counts)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    return beziers.evaluate(contour[owner], step / counts[owner])


def _on_axis(contour: Contour, tolerance: float) -> Contour:
    """Return a contour that crosses the axis x = 0 with both its sides the mean of the two."""
    points = _points(contour)
    x = points[:, 0]
    after = np.roll(points, -1, axis=0)
    crossings = np.flatnonzero((x < 0) != (after[:, 0] < 0))
    share = (x[crossings] / (x[crossings] - after[crossings, 0]))[:, None]
    places = points[crossings] + share * (after[crossings] - points[crossings])
    head, tail = int(places[:, 1].argmin()), int(places[:, 1].argmax())
    sides = [
        _run(points, places, crossings, head, tail),
        _run(points, places, crossings, tail, head)[::-1],
    ]
    right, left = sorted(sides, key=lambda side: -float(side[:, 0].mean()))
    half = _mean(right, left * (-1, 1))
    half[[0, -1], 0] = 0
    chain = _fitted_half(half, tolerance)
    whole = np.concatenate([chain, _flipped(chain)])
    return whole if right is sides[0] else beziers.reverse(whole)


def _run(
    points: FloatArray, places: FloatArray, crossings: Indices, start: int, end: int
) -> FloatArray:
    """Return the points from one crossing of the axis to another, along the contour."""
    count = int(crossings[end] - crossings[start]) % len(points)
    index = (crossings[start] + 1 + np.arange(count)) % len(points)
    return np.vstack([places[start], points[index], places[end]])


def _mean(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return the mean (k, 2) of two open lines (n, 2), (m, 2) along their best matching."""
    rows, cols = _matched(_cost(one, other))
    middle = (one[rows] + other[cols]) / 2
    moved = np.hypot(*np.diff(middle, axis=0).T) > 1e-6
    result: FloatArray = middle[np.concatenate([[True], moved])]
    return result


def _cost(one: FloatArray, other: FloatArray) -> FloatArray:
    angles = [np.arctan2(*np.gradient(line, axis=0).T[::-1]) for line in (one, other)]
    turn = np.angle(np.exp(1j * (angles[0][:, None] - angles[1][None])))
    far = ((one[:, None] - other[None]) ** 2).sum(axis=2)
    result: FloatArray = far + (_TURN_MM * turn) ** 2
    return result


def _matched(cost: FloatArray) -> tuple[Indices, Indices]:
    """Return the pairs (k,), (k,) of the cheapest monotone matching, by dynamic time warping.

    The table is filled one diagonal at a time. Source: Sakoe and Chiba, Dynamic programming
    algorithm optimization for spoken word recognition, IEEE Trans. ASSP 26 (1978), symmetric form.
    """
    n, m = cost.shape
    total = np.full((n + 1, m + 1), np.inf)
    total[0, 0] = 0.0
    for diagonal in range(2, n + m + 1):
        i = np.arange(max(1, diagonal - m), min(n, diagonal - 1) + 1)
        j = diagonal - i
        here = cost[i - 1, j - 1]
        straight = np.minimum(total[i - 1, j], total[i, j - 1]) + here
        total[i, j] = np.minimum(straight, total[i - 1, j - 1] + 2 * here)
    i, j = n, m
    pairs = [(i - 1, j - 1)]
    while i > 1 or j > 1:
        here = cost[i - 1, j - 1]
        steps = (
            (total[i - 1, j - 1] + 2 * here, i - 1, j - 1),
            (total[i - 1, j] + here, i - 1, j),
            (total[i, j - 1] + here, i, j - 1),
        )
        _, i, j = min(steps)
        pairs.append((i - 1, j - 1))
    rows, cols = np.array(pairs[::-1]).T
    return rows, cols


def _fitted_half(half: FloatArray, tolerance: float) -> Contour:
    """Return cubics along a half line whose ends lie on the axis, square to it where smooth."""
    mirrored = half[-2:0:-1] * (-1, 1)
    even = resampled(np.vstack([half, mirrored]), STEP)
    turn = int(np.argmin(np.hypot(*(even - half[-1]).T)))
    run = even[: turn + 1].copy()
    run[[0, -1]] = half[[0, -1]]
    ring = np.vstack([run, run[-2:0:-1] * (-1, 1)])
    corners, tips = find_corners(ring)
    inner = (corners > ARM) & (corners < turn - ARM)
    near = [np.flatnonzero((corners + ARM) % len(ring) <= 2 * ARM),
            np.flatnonzero(np.abs(corners - turn) <= ARM)]  # fmt: skip
    ends = []
    for place, found in zip((run[0], run[-1]), near, strict=True):
        end = tips[found[0]] if len(found) else place
        ends.append(np.array([0.0, end[1]]))
    beyond = corners > turn + ARM
    index = np.concatenate([[0], corners[inner], [turn], corners[beyond]])
    place = np.vstack([ends[0], tips[inner], ends[1], tips[beyond]])
    spans = spans_of(ring, index, place)
    count = int(inner.sum()) + 1
    size = int(spans.last[count - 1]) + 1
    part = Spans(
        spans.points[:size], spans.tangents[:size], spans.first[:count], spans.last[:count], False
    )
    return _squared(fit_spans(part, tolerance))


def _squared(chain: Contour) -> Contour:
    """Return a half's chain with its end handles square to the axis where they nearly are."""
    chain = chain.copy()
    for end, handle in ((chain[0, 0], chain[0, 1]), (chain[-1, 3], chain[-1, 2])):
        off = handle - end
        if abs(np.degrees(np.arctan2(off[1], abs(off[0])))) < _SQUARE_DEG:
            handle[:] = end + np.array([np.copysign(np.hypot(*off), off[0]), 0.0])
    return chain
