"""Maps over the card as plain pixels: how far the motif sags, how thick the closed card is."""

import cv2
import numpy as np
from numpy.typing import NDArray

from trace2pop.model.card import Sag
from trace2pop.model.outline import FloatArray

Image = NDArray[np.uint8]
Box = tuple[float, float, float, float]

_SHIFT = 4
"""Binary places of a pixel to which corners are drawn."""

_RAMP = np.array(
    [(255, 255, 255), (254, 224, 196), (245, 170, 110), (213, 94, 0), (110, 32, 0)], float
)
"""From white to dark through the vermillion of Okabe and Ito: darker is more, in grey as well."""


def ramp(share: FloatArray) -> Image:
    """Return RGB (..., 3) for shares from 0 to 1."""
    place = np.clip(share, 0, 1) * (len(_RAMP) - 1)
    marks = np.arange(len(_RAMP))
    bands = [np.interp(place, marks, _RAMP[:, band]) for band in range(3)]
    return np.asarray(np.rint(np.stack(bands, axis=-1)), np.uint8)


def sag_shares(sag: Sag, box: Box, px_per_mm: float) -> FloatArray:
    """Return depth over the limit on a raster (rows, cols) of the box, 0 off the motif.

    Linear over each triangle; a pixel at the motif's edge may lie up to one outside.
    """
    left, top, right, bottom = box
    size = (int((bottom - top) * px_per_mm) + 1, int((right - left) * px_per_mm) + 1)
    corners = ((sag.points - [left, top]) * px_per_mm)[sag.triangles]
    owner = np.full(size, -1, np.int32)
    for number, triangle in enumerate(np.rint(corners * 2**_SHIFT).astype(np.int32)):
        cv2.fillConvexPoly(owner, triangle, number, shift=_SHIFT)
    ys, xs = np.nonzero(owner >= 0)
    own = owner[ys, xs]
    a, b, c = corners.transpose(1, 2, 0)
    area = _cross(b - a, c - a)
    area = np.where(np.abs(area) < 1e-12, 1e-12, area)[own]
    here = np.stack([xs, ys]) - a[:, own]
    second = _cross(here, (c - a)[:, own]) / area
    third = _cross((b - a)[:, own], here) / area
    # A pixel that a triangle only touches is read at the nearest part of it.
    shares = np.clip([1 - second - third, second, third], 0, None)
    depth = (sag.depth[sag.triangles].T[:, own] * shares).sum(axis=0) / shares.sum(axis=0)
    field = np.zeros(size)
    field[ys, xs] = depth / max(sag.limit, 1e-9)
    return field


def _cross(one: FloatArray, other: FloatArray) -> FloatArray:
    result: FloatArray = one[0] * other[1] - one[1] * other[0]
    return result


def sag_picture(sag: Sag, box: Box, px_per_mm: float = 2.0) -> bytes:
    """Return the sag map over a box as PNG: white where held, dark at the limit."""
    done, content = cv2.imencode(".png", ramp(sag_shares(sag, box, px_per_mm))[..., ::-1])
    assert done
    return content.tobytes()
