"""Closed chains begun elsewhere, chains run backwards: the same line, drawn in another order."""

import numpy as np

from trace2pop.geometry import beziers
from trace2pop.model.outline import Contour, FloatArray

_SMOOTH_DEG = 10.0


def split(segment: FloatArray, t: float) -> tuple[FloatArray, FloatArray]:
    """Return the two halves of a segment (4, 2) parted at ``t``, by de Casteljau's rule."""
    a, b, c, d = segment
    ab, bc, cd = a + (b - a) * t, b + (c - b) * t, c + (d - c) * t
    abc, bcd = ab + (bc - ab) * t, bc + (cd - bc) * t
    middle = abc + (bcd - abc) * t
    return np.stack([a, ab, abc, middle]), np.stack([middle, bcd, cd, d])


def restarted(contour: Contour, start: float) -> Contour:
    """Return a closed chain that begins at ``start``: segment number plus share of it."""
    index, share = int(start), start - int(start)
    turned: Contour = np.roll(contour, -index, axis=0)
    if share == 0:
        return turned
    first, second = split(turned[0], share)
    return np.concatenate([second[None], turned[1:], first[None]])


def starts(contour: Contour, least_run: float = 3.0) -> list[float]:
    """Return where a closed chain may begin away from corners, as ``restarted`` takes them.

    Those are the middles of straight runs, and the joints where the line goes on smoothly. Where it
    has neither, every joint.
    """
    into, out = _directions(contour)
    turn = np.degrees(np.abs(np.angle(np.exp(1j * (out - np.roll(into, 1))))))
    found = [float(index) for index in np.flatnonzero(turn < _SMOOTH_DEG)]
    length = np.linalg.norm(contour[:, 3] - contour[:, 0], axis=1)
    found += [
        index + 0.5
        for index in np.flatnonzero(length > least_run)
        if beziers.is_straight(contour[index])
    ]
    return sorted(found) or [float(index) for index in range(len(contour))]


def _directions(contour: Contour) -> tuple[FloatArray, FloatArray]:
    """Return the angles at which each segment arrives and leaves, in radians."""
    start, first, second, end = np.moveaxis(contour, 1, 0)

    def angle(*steps: FloatArray) -> FloatArray:
        chosen = steps[0]
        for step in steps[1:]:
            short = np.linalg.norm(chosen, axis=1) < 1e-9
            chosen = np.where(short[:, None], step, chosen)
        result: FloatArray = np.arctan2(chosen[:, 1], chosen[:, 0])
        return result

    return angle(end - second, end - first, end - start), angle(
        first - start, second - start, end - start
    )


def length(contour: Contour) -> float:
    """Return the length of a chain in mm."""
    steps = np.diff(beziers.flatten(contour), axis=0)
    return float(np.hypot(steps[:, 0], steps[:, 1]).sum())
