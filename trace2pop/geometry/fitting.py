"""Few cubic Beziers through the many points of a contour: corners sharp, smooth joins smooth."""

from dataclasses import dataclass

import numpy as np

from trace2pop.geometry import beziers
from trace2pop.model.outline import Contour, FloatArray

STEP = 0.05
"""Spacing in mm at which contours are resampled before anything is measured on them."""

CORNER_DEG = 32.0
_ARM = 12
"""Samples in a corner's arm (0.6 mm)."""

_ARM_GAP = 2
"""Samples next to a corner left out of its arms, where blur has rounded it."""

_MOVE = 0.35
"""Farthest a corner's tip is put outside the rounded contour, mm."""

_REFITS = 4
_FIRST_GUESS = 80


def fit_closed(points: FloatArray, tolerance: float) -> Contour:
    """Return a closed chain of cubic Beziers within about ``tolerance`` of a closed contour.

    ``points`` (n, 2) in mm, densely spaced, the first not repeated. Spans between corners are
    fitted greedily with the longest cubic that holds the tolerance; joins inside a span share
    their tangent.
    """
    samples = resampled(points, STEP)
    if len(samples) < 4 * _ARM:
        return _tiny(samples)
    corners, tips = find_corners(samples)
    chain = []
    for span in _spans(samples, corners, tips):
        chain += _fit_span(span, tolerance)
    return np.array(chain)


def resampled(points: FloatArray, step: float) -> FloatArray:
    """Return points (m, 2) evenly spaced by about ``step`` along a closed polyline."""
    ring = np.vstack([points, points[:1]])
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(ring, axis=0), axis=1))])
    count = max(8, round(length[-1] / step))
    at = np.linspace(0, length[-1], count, endpoint=False)
    return np.column_stack([np.interp(at, length, ring[:, axis]) for axis in (0, 1)])


def _tiny(samples: FloatArray) -> Contour:
    """Return a contour too small for corners: four smooth cubics through it."""
    nodes = samples[np.linspace(0, len(samples), 4, endpoint=False).astype(int)]
    tangent = (np.roll(nodes, -1, axis=0) - np.roll(nodes, 1, axis=0)) / 6 * 1.1
    after = np.roll(nodes, -1, axis=0)
    return np.stack([nodes, nodes + tangent, after - np.roll(tangent, -1, axis=0), after], axis=1)


