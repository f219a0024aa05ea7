"""Corners of a dense contour, and the smooth spans between them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trace2pop.model.outline import FloatArray

CORNER_DEG = 30.0
ARM = 12
"""Samples in a corner's arm."""

ARM_GAP = 2
"""Samples next to a corner left out of its arms, where blur has rounded it."""

_NEEDLE_DEG = 130.0
_MOVE = 7.0
"""Farthest a corner's tip is put outside the rounded contour, in steps; twice that for needles."""

_BESIDE = 3
"""Samples a corner's tip may lie beside the sharpest turn: less than half of the least gap."""

_ROUNDED, _MARGIN = 1.6, 1.5
"""Steps by which blur shortens a wedge, times the tangent of half its angle; and some to spare."""

_KEPT = 0.45
"""Share of a turn that must be left when the arms' own bending is taken out: else it is a bow."""

Indices = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Spans:
    """Runs of samples from corner to corner, one after the other.

    ``points`` (n, 2) and unit ``tangents`` (n, 2); span k holds first[k] .. last[k], both included.
    ``smooth`` tells that the one span is a whole contour without corners.
    """

    points: FloatArray
    tangents: FloatArray
    first: Indices
    last: Indices
    smooth: bool


def resampled(points: FloatArray, step: float) -> FloatArray:
    """Return points (m, 2) evenly spaced by about ``step`` along a closed polyline (n, 2)."""
    ring = np.vstack([points, points[:1]])
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
    count = max(8, round(length[-1] / step))
    at = np.linspace(0, length[-1], count, endpoint=False)
    return np.column_stack([np.interp(at, length, ring[:, axis]) for axis in (0, 1)])


_NOWHERE = np.empty((0, 2))


def find_corners(samples: FloatArray, blunt: FloatArray = _NOWHERE) -> tuple[Indices, FloatArray]:
    """Return the indices (k,) of the corners of an even closed contour and their tips (k, 2).

    Two arms leave each sample. Where their directions turn by more than ``CORNER_DEG``, at full and
    at half length, no neighbour turns more, and parabolas through the arms turn nearly as much when
    drawn on to the sample (a bow's don't), there is a corner. Its tip is where the half arms' lines
    cross, if that is near: the picture's blur has cut it off. Near the places ``blunt`` (m, 2) it
    is the sample itself, as the true tip lies behind another part of the outline there.
    """
    half = ARM // 2
    full = np.minimum(_turn(samples, ARM), _turn(samples, half) / 0.72)
    reach = np.arange(-ARM + 2, ARM - 1)
    around = full[(np.arange(len(full))[:, None] + reach) % len(full)]
    peak = np.flatnonzero((full >= np.radians(CORNER_DEG)) & (full >= around.max(axis=1)))
    peak = peak[_turn_drawn_on(samples, peak) >= np.maximum(_KEPT * full[peak], np.radians(18))]
    if len(peak) > 1:
        gap = np.diff(np.append(peak, peak[0] + len(samples)))
        peak = peak[gap > half]
    tips = _tips(samples, peak, full[peak])
    if len(blunt):
        reach = 2 * _MOVE * np.hypot(*(samples[1] - samples[0]))
        off = np.hypot(*np.moveaxis(tips[:, None] - blunt, 2, 0)).min(axis=1)
        tips = np.where((off < reach)[:, None], samples[peak], tips)
    return _nearest(samples, peak, tips), tips


def _arm(samples: FloatArray, at: Indices, length: int, side: int) -> FloatArray:
    """Return the samples (k, m, 2) of the arm on one side of each index."""
    offset = side * np.arange(ARM_GAP, length + 1)
    arm: FloatArray = samples[(at[:, None] + offset) % len(samples)]
    return arm


def _turn(samples: FloatArray, length: int) -> FloatArray:
    """Return by how much the arms' regression lines turn at each sample, in radians."""
    weight = np.arange(ARM_GAP, length + 1) - (ARM_GAP + length) / 2
    kernel = np.zeros(2 * length + 1)
    kernel[length + ARM_GAP :] = weight
    extended = np.concatenate([samples[-length:], samples, samples[:length]])
    leaving, arriving = (
        np.column_stack([np.convolve(extended[:, axis], flip, "valid") for axis in (0, 1)])
        for flip in (kernel[::-1], -kernel)
    )
    return _angle(arriving, leaving)


def _angle(one: FloatArray, other: FloatArray) -> FloatArray:
    cross = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]
    turn: FloatArray = np.abs(np.arctan2(cross, (one * other).sum(axis=1)))
    return turn


def _turn_drawn_on(samples: FloatArray, at: Indices) -> FloatArray:
    """Return the turn between the parabolas of both arms, drawn on to the sample, in radians."""
    offset = np.arange(ARM_GAP, ARM + 1, dtype=float)
    slope = np.linalg.pinv(np.stack([np.ones_like(offset), offset, offset**2], axis=1))[1]
    leaving = np.einsum("m,kmd->kd", slope, _arm(samples, at, ARM, 1))
    arriving = -np.einsum("m,kmd->kd", slope, _arm(samples, at, ARM, -1))
    return _angle(arriving, leaving)


