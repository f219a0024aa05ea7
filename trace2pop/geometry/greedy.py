"""The longest cubics that hold a tolerance, for all spans of a contour at once."""

import numpy as np

from trace2pop.geometry.corners import Indices, Spans
from trace2pop.model.outline import Contour, FloatArray

POINTS = 24
"""Samples a cubic is fitted to, spread evenly over its run."""

_TRIALS = 6
"""Lengths tried at once for each span."""

_REFITS = 2


def longest_runs(spans: Spans, tolerance: float) -> tuple[Indices, Indices]:
    """Return where each cubic's run of samples starts and ends, (k,) each, in order.

    From each span's start the longest run is taken whose cubic, its end tangents given, stays
    within ``tolerance``; the search narrows a geometric ladder of lengths, all spans side by side.
    """
    place = spans.first.copy()
    starts: list[Indices] = []
    ends: list[Indices] = []
    while True:
        active = np.flatnonzero(place < spans.last)
        if not len(active):
            break
        here = place[active]
        run = _longest(spans, here, spans.last[active] - here, tolerance)
        starts.append(here)
        ends.append(here + run)
        place[active] = here + run
    start, end = np.concatenate(starts), np.concatenate(ends)
    order = np.argsort(start)
    return start[order], end[order]


def _longest(spans: Spans, start: Indices, room: Indices, tolerance: float) -> Indices:
    """Return for each start the longest good run, at least one sample, at most ``room``."""
    good = np.ones(len(start), np.int64)
    bad = room + 1
    first = True
    while True:
        open_ = np.flatnonzero(bad - good > np.maximum(1, good // 24))
        if not len(open_):
            return good
        low, high = good[open_], bad[open_]
        share = np.arange(1, _TRIALS + 1) / (_TRIALS + 1)
        floor = np.maximum(low, 6) if first else low
        ladder = floor[:, None] * (high / floor)[:, None] ** share
        lengths = np.clip(
            np.round(ladder).astype(np.int64), (low + 1)[:, None], (high - 1)[:, None]
        )
        if first:
            lengths[:, -1] = room[open_]  # most spans between corners are one cubic
            first = False
        begin = np.repeat(start[open_], _TRIALS)
        error = fitted(spans, begin, begin + lengths.ravel())[1].reshape(lengths.shape)
        holds = error <= tolerance
        good[open_] = np.maximum(low, np.where(holds, lengths, 0).max(axis=1))
        fails = np.where(~holds & (lengths > good[open_][:, None]), lengths, high[:, None])
        bad[open_] = fails.min(axis=1)


def fitted(spans: Spans, start: Indices, end: Indices) -> tuple[Contour, FloatArray]:
    """Return the least-squares cubics (k, 4, 2) of runs, and each one's largest deviation (k,)."""
    points = spread(spans.points, start, end)
    out, back = spans.tangents[start], -spans.tangents[end]
    steps = np.hypot(*np.moveaxis(np.diff(points, axis=1), 2, 0))
    t = np.concatenate([np.zeros((len(start), 1)), np.cumsum(steps, axis=1)], axis=1)
    t /= np.maximum(t[:, -1:], 1e-12)
    cubics = _with_handles(points, t, out, back)
    for _ in range(_REFITS):
        t = nearer(cubics, points, t)
        cubics = _with_handles(points, t, out, back)
    t = nearer(cubics, points, t)
    off = evaluated(cubics, t) - points
    return cubics, np.sqrt((off * off).sum(axis=2).max(axis=1))


def spread(points: FloatArray, start: Indices, end: Indices, count: int = POINTS) -> FloatArray:
    """Return ``count`` points (k, count, 2) spread over each run, ends included."""
    share = np.linspace(0, 1, count)
    index = np.round(start[:, None] + (end - start)[:, None] * share).astype(np.int64)
    result: FloatArray = points[index]
    return result


def _with_handles(points: FloatArray, t: FloatArray, out: FloatArray, back: FloatArray) -> Contour:
    """Return the cubics whose handle lengths bring them closest to ``points`` at ``t``."""
    first, last = points[:, 0], points[:, -1]
    s = 1 - t
    b1, b2 = 3 * s * s * t, 3 * s * t * t
    b0, b3 = s * s * s, t * t * t
    rest = points - (b0 + b1)[..., None] * first[:, None] - (b2 + b3)[..., None] * last[:, None]
    c00, c11 = (b1 * b1).sum(axis=1), (b2 * b2).sum(axis=1)
    c01 = (b1 * b2).sum(axis=1) * (out * back).sum(axis=1)
    x0 = (b1 * (rest @ out[..., None])[..., 0]).sum(axis=1)
    x1 = (b2 * (rest @ back[..., None])[..., 0]).sum(axis=1)
    det = c00 * c11 - c01 * c01
    reach = np.hypot(*(last - first).T)
    sound = det > 1e-9 * np.maximum(c00 * c11, 1e-30)
    det = np.where(sound, det, 1)
    a, b = (c11 * x0 - c01 * x1) / det, (c00 * x1 - c01 * x0) / det
    # Handles that point backwards or run far past the other end make loops.
    low, high = 0.02 * reach, 1.5 * reach
    a = np.where(sound & (a > low) & (a < high), a, reach / 3)
    b = np.where(sound & (b > low) & (b < high), b, reach / 3)
    return np.stack([first, first + a[:, None] * out, last + b[:, None] * back, last], axis=1)


def evaluated(cubics: Contour, t: FloatArray) -> FloatArray:
    """Return points (k, m, 2) of cubics (k, 4, 2) at parameters (k, m)."""
    a, b, c, d = _powers(cubics)
    u = t[..., None]
    result: FloatArray = ((a * u + b) * u + c) * u + d
    return result


def _powers(cubics: Contour) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    start, first, second, end = np.moveaxis(cubics[:, None], 2, 0)
    return (
        end - 3 * second + 3 * first - start,
        3 * (second - 2 * first + start),
        3 * (first - start),
        start,
    )


def nearer(cubics: Contour, points: FloatArray, t: FloatArray) -> FloatArray:
    """Return parameters (k, m) one Newton step nearer to those of the closest points."""
    a, b, c, d = _powers(cubics)
    u = t[..., None]
    off = ((a * u + b) * u + c) * u + d - points
    slope = (3 * a * u + 2 * b) * u + c
    bend = 6 * a * u + 2 * b
    down = (slope * slope).sum(axis=2) + (off * bend).sum(axis=2)
    step = (off * slope).sum(axis=2) / np.where(np.abs(down) > 1e-12, down, np.inf)
    result: FloatArray = np.clip(t - np.clip(step, -0.2, 0.2), 0.0, 1.0)
    return result