def find_corners(samples: FloatArray) -> tuple[np.ndarray, FloatArray]:
    """Return the indices (k,) of the corners of a closed contour and their sharp tips (k, 2).

    Two arms leave each sample; where their directions turn by more than ``CORNER_DEG``, at full and
    at half length, and no neighbour turns more, there is a corner. Its tip is where the half arms'
    lines cross, if that is near.
    """
    full = np.minimum(_turn(samples, _ARM), _turn(samples, _ARM // 2) / 0.72)
    reach = np.arange(-_ARM + 2, _ARM - 1)
    around = full[(np.arange(len(full))[:, None] + reach) % len(full)]
    peak = (full >= np.radians(CORNER_DEG)) & (full >= around.max(axis=1))
    indices = np.flatnonzero(peak)
    if len(indices) > 1:
        gap = np.diff(np.append(indices, indices[0] + len(samples)))
        indices = indices[gap > _ARM // 2]
    return indices, np.array([_tip(samples, int(index)) for index in indices]).reshape(-1, 2)


def _arms(samples: FloatArray, length: int) -> tuple[FloatArray, FloatArray]:
    """Return the directions (n, 2) of the arms arriving at and leaving each sample."""
    offset = np.arange(_ARM_GAP, length + 1)
    weight = offset - offset.mean()
    index = np.arange(len(samples))[:, None]
    leaving = np.einsum("k,nkd->nd", weight, samples[(index + offset) % len(samples)])
    arriving = np.einsum("k,nkd->nd", -weight, samples[(index - offset) % len(samples)])
    return arriving, leaving


def _turn(samples: FloatArray, length: int) -> FloatArray:
    arriving, leaving = _arms(samples, length)
    cross = arriving[:, 0] * leaving[:, 1] - arriving[:, 1] * leaving[:, 0]
    turn: FloatArray = np.abs(np.arctan2(cross, np.sum(arriving * leaving, axis=1)))
    return turn


def _tip(samples: FloatArray, index: int) -> FloatArray:
    half = _ARM // 2
    offset = np.arange(_ARM_GAP, half + 3)
    leaving = samples[(index + offset) % len(samples)]
    arriving = samples[(index - offset) % len(samples)]
    here: FloatArray = samples[index]
    first, second = _regression(arriving), _regression(leaving)
    matrix = np.column_stack([first[1], -second[1]])
    if abs(np.linalg.det(matrix)) < 0.2:
        return here
    crossing: FloatArray = first[0] + first[1] * np.linalg.solve(matrix, second[0] - first[0])[0]
    return crossing if np.linalg.norm(crossing - here) < _MOVE else here


def _regression(points: FloatArray) -> tuple[FloatArray, FloatArray]:
    middle = points.mean(axis=0)
    return middle, np.linalg.svd(points - middle)[2][0]


@dataclass(frozen=True, eq=False)
class _Span:
    """An open run of samples (n, 2) from corner to corner, with unit tangents (n, 2) along it."""

    points: FloatArray
    tangents: FloatArray


def _spans(samples: FloatArray, corners: np.ndarray, tips: FloatArray) -> list[_Span]:
    if len(corners) == 0:
        start = int(np.argmax(_turn(samples, _ARM)))
        ring = np.roll(samples, -start, axis=0)
        tangents = _tangents(ring, wrap=True)
        return [_Span(np.vstack([ring, ring[:1]]), np.vstack([tangents, tangents[:1]]))]
    spans = []
    for number, start in enumerate(corners):
        end = corners[(number + 1) % len(corners)]
        count = (end - start) % len(samples) or len(samples)
        run = samples[(start + np.arange(count + 1)) % len(samples)]
        # Blur rounds the contour next to a corner; the tip stands for what was drawn.
        keep = slice(_ARM_GAP, len(run) - _ARM_GAP) if len(run) > 4 * _ARM_GAP else slice(1, -1)
        points = np.vstack([tips[number], run[keep], tips[(number + 1) % len(corners)]])
        spans.append(_Span(points, _tangents(points, wrap=False)))
    return spans


_WINDOW = 13
"""Samples (0.6 mm) that a tangent is measured on."""


def _tangents(points: FloatArray, *, wrap: bool) -> FloatArray:
    """Return unit tangents (n, 2): slopes of least-squares parabolas through ``_WINDOW`` samples.

    In the middle of its window a parabola's slope is the regression line's (Savitzky and Golay
    1964). Near the ends of an open run the end window's parabola serves.
    """
    window = min(_WINDOW, len(points) - (1 - len(points) % 2))
    if window < 5:
        slope = np.gradient(points, axis=0)
    else:
        half = window // 2
        offset = np.arange(-half, half + 1.0)
        run = np.pad(points, ((half, half), (0, 0)), mode="wrap" if wrap else "edge")
        weight = offset[::-1] / (offset @ offset)
        slope = np.column_stack([np.convolve(run[:, axis], weight, "valid") for axis in (0, 1)])
        if not wrap:
            slope[:half] = _parabola_slopes(points[:window], offset)[:half]
            slope[-half:] = _parabola_slopes(points[-window:], offset)[-half:]
    length = np.linalg.norm(slope, axis=1, keepdims=True)
    result: FloatArray = slope / np.maximum(length, 1e-12)
    return result


def _parabola_slopes(points: FloatArray, offset: FloatArray) -> FloatArray:
    factors = np.polyfit(offset, points, 2)
    result: FloatArray = 2 * np.outer(offset, factors[0]) + factors[1]
    return result


def _fit_span(span: _Span, tolerance: float) -> list[FloatArray]:
    """Return the cubics of one span, each the longest that holds the tolerance."""
    chain = []
    start, last = 0, len(span.points) - 1
    guess = _FIRST_GUESS
    while start < last:
        end, cubic = _longest(span, start, last, guess, tolerance)
        chain.append(cubic)
        guess, start = max(8, end - start), end
    return chain


def _longest(
    span: _Span, start: int, last: int, guess: int, tolerance: float
) -> tuple[int, FloatArray]:
    """Return the end and cubic of the longest fitting run: doubling first, then halving."""
    good, best = 0, _fit(span, start, min(start + 1, last))[0]
    length, too_long = min(guess, last - start), last - start + 1
    while True:
        cubic, error = _fit(span, start, start + length)
        if error <= tolerance:
            good, best = length, cubic
            if length == last - start:
                break
            length = min(2 * length, last - start)
            if length >= too_long:
                break
        else:
            too_long = length
            break
    while too_long - good > max(2, good // 24):
        length = (good + too_long) // 2
        cubic, error = _fit(span, start, start + length)
        if error <= tolerance:
            good, best = length, cubic
        else:
            too_long = length
    # A few samples always fit: two points define a line.
    return start + max(good, 1), best


def _fit(span: _Span, start: int, end: int) -> tuple[FloatArray, float]:
    """Return the least-squares cubic with given ends and tangents, and its largest distance."""
    points = span.points[start : end + 1]
    first, last = points[0], points[-1]
    if len(points) <= 3:
        return beziers.straight([first, last], closed=False)[0], 0.0
    stride = max(1, len(points) // 48)
    some = points[::stride] if stride > 1 else points
    out, back = span.tangents[start], -span.tangents[end]
    chord = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(some, axis=0), axis=1))])
    whole = chord[-1] + float(np.linalg.norm(last - some[-1]))
    t = chord / whole
    cubic = _with_handles(first, last, out, back, some, t)
    for _ in range(_REFITS):
        t = nearest_parameters(cubic, some, t)
        cubic = _with_handles(first, last, out, back, some, t)
    t = nearest_parameters(cubic, some, t)
    off = beziers.evaluate(np.broadcast_to(cubic, (len(t), 4, 2)), t) - some
    return cubic, float(np.sqrt((off * off).sum(axis=1).max()))


def _with_handles(
    first: FloatArray,
    last: FloatArray,
    out: FloatArray,
    back: FloatArray,
    points: FloatArray,
    t: FloatArray,
) -> FloatArray:
    """Return the cubic whose handle lengths bring it closest to ``points`` at ``t``."""
    s = 1 - t
    b0, b1, b2, b3 = s**3, 3 * s * s * t, 3 * s * t * t, t**3
    rest = points - np.outer(b0 + b1, first) - np.outer(b2 + b3, last)
    c00, c11 = b1 @ b1, b2 @ b2
    c01 = (b1 @ b2) * float(out @ back)
    x0, x1 = float((b1 @ rest) @ out), float((b2 @ rest) @ back)
    det = c00 * c11 - c01 * c01
    reach = float(np.linalg.norm(last - first))
    usual = reach / 3
    a = b = usual
    if det > 1e-12 * c00 * c11:
        a = float(c11 * x0 - c01 * x1) / float(det)
        b = float(c00 * x1 - c01 * x0) / float(det)
    # Handles that point backwards or run far past the other end make loops.
    low, high = 0.02 * reach, 3.0 * reach
    a = a if low < a < high else usual
    b = b if low < b < high else usual
    return np.stack([first, first + a * out, last + b * back, last])


def nearest_parameters(cubic: FloatArray, points: FloatArray, t: FloatArray) -> FloatArray:
    """Return the parameters of the curve's points nearest to ``points``: one Newton step from t."""
    start, first, second, end = cubic
    a = end - 3 * second + 3 * first - start
    b = 3 * (second - 2 * first + start)
    c = 3 * (first - start)
    u = t[:, None]
    off = ((a * u + b) * u + c) * u + start - points
    d1 = (3 * a * u + 2 * b) * u + c
    d2 = 6 * a * u + 2 * b
    numerator = np.sum(off * d1, axis=1)
    denominator = np.sum(d1 * d1, axis=1) + np.sum(off * d2, axis=1)
    step = np.where(np.abs(denominator) > 1e-12, numerator / denominator, 0.0)
    return np.clip(t - step, 0.0, 1.0)
