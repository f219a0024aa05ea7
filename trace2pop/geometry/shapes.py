"""Plain figures as chains of Beziers."""

import math
from collections.abc import Collection, Sequence

import numpy as np

from trace2pop.geometry.beziers import straight
from trace2pop.model.outline import Contour, FloatArray

_QUARTER = 4 / 3 * (math.sqrt(2) - 1)
"""Handle length of the cubic closest to a quarter circle of radius 1; it errs by 0.03 %."""


def circle(centre: tuple[float, float], diameter: float) -> Contour:
    """Return a closed circle of four segments, clockwise on the page, starting at its right."""
    r, k = diameter / 2, diameter / 2 * _QUARTER
    quarter = np.array([[r, 0], [r, k], [k, r], [0, r]])
    turn = np.array([[0.0, 1.0], [-1.0, 0.0]])
    quarters = [quarter @ np.linalg.matrix_power(turn, n) for n in range(4)]
    result: Contour = np.stack(quarters) + np.asarray(centre)
    return result


def capsule(centre: tuple[float, float], length: float, width: float, *, upright: bool) -> Contour:
    """Return a closed slot with round ends, along x or ``upright``; a circle of that length too."""
    if length - width < 1e-9:
        return circle(centre, width)
    round_ends = circle((0.0, 0.0), width)
    reach = (length - width) / 2
    right, left = round_ends[[3, 0]] + [reach, 0.0], round_ends[[1, 2]] - [reach, 0.0]
    sides = [straight([a[-1, 3], b[0, 0]], closed=False) for a, b in ((right, left), (left, right))]
    whole: Contour = np.concatenate([right, sides[0], left, sides[1]])
    if upright:
        whole = whole @ np.array([[0.0, 1.0], [-1.0, 0.0]])
    whole += np.asarray(centre)
    return whole


def rectangle(x0: float, y0: float, x1: float, y1: float) -> Contour:
    """Return a closed rectangle, clockwise on the page from its first corner."""
    return straight([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], closed=True)


def cornered(
    corners: Sequence[tuple[float, float]],
    radii: Sequence[float],
    clipped: Collection[int] = (),
) -> Contour:
    """Return a closed polygon of right angles with corner n rounded by ``radii[n]``.

    Corners listed in ``clipped`` are cut off straight instead. A radius of 0 leaves a corner sharp.
    """
    points = np.asarray(corners, dtype=float)
    before, after = np.roll(points, 1, axis=0), np.roll(points, -1, axis=0)
    turns = [
        _corner(point, back, ahead, radius, clip=number in clipped)
        for number, (point, back, ahead, radius) in enumerate(
            zip(points, before, after, radii, strict=True)
        )
    ]
    chain: list[Contour] = []
    for turn, following in zip(turns, [*turns[1:], turns[0]], strict=True):
        if turn.shape[0] == 4:
            chain.append(turn[None])
        start, end = turn[-1], following[0]
        if np.linalg.norm(end - start) > 1e-9:
            chain.append(straight([start, end], closed=False))
    return np.concatenate(chain)


def _corner(
    corner: FloatArray, back: FloatArray, ahead: FloatArray, radius: float, *, clip: bool
) -> FloatArray:
    """Return a corner as one segment (4, 2), or as its point (1, 2) where it is sharp."""
    if radius <= 0:
        return corner[None]
    into = (corner - back) / np.linalg.norm(corner - back)
    out = (ahead - corner) / np.linalg.norm(ahead - corner)
    start, end = corner - into * radius, corner + out * radius
    if clip:
        cut: FloatArray = straight([start, end], closed=False)[0]
        return cut
    k = radius * _QUARTER
    return np.stack([start, start + into * k, end - out * k, end])
