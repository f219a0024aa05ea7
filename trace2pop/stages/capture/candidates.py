"""Quads in a photo that may be a bright sheet on a darker table.

Two ways of looking, since each fails where the other holds: regions (thresholds on brightness and
colour) lose the sheet where a shadow or a second pale thing lies across its edge; lines (a Hough
transform that knows which side of an edge is the brighter) lose it where the lens bends strongly.
"""

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from trace2pop.model.outline import FloatArray

_SMALL_PX = 700
_MIN_SHARE = 0.12
"""Of the picture, that the sheet must cover."""

_OUTSIDE = 0.07
"""Of the picture's sides, that a corner may lie outside it."""

_TURN_BINS = 180
_RHO_PX = 4.0
_MOST_LINES = 36
_MOST_QUADS = 6
_SLACK_DEG = 28.0
"""How far perspective may turn sides against each other."""

_SAMPLES = 40
_BESIDE_PX = 4.0
_STEP = 5.0
_MIN_SIDE = 0.6

Plane = NDArray[np.float32]


def candidate_quads(rgb: NDArray[np.uint8]) -> Iterator[FloatArray]:
    """Yield quads (4, 2) px that may be the sheet, clockwise from the head-left corner."""
    factor = _SMALL_PX / max(rgb.shape[:2])
    small = cv2.resize(rgb, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), 1.5)
    value = small.max(axis=2)
    saturation = value - small.min(axis=2)
    pale = cv2.subtract(value, saturation)
    seen: list[FloatArray] = []
    near = 0.01 * _SMALL_PX
    for quad in (*_line_quads(pale), *_region_quads((pale, value, 255 - saturation))):
        if all(np.abs(quad - other).max() > near for other in seen):
            seen.append(quad)
            yield quad / factor


