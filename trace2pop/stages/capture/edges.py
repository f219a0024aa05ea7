"""Edges of a bright sheet on a darker table, to a fraction of a pixel, and the lens they show."""

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from trace2pop.model.outline import FloatArray
from trace2pop.stages.capture.lens import Lens

_SMALL_PX = 700
_MIN_SHARE = 0.12
_SAMPLES = 240
_CORNER_SHARE = 0.04
_REACH_PX = 14.0
_MIN_STEP = 14.0
_MIN_GOOD = 0.72
"""Share of the samples on a side that must show the step from bright paper to darker table."""

Grey = NDArray[np.float32]


def candidate_quads(rgb: NDArray[np.uint8]) -> Iterator[FloatArray]:
    """Yield quads (4, 2) px that may be the sheet, from thresholds on brightness and saturation."""
    factor = _SMALL_PX / max(rgb.shape[:2])
    small = cv2.resize(rgb, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), 1.5)
    value = small.max(axis=2)
    saturation = value - small.min(axis=2)
    pale = cv2.subtract(value, saturation)
    seen: list[FloatArray] = []
    for channel in (pale, value, 255 - saturation):
        otsu, _ = cv2.threshold(channel, 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
        for share in (1.0, 0.8, 0.65, 1.15):
            quad = _largest_quad(channel > otsu * share)
            if quad is None:
                continue
            quad = quad / factor
            if all(np.abs(quad - other).max() > 0.01 * max(rgb.shape) for other in seen):
                seen.append(quad)
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


def refined_quad(rgb: NDArray[np.uint8], quad: FloatArray) -> tuple[float, FloatArray, Lens] | None:
    """Return (score, corners with the lens taken out, lens) of a sheet near ``quad``.

    None where a side lacks the step from bright to dark over enough of its length.
    """
    rows, cols = rgb.shape[:2]
    grey = rgb[..., 1]
    sides = []
    shares = []
    for start, end in zip(quad, np.roll(quad, -1, axis=0), strict=True):
        points, share = _edge_points(grey, start, end)
        if share < _MIN_GOOD or len(points) < 20:
            return None
        sides.append(points)
        shares.append(share)
    lens = _lens(sides, (cols, rows))
    lines = [_line(lens.straighten(points)) for points in sides]
    corners = np.array([_crossing(lines[number - 1], lines[number]) for number in range(4)])
    size = np.array([cols, rows])
    if np.any(corners < -0.1 * size) or np.any(corners > 1.1 * size):
        return None
    return min(shares), corners, lens


def _edge_points(
    grey: NDArray[np.uint8], start: FloatArray, end: FloatArray
) -> tuple[FloatArray, float]:
    """Return points (n, 2) on one side's edge in px, and the share of samples that showed it.

    Profiles across the side run from the inside out; the edge is the centroid of the falling
    gradient round its steepest place, so that blur and noise average out.
    """
    along = end - start
    length = float(np.linalg.norm(along))
    inward = np.array([-along[1], along[0]]) / length
    t = np.linspace(_CORNER_SHARE, 1 - _CORNER_SHARE, _SAMPLES)
    reach = max(_REACH_PX, 0.012 * length)
    offset = np.arange(reach, -reach - 0.5, -0.5)
    base = start + t[:, None] * along
    points = base[:, None] + offset[None, :, None] * inward
    inside = np.all((points > 1) & (points < np.array(grey.shape[::-1]) - 2), axis=(1, 2))
    map_xy = (points - 0.5).astype(np.float32)
    profile = cv2.remap(grey, map_xy[..., 0], map_xy[..., 1], cv2.INTER_LINEAR).astype(np.float32)
    smooth = cv2.GaussianBlur(profile, (0, 0), sigmaX=2.0, sigmaY=1.0)
    fall = np.maximum(smooth[:, :-1] - smooth[:, 1:], 0)
    peak = np.argmax(fall, axis=1)
    column = np.arange(fall.shape[1])
    near = np.abs(column[None] - peak[:, None]) <= 8
    weight = fall * near
    total = weight.sum(axis=1)
    place = (weight * column).sum(axis=1) / np.maximum(total, 1e-6)
    good = inside & (total > _MIN_STEP)
    found = base + (reach - 0.5 * (place + 0.5))[:, None] * inward
    found, kept = found[good], good.mean()
    return _without_outliers(found), float(kept)


def _without_outliers(points: FloatArray) -> FloatArray:
    """Return the points near a parabola through them: bent by the lens, but no more than that."""
    if len(points) < 20:
        return points
    line = points[-1] - points[0]
    line /= np.linalg.norm(line)
    along = (points - points[0]) @ line
    across = (points - points[0]) @ np.array([-line[1], line[0]])
    kept = np.ones(len(points), bool)
    for _ in range(4):
        curve = np.polyfit(along[kept], across[kept], 2)
        residual = np.abs(across - np.polyval(curve, along))
        spread = 1.48 * np.median(residual[kept])
        kept = residual < max(3 * spread, 0.4)
    return points[kept]


def _lens(sides: list[FloatArray], size: tuple[int, int]) -> Lens:
    """Return the one-term lens under which the four sides come out straightest.

    Straightness is the summed squared distance of the points from their line; it is nearly
    quadratic in k1, so three evaluations find the minimum and two more rounds polish it.
    """
    centre = (size[0] / 2, size[1] / 2)
    half = float(np.hypot(*size) / 2)

    def bent(k1: float) -> float:
        lens = Lens(centre, half, k1)
        return sum(_off_line(lens.straighten(points)) for points in sides)

    best, step = 0.0, 0.02
    for _ in range(4):
        low, middle, high = bent(best - step), bent(best), bent(best + step)
        curvature = low - 2 * middle + high
        if curvature <= 0:
            break
        best = float(np.clip(best + step * (low - high) / (2 * curvature), -0.12, 0.12))
        step /= 4
    return Lens(centre, half, best)


def _off_line(points: FloatArray) -> float:
    centred = points - points.mean(axis=0)
    return float(np.linalg.svd(centred, compute_uv=False)[-1] ** 2)


def _line(points: FloatArray) -> FloatArray:
    """Return the homogeneous line (3,) nearest to the points."""
    middle = points.mean(axis=0)
    normal = np.linalg.svd(points - middle)[2][1]
    return np.array([*normal, -normal @ middle])


def _crossing(first: FloatArray, second: FloatArray) -> FloatArray:
    x, y, w = np.cross(first, second)
    return np.array([x / w, y / w])
