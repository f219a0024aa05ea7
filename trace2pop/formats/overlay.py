"""Two cards laid over one another as PNG, told apart by line and letter as well as by colour."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from trace2pop.formats.canvas import BLUE, INK, SOFT, VERMILLION, Canvas
from trace2pop.model.outline import FloatArray

_WIDE, _TALL = 250.0, 200.0
"""What the drawing may take of the page, mm."""
_EDGE, _HEAD, _FOOT = 8.0, 22.0, 16.0
_LOOKS = ((VERMILLION, "2.2 1.2", "#f9dccd"), (BLUE, "", "#cfe2f1"))
"""Line, dash and tint of the first card and of the second."""


@dataclass(frozen=True, eq=False)
class Layer:
    """What is shown of one card, in its own card coordinates.

    ``base`` is (half width, height). ``beams`` are the corners (n, 2) of each beam's flanges,
    ``folds`` their fold lines, ``hand`` the middle lines of parts added by hand.
    """

    name: str
    motif: shapely.Geometry
    base: tuple[float, float]
    beams: tuple[FloatArray, ...]
    folds: tuple[FloatArray, ...]
    hand: tuple[FloatArray, ...]


def overlay_png(first: Layer, second: Layer) -> bytes:
    """Return both cards open, creases and middles of their heights on one another."""
    layers = (first, second)
    half, height = (max(layer.base[k] for layer in layers) for k in (0, 1))
    scale = min(_WIDE / (2 * half), _TALL / height)
    size = (2 * half * scale + 2 * _EDGE, height * scale + _HEAD + _FOOT)
    canvas = Canvas(size, scale=scale, origin=(-half, -height / 2), corner=(_EDGE, _HEAD))
    shapes = [_moved(layer.motif, layer) for layer in layers]
    for shape, other, (_, _, tint) in zip(shapes, reversed(shapes), _LOOKS, strict=True):
        canvas.polygon(shapely.difference(shape, other), tint, "none", 0.0)
    for layer, shape, (colour, dash, _) in zip(layers, shapes, _LOOKS, strict=True):
        wide, high = layer.base[0], layer.base[1] / 2
        corners = np.array([[-wide, -high], [wide, -high], [wide, high], [-wide, high]])
        canvas.line(_ring(corners), stroke=colour, width=0.25, dash=dash)
        canvas.line(np.array([[0.0, -high], [0.0, high]]), stroke=SOFT, width=0.2, dash="4 1 1 1")
        for beam in layer.beams:
            canvas.line(_ring(_shifted(beam, layer)), stroke=colour, width=0.25, dash=dash)
        for fold in layer.folds:
            canvas.line(_shifted(fold, layer), stroke=colour, width=0.7, dash=dash)
        for path in layer.hand:
            canvas.line(_shifted(path, layer), stroke=colour, width=0.35, dash=dash)
        for ring in _rings(shape):
            canvas.line(ring, stroke=colour, width=0.5, dash=dash)
    _legend(canvas, layers)
    return canvas.png()


def _legend(canvas: Canvas, layers: Sequence[Layer]) -> None:
    canvas.words("Two cards, open, crease on crease", (_EDGE, 8.0), size=4.4, bold=True)
    x = _EDGE
    room = (canvas.size[0] - 2 * _EDGE) / 2
    for letter, layer, (colour, dash, tint) in zip("AB", layers, _LOOKS, strict=True):
        start, end = _on_drawing(canvas, x, 14.6), _on_drawing(canvas, x + 12, 14.6)
        canvas.line(np.array([start, end]), stroke=tint, width=3.2)
        canvas.line(np.array([start, end]), stroke=colour, width=0.6, dash=dash)
        canvas.words(f"{letter}  {_clipped(layer.name, room - 16)}", (x + 14, 15.6), colour=INK)
        x += room
    foot = canvas.size[1] - 6
    words = "where both agree B's line shows; tint: paper of one card only; thick: beams' folds"
    canvas.words(words, (_EDGE, foot), colour=SOFT)
    canvas.scale_bar((canvas.size[0] - _EDGE - 18 - 50 * canvas.scale, foot), 50.0, "50 mm")


def _on_drawing(canvas: Canvas, x: float, y: float) -> FloatArray:
    place: FloatArray = (np.array([x, y]) - canvas.matrix[:, 2]) / canvas.scale
    return place


def _clipped(name: str, room: float) -> str:
    most = max(8, int(room / (3.2 * 0.5)))
    return name if len(name) <= most else f"...{name[3 - most :]}"


def _moved(shape: shapely.Geometry, layer: Layer) -> shapely.Geometry:
    return shapely.transform(shape, lambda points: _shifted(points, layer))


def _shifted(points: FloatArray, layer: Layer) -> FloatArray:
    """Return points with v counted from the middle of the base's height."""
    return points - (0.0, layer.base[1] / 2)


def _ring(corners: FloatArray) -> FloatArray:
    return np.vstack([corners, corners[:1]])


def _rings(shape: shapely.Geometry) -> list[FloatArray]:
    polygons = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    return [np.asarray(ring.coords) for p in polygons for ring in (p.exterior, *p.interiors)]
