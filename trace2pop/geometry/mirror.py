"""Mirror axes of outlines: found by turning the shape about its middle, scored by overlap."""

import numpy as np
import shapely
from shapely import affinity

from trace2pop.model.outline import FloatArray

_COARSE_DEG = 6.0
_SIMPLE = 0.002
"""Simplification as a share of the shape's size: far below what changes an overlap."""


def mirror_axis(
    shape: shapely.Polygon, near: float = 0.0
) -> tuple[tuple[float, float], float, float]:
    """Return (point, tilt in degrees, score) of the best mirror axis of ``shape``.

    The axis runs through the centroid. Tilt is 0 for an upright axis, positive clockwise (y down).
    Score is the overlap (intersection over union) of the shape and its mirror image. Axes within 45
    degrees of the tilt ``near`` are searched.
    """
    size = max(np.ptp(np.asarray(shape.exterior.coords), axis=0))
    simple = shape.simplify(_SIMPLE * size).buffer(0)
    centre = simple.centroid
    point = (float(centre.x), float(centre.y))

    def score(tilt: float, shift: float = 0.0) -> float:
        across = np.array([np.cos(np.radians(tilt)), np.sin(np.radians(tilt))])
        place = np.array(point) + shift * across
        image = _mirrored(simple, place, across)
        both = simple.intersection(image).area
        return float(both / (2 * simple.area - both))

    tilts = near + np.arange(-45, 45 + _COARSE_DEG / 2, _COARSE_DEG / 2)
    scores = [score(float(tilt)) for tilt in tilts]
    tilt, shift, step = float(tilts[int(np.argmax(scores))]), 0.0, _COARSE_DEG / 2
    best = max(scores)
    while step > 0.02:
        step /= 2
        reach = step * size / 60
        trials = [(tilt + a * step, shift + b * reach) for a in (-1, 0, 1) for b in (-1, 0, 1)]
        values = [score(*trial) for trial in trials]
        top = int(np.argmax(values))
        if values[top] >= best:
            best, (tilt, shift) = values[top], trials[top]
    across = np.array([np.cos(np.radians(tilt)), np.sin(np.radians(tilt))])
    place = np.array(point) + shift * across
    return (float(place[0]), float(place[1])), tilt, best


def _mirrored(shape: shapely.Geometry, place: FloatArray, across: FloatArray) -> shapely.Geometry:
    """Return ``shape`` mirrored about the line through ``place`` square to ``across``."""
    flip = np.eye(2) - 2 * np.outer(across, across)
    shift = place - flip @ place
    return affinity.affine_transform(shape, [*flip.ravel(), *shift])
