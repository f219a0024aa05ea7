"""Maps over the card as plain pixels: how far the motif sags, how thick the closed card is."""

import cv2
import numpy as np
from numpy.typing import NDArray

from trace2pop.model.card import Sag
from trace2pop.model.outline import FloatArray

Image = NDArray[np.uint8]
Box = tuple[float, float, float, float]

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

    Linear over each triangle.
    """
    left, top, right, bottom = box
    size = (int((bottom - top) * px_per_mm) + 1, int((right - left) * px_per_mm) + 1)
    field = np.zeros(size)
    corners = (sag.points - [left, top]) * px_per_mm
    for triangle in sag.triangles:
        a, b, c = corners[triangle]
        x0, y0 = np.floor(np.minimum(np.minimum(a, b), c)).astype(int)
        x1, y1 = np.ceil(np.maximum(np.maximum(a, b), c)).astype(int) + 1
        x0, y0, x1, y1 = max(x0, 0), max(y0, 0), min(x1, size[1]), min(y1, size[0])
        area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
        if abs(area) < 1e-12 or x1 <= x0 or y1 <= y0:
            continue
        xs, ys = np.arange(x0, x1)[None], np.arange(y0, y1)[:, None]
        second = ((xs - a[0]) * (c[1] - a[1]) - (ys - a[1]) * (c[0] - a[0])) / area
        third = ((b[0] - a[0]) * (ys - a[1]) - (b[1] - a[1]) * (xs - a[0])) / area
        first = 1 - second - third
        inside = (first >= -1e-9) & (second >= -1e-9) & (third >= -1e-9)
        depth = sag.depth[triangle]
        value = first * depth[0] + second * depth[1] + third * depth[2]
        np.copyto(field[y0:y1, x0:x1], value, where=inside)
    return field / max(sag.limit, 1e-9)


def sag_picture(sag: Sag, box: Box, px_per_mm: float = 2.0) -> bytes:
    """Return the sag map over a box as PNG: white where held, dark at the limit."""
    done, content = cv2.imencode(".png", ramp(sag_shares(sag, box, px_per_mm))[..., ::-1])
    assert done
    return content.tobytes()
