"""Edges of a bright sheet on a darker table, to a fraction of a pixel, and the lens they show."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from trace2pop.model.outline import FloatArray
from trace2pop.stages.capture.lens import Lens

_SAMPLES = 240
_CORNER_SHARE = 0.04
_FAR_SHARE = 0.025
"""How far from a candidate's side, in lengths of it, the edge is looked for at first."""

_FAR_PX = 14.0
_NEAR_PX = 7.0
_LEAST_STEP = 0.07
"""Step at the edge over the paper's brightness, in linear light."""

_MOST_K1 = 0.12
_USUAL_K1 = 0.02
"""Spread of k1 among phone and camera lenses; common practice, no published source."""

_WAVE = 30
"""Neighbouring samples that a wave of the paper moves together."""

_MIN_GOOD = 0.72
"""Share of the samples on a side that must show the step from bright paper to darker table."""

_LIGHT = np.concatenate(
    [np.arange(11) / 255 / 12.92, ((np.arange(11, 256) / 255 + 0.055) / 1.055) ** 2.4]
).astype(np.float32)
"""Linear light of sRGB values (IEC 61966-2-1): blur is symmetric in light, not in sRGB."""


@dataclass(frozen=True, eq=False)
class Sheet:
    """A sheet found: ``corners`` (4, 2) px clockwise from head left, the lens taken out.

    ``share`` of the samples on its worst side show the edge; ``lens_error`` is the standard error
    of the lens's k1; ``off_px`` the rms distance of the edges' points from straight lines.
    """

    corners: FloatArray
    lens: Lens
    share: float
    lens_error: float
    off_px: float

    @property
    def area(self) -> float:
        """Area in square px."""
        x, y = self.corners.T
        return float(abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2)


def refined(grey: NDArray[np.uint8], quad: FloatArray) -> Sheet | None:
    """Return the sheet near ``quad`` in a picture's brightness (rows, cols), rows unbroken.

    None where a side lacks the step from bright to dark over enough of its length.
    """
    rows, cols = grey.shape
    sides = []
    shares = []
    for start, end in zip(quad, np.roll(quad, -1, axis=0), strict=True):
        side = _side(grey, start, end)
        if side is None:
            return None
        sides.append(side[0])
        shares.append(side[1])
    lens, lens_error, off_px = _lens(sides, (cols, rows))
    lines = [_line(lens.straighten(points)) for points in sides]
    corners = np.array([_crossing(lines[number - 1], lines[number]) for number in range(4)])
    size = np.array([cols, rows])
    if np.any(corners < -0.1 * size) or np.any(corners > 1.1 * size):
        return None
    return Sheet(corners, lens, min(shares), lens_error, off_px)


def _side(
    grey: NDArray[np.uint8], start: FloatArray, end: FloatArray
) -> tuple[FloatArray, float] | None:
    """Return points (n, 2) on one side's edge in px, and the share of samples that showed it.

    The side is looked for far and wide first, as a parabola, then close to that.
    """
    along = end - start
    length = float(np.linalg.norm(along))
    inward = np.array([-along[1], along[0]]) / length
    t = np.linspace(_CORNER_SHARE, 1 - _CORNER_SHARE, _SAMPLES)
    base = start + t[:, None] * along
    reach = max(_FAR_PX, _FAR_SHARE * length)
    found, good, beyond = _steps(grey, base, inward, reach, max(0.5, reach / 60))
    curve = _parabola(t[good], found[good])
    if curve is None or beyond[good].mean() < 0.5:
        return None
    base += np.polyval(curve, t)[:, None] * inward
    found, good, _ = _steps(grey, base, inward, _NEAR_PX, 0.5)
    if good.mean() < _MIN_GOOD:
        return None
    kept = np.flatnonzero(good)
    for _ in range(4):
        curve = np.polyfit(t[kept], found[kept], 2)
        off = np.abs(found - np.polyval(curve, t))
        spread = 1.48 * float(np.median(off[kept]))
        kept = np.flatnonzero(good & (off < max(3 * spread, 0.4)))
    return base[kept] + found[kept, None] * inward, float(len(kept) / _SAMPLES)