def _tips(samples: FloatArray, at: Indices, turn: FloatArray) -> FloatArray:
    """Return where the lines through each corner's arms cross, (k, 2)."""
    here = samples[at]
    needle = turn > np.radians(_NEEDLE_DEG)
    tips = here.copy()
    for chosen, length, reach in ((~needle, ARM // 2 + 2, 1.0), (needle, ARM, 2.0)):
        some = np.flatnonzero(chosen)
        if not len(some):
            continue
        (p, u), (q, v) = (_line(_arm(samples, at[some], length, side)) for side in (-1, 1))
        cross = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
        between = q - p
        along = between[:, 0] * v[:, 1] - between[:, 1] * v[:, 0]
        safe = np.abs(cross) > 0.1
        crossing = p + u * (along / np.where(safe, cross, 1))[:, None]
        step = np.hypot(*(samples[1] - samples[0]))
        blurred = _MARGIN + _ROUNDED / np.tan((np.pi - turn[some]) / 2).clip(1e-3)
        near = np.hypot(*(crossing - here[some]).T) < np.minimum(_MOVE * reach, blurred) * step
        tips[some] = np.where((safe & near)[:, None], crossing, here[some])
    return tips


def _nearest(samples: FloatArray, at: Indices, tips: FloatArray) -> Indices:
    """Return the samples (k,) nearest to the tips, which may lie a few beside the sharpest turn."""
    around = (at[:, None] + np.arange(-_BESIDE, _BESIDE + 1)) % len(samples)
    off = samples[around] - tips[:, None]
    result: Indices = around[np.arange(len(at)), (off * off).sum(axis=2).argmin(axis=1)]
    return result


def _line(arm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return middle and direction, (k, 2) each, of the total least-squares lines of (k, m, 2)."""
    middle = arm.mean(axis=1)
    off = arm - middle[:, None]
    spread = np.einsum("kmi,kmj->kij", off, off)
    angle = 0.5 * np.arctan2(2 * spread[:, 0, 1], spread[:, 0, 0] - spread[:, 1, 1])
    return middle, np.column_stack([np.cos(angle), np.sin(angle)])


def spans_of(samples: FloatArray, corners: Indices, tips: FloatArray) -> Spans:
    """Return the spans between corners, the tips standing for the samples the blur has rounded."""
    if len(corners) == 0:
        start = int(np.argmin(_turn(samples, ARM)))
        points = np.roll(samples, -start, axis=0)
        points = np.vstack([points, points[:1]])
        ends = np.array([0]), np.array([len(points) - 1])
        wide = np.concatenate([points[-_WINDOW:-1], points, points[1:_WINDOW]])
        outer = np.array([0]), np.array([len(wide) - 1])
        tangents = _tangents(wide, *outer)[_WINDOW - 1 : len(wide) - _WINDOW + 1]
        return Spans(points, tangents, *ends, smooth=True)
    parts, counts = [], []
    for number, start in enumerate(corners):
        following = (number + 1) % len(corners)
        count = int(corners[following] - start) % len(samples) or len(samples)
        run = samples[(start + np.arange(count + 1)) % len(samples)]
        cut = ARM_GAP if count > 4 * ARM_GAP else 1
        parts += [tips[number : number + 1], run[cut:-cut], tips[following : following + 1]]
        counts.append(count + 3 - 2 * cut)
    points = np.vstack(parts)
    last = np.cumsum(counts) - 1
    first = last - np.array(counts) + 1
    return Spans(points, _tangents(points, first, last), first, last, smooth=False)


_WINDOW = 13


def _tangents(points: FloatArray, first: Indices, last: Indices) -> FloatArray:
    """Return unit tangents (n, 2) from parabolas through windows that stay inside each span."""
    slope = np.empty_like(points)
    owner = np.repeat(np.arange(len(first)), last - first + 1)
    index = np.arange(len(points))
    low, high = first[owner] + 1, last[owner] - 1  # the tips are no measured points
    for window in (_WINDOW, 5):
        fits = high - low + 1 >= window
        if window == 5:
            fits &= high - low + 1 < _WINDOW
        some = index[fits]
        if not len(some):
            continue
        start = np.clip(some - window // 2, low[some], high[some] - window + 1)
        weights = _slopes(window)[some - start + 1]
        around = points[start[:, None] + np.arange(window)]
        slope[some] = np.einsum("km,kmd->kd", weights, around)
    few = high - low + 1 < 5
    slope[few] = (points[last] - points[first])[owner[few]]
    unit: FloatArray = slope / np.maximum(np.hypot(*slope.T), 1e-12)[:, None]
    return unit


def _slopes(window: int) -> FloatArray:
    """Return the weights of a parabola's slope one before, at each, and one after its samples."""
    at = np.arange(window, dtype=float)
    inverse = np.linalg.pinv(np.stack([np.ones_like(at), at, at**2], axis=1))
    place = np.arange(-1, window + 1, dtype=float)[:, None]
    slopes: FloatArray = inverse[1] + 2 * place * inverse[2]
    return slopes