def _region_quads(channels: tuple[NDArray[np.uint8], ...]) -> Iterator[FloatArray]:
    for channel in channels:
        otsu, _ = cv2.threshold(channel, 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
        for share in (1.0, 0.8, 0.65, 1.15):
            quad = _largest_quad(channel > otsu * share)
            if quad is not None:
                yield quad


def _largest_quad(mask: NDArray[np.bool_]) -> FloatArray | None:
    closed = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((9, 9), np.uint8))
    contours, _ = cv2.findContours(closed, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not contours:
        return None
    hull = cv2.convexHull(max(contours, key=cv2.contourArea))
    area = cv2.contourArea(hull)
    if area < _MIN_SHARE * mask.size:
        return None
    for share in (0.01, 0.02, 0.03, 0.05):
        quad = cv2.approxPolyDP(hull, share * cv2.arcLength(hull, True), True)
        if len(quad) == 4 and cv2.contourArea(quad) > 0.93 * area:
            return _from_head_left(quad[:, 0].astype(float) + 0.5)
    return None


def _from_head_left(quad: FloatArray) -> FloatArray:
    """Return the corners clockwise as seen, starting at head left."""
    centre = quad.mean(axis=0)
    angle = np.arctan2(*(quad - centre).T[::-1])
    clockwise = quad[np.argsort(angle)]
    start = int(np.argmin(clockwise.sum(axis=1)))
    return np.roll(clockwise, -start, axis=0)


def _line_quads(pale: NDArray[np.uint8]) -> list[FloatArray]:
    """Return the quads of four straight edges, all brighter within, best supported first."""
    lines = _directed_lines(pale)
    pairs = _opposite(lines)
    if not len(pairs):
        return []
    one, two = np.triu_indices(len(pairs), 1)
    across = np.abs(_turned(lines[pairs[one, 0], 0], lines[pairs[two, 0], 0]))
    keep = np.abs(across - np.pi / 2) < np.radians(_SLACK_DEG)
    one, two = one[keep], two[keep]
    sides = np.stack([pairs[one, 0], pairs[two, 0], pairs[one, 1], pairs[two, 1]], axis=1)
    quads = np.stack(
        [_crossings(lines[sides[:, k - 1]], lines[sides[:, k]]) for k in range(4)], axis=1
    )
    quads = quads[_plausible(quads, pale.shape)]
    if not len(quads):
        return []
    support = _support(pale, quads)
    areas = np.abs(_areas(quads))
    rank = np.lexsort((-areas, -np.floor(support * 20)))
    found: list[FloatArray] = []
    for number in rank[: 20 * _MOST_QUADS]:
        quad = _from_head_left(quads[number])
        if support[number] < _MIN_SIDE or len(found) == _MOST_QUADS:
            break
        if all(np.abs(quad - other).max() > 0.02 * _SMALL_PX for other in found):
            found.append(quad)
    return found


def _directed_lines(pale: NDArray[np.uint8]) -> FloatArray:
    """Return lines (n, 2) as direction of the brighter side (radians) and distance along it.

    Every edge pixel votes for the line through it square to its own gradient.
    """
    dx = cv2.Sobel(pale, cv2.CV_32F, 1, 0, ksize=3)
    dy = cv2.Sobel(pale, cv2.CV_32F, 0, 1, ksize=3)
    strength = cv2.magnitude(dx, dy)
    edges = cv2.Canny(dx.astype(np.int16), dy.astype(np.int16), 12, 30, L2gradient=True)
    y, x = np.nonzero(edges)
    turn = np.arctan2(dy[y, x], dx[y, x])
    reach = float(np.hypot(*pale.shape))
    rho_bins = int(2 * reach / _RHO_PX) + 2
    votes: Plane = np.zeros((_TURN_BINS, rho_bins), np.float32)
    weight = np.minimum(strength[y, x], 120.0)
    width = 2 * np.pi / _TURN_BINS
    for off in (-1, 0, 1):
        number = (np.floor(turn / width).astype(int) + off) % _TURN_BINS
        middle = (number + 0.5) * width
        rho = (x + 0.5) * np.cos(middle) + (y + 0.5) * np.sin(middle)
        place = number * rho_bins + ((rho + reach) / _RHO_PX).astype(int)
        votes += np.bincount(place, weight, votes.size).reshape(votes.shape).astype(np.float32)
    rolled = np.vstack([votes[-2:], votes, votes[:2]])
    votes = np.asarray(cv2.GaussianBlur(rolled, (5, 3), 0.8)[2:-2], np.float32)
    peak = votes >= cv2.dilate(votes, np.ones((3, 7), np.uint8))
    rows, cols = np.nonzero(peak & (votes > 0))
    order = np.argsort(-votes[rows, cols], kind="stable")[:_MOST_LINES]
    return np.stack([(rows[order] + 0.5) * width, (cols[order] + 0.5) * _RHO_PX - reach], axis=1)


def _turned(first: FloatArray, second: FloatArray) -> FloatArray:
    """Return the turn from first to second in -pi .. pi."""
    result: FloatArray = (second - first + np.pi) % (2 * np.pi) - np.pi
    return result


def _opposite(lines: FloatArray) -> NDArray[np.int64]:
    """Return pairs (n, 2) of lines whose brighter sides face each other, well apart."""
    one, two = np.triu_indices(len(lines), 1)
    facing = np.abs(_turned(lines[one, 0], lines[two, 0])) > np.pi - np.radians(_SLACK_DEG)
    # Facing sides: what lies between them is brighter than both.
    apart = -(lines[one, 1] + lines[two, 1]) > 0.2 * _SMALL_PX
    keep = facing & apart
    return np.stack([one[keep], two[keep]], axis=1)


def _crossings(first: FloatArray, second: FloatArray) -> FloatArray:
    """Return where lines (n, 2) cross, (n, 2) px."""
    a, b = np.cos(first[:, 0]), np.sin(first[:, 0])
    c, d = np.cos(second[:, 0]), np.sin(second[:, 0])
    det = a * d - b * c
    det = np.where(np.abs(det) < 1e-6, 1e-6, det)
    x = (first[:, 1] * d - b * second[:, 1]) / det
    y = (a * second[:, 1] - c * first[:, 1]) / det
    return np.stack([x, y], axis=1)


def _areas(quads: FloatArray) -> FloatArray:
    x, y = quads[..., 0], quads[..., 1]
    result: FloatArray = 0.5 * np.sum(
        x * np.roll(y, -1, axis=1) - y * np.roll(x, -1, axis=1), axis=1
    )
    return result


def _plausible(quads: FloatArray, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Return which quads are convex, within the picture and large enough."""
    size = np.array([shape[1], shape[0]])
    inside = np.all((quads > -_OUTSIDE * size) & (quads < (1 + _OUTSIDE) * size), axis=(1, 2))
    step = np.roll(quads, -1, axis=1) - quads
    after = np.roll(step, -1, axis=1)
    bend = step[..., 0] * after[..., 1] - step[..., 1] * after[..., 0]
    convex = np.all(bend > 0, axis=1) | np.all(bend < 0, axis=1)
    result: NDArray[np.bool_] = inside & convex & (np.abs(_areas(quads)) > _MIN_SHARE * size.prod())
    return result


def _support(pale: NDArray[np.uint8], quads: FloatArray) -> FloatArray:
    """Return the share (n,) of the worst side's samples that are brighter within than without."""
    t = np.linspace(0.05, 0.95, _SAMPLES)[:, None]
    centre = quads.mean(axis=1)[:, None]
    worst = np.ones(len(quads))
    for k in range(4):
        start, end = quads[:, k - 1], quads[:, k]
        along = end - start
        inward = np.stack([-along[:, 1], along[:, 0]], axis=1)
        inward /= np.linalg.norm(inward, axis=1, keepdims=True) + 1e-9
        towards = np.sign(np.sum(inward * (centre[:, 0] - start), axis=1, keepdims=True))
        points = start[:, None] + t * along[:, None]
        off = (_BESIDE_PX * inward * towards)[:, None]
        step = _at(pale, points + off) - _at(pale, points - off)
        worst = np.minimum(worst, (step > _STEP).mean(axis=1))
    return worst


def _at(pale: NDArray[np.uint8], points: FloatArray) -> FloatArray:
    cols = np.clip(points[..., 0].astype(int), 0, pale.shape[1] - 1)
    rows = np.clip(points[..., 1].astype(int), 0, pale.shape[0] - 1)
    return np.asarray(pale[rows, cols], float)