def _steps(
    grey: NDArray[np.uint8], base: FloatArray, inward: FloatArray, reach: float, step: float
) -> tuple[FloatArray, NDArray[np.bool_], NDArray[np.bool_]]:
    """Return how far inwards of ``base`` (n, 2) the edge lies, (n,) px, and where it is seen.

    The third value says where it also stays darker beyond: at a drawn line it doesn't. Profiles
    run from the inside out; the edge is the centroid of the falling gradient round its steepest
    place, so that blur and noise average out.
    """
    offset = np.arange(reach, -reach - step / 2, -step)
    points = base[:, None] + offset[None, :, None] * inward
    inside = np.all((points > 1) & (points < np.array(grey.shape[::-1]) - 2), axis=(1, 2))
    places = (points - 0.5).astype(np.float32)
    seen = cv2.remap(grey, places[..., 0], places[..., 1], cv2.INTER_LINEAR)
    smooth = cv2.GaussianBlur(_LIGHT[seen], (0, 0), sigmaX=max(1.0 / step, 0.8), sigmaY=1.0)
    fall = np.maximum(smooth[:, :-1] - smooth[:, 1:], 0)
    peak = np.argmax(fall, axis=1)
    column = np.arange(fall.shape[1])
    near = np.abs(column[None] - peak[:, None]) <= max(2, round(4 / step))
    weight = fall * near
    total = weight.sum(axis=1)
    place = (weight * column).sum(axis=1) / np.maximum(total, 1e-9)
    paper = np.take_along_axis(smooth, np.maximum(peak - round(5 / step), 0)[:, None], axis=1)
    good = inside & (total > np.maximum(_LEAST_STEP * paper[:, 0], 0.004))
    beyond = smooth[:, -(smooth.shape[1] // 5) :].mean(axis=1) < (1 - _LEAST_STEP / 2) * paper[:, 0]
    return reach - step * (place + 0.5), good, beyond


def _parabola(t: FloatArray, found: FloatArray) -> FloatArray | None:
    """Return the parabola (3,) that most samples lie on: through three of them, tried in turn."""
    if len(t) < _MIN_GOOD * _SAMPLES * 0.8:
        return None
    third = len(t) // 3
    first = np.arange(third)
    triples = np.stack([first, first + third, first + 2 * third], axis=1)
    curves = np.linalg.solve(
        np.stack([t[triples] ** 2, t[triples], t[triples] ** 0], axis=2), found[triples][..., None]
    )[..., 0]
    off = np.abs(curves @ np.stack([t**2, t, t**0]) - found)
    best = int(np.argmax((off < 2.0).sum(axis=1)))
    kept = off[best] < 2.0
    if kept.mean() < 0.5:
        return None
    result: FloatArray = np.polyfit(t[kept], found[kept], 2)
    return result


def _lens(sides: list[FloatArray], size: tuple[int, int]) -> tuple[Lens, float, float]:
    """Return the one-term lens under which the sides come out straightest, its error, the rest.

    Straightness is the summed squared distance of the points from their line; it is nearly
    quadratic in k1, so three evaluations find the minimum and more rounds polish it. A sheet's
    waves are long, so far fewer points count as independent than there are.
    """
    centre = (size[0] / 2, size[1] / 2)
    half = float(np.hypot(*size) / 2)

    def bent(k1: float) -> float:
        lens = Lens(centre, half, k1)
        return sum(_off_line(lens.straighten(points)) for points in sides)

    best, step, curvature = 0.0, 0.02, 0.0
    for _ in range(4):
        low, middle, high = bent(best - step), bent(best), bent(best + step)
        curvature = (low - 2 * middle + high) / step**2
        if curvature <= 0:
            break
        best = float(np.clip(best + (low - high) / (2 * step * curvature), -_MOST_K1, _MOST_K1))
        step /= 4
    count = sum(map(len, sides))
    square = bent(best) / count
    error = float(np.sqrt(2 * square * _WAVE / max(curvature, 1e-12)))
    # Edges that say little of the lens must not invent one.
    best *= _USUAL_K1**2 / (_USUAL_K1**2 + error**2)
    return Lens(centre, half, best), error, float(np.sqrt(square))


def _off_line(points: FloatArray) -> float:
    return float(np.linalg.eigvalsh(np.cov(points.T, bias=True))[0]) * len(points)


def _line(points: FloatArray) -> FloatArray:
    """Return the homogeneous line (3,) nearest to the points."""
    middle = points.mean(axis=0)
    normal = np.linalg.eigh(np.cov(points.T, bias=True))[1][:, 0]
    return np.array([*normal, -normal @ middle])


def _crossing(first: FloatArray, second: FloatArray) -> FloatArray:
    x, y, w = np.cross(first, second)
    return np.array([x / w, y / w])
