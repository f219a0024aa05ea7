"""Narrow places found on pixels, by a way that shares nothing with the one under test."""

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray

PX = 30.0
"""Pixels a mm."""


def drawn(polygon: shapely.Polygon, px: float = PX) -> NDArray[np.uint8]:
    """Return a polygon as a mask with a border."""
    left, head, right, foot = polygon.bounds
    size = (int((foot - head) * px) + 20, int((right - left) * px) + 20)
    mask = np.zeros(size, np.uint8)
    for value, ring in ((1, polygon.exterior), *((0, hole) for hole in polygon.interiors)):
        points = (np.asarray(ring.coords)[:, :2] - (left, head)) * px + 10 - 0.5
        cv2.fillPoly(mask, [np.rint(points * 256).astype(np.int32)], value, cv2.LINE_8, 8)
    return mask


def narrow_places(
    polygon: shapely.Polygon, width: float, px: float = PX
) -> list[tuple[float, float, float]]:
    """Return (length, mean width, width where it leaves the rest) of places narrower than width.

    Opened by a disc of that width, a shape loses them, and the tips of its corners.
    """
    mask = drawn(polygon, px)
    size = 2 * round(width * px / 2) - 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    core = cv2.morphologyEx(mask, cv2.MORPH_OPEN, disc)
    # Two pixels: what a drawn edge and a drawn disc may differ from the true ones.
    near = cv2.dilate(core, np.ones((5, 5), np.uint8))
    lost = ((mask > 0) & (near == 0)).astype(np.uint8)
    count, labels = cv2.connectedComponents(lost, connectivity=8)
    away = cv2.distanceTransform(1 - core, cv2.DIST_L2, 5)
    rim = cv2.dilate(near, np.ones((3, 3), np.uint8)) > 0
    found = []
    for number in range(1, count):
        piece = labels == number
        length = float(away[piece].max()) / px
        root = float((piece & rim).sum()) / px
        found.append((length, float(piece.sum()) / px**2 / length, root))
    return found


def features(
    polygon: shapely.Polygon, width: float, px: float = PX
) -> list[tuple[float, float, float]]:
    """Return the narrow places that are more than a corner's tip or a stub.

    A stub is shorter than 1.5 widths. A corner of 12 degrees or more is at most 4.8 times as long
    as its root is wide, and filled like a triangle.
    """
    return [
        (length, mean, root)
        for length, mean, root in narrow_places(polygon, width, px)
        if length > 1.6 * width and (mean > 0.66 * root or length > 5.2 * root)
    ]
