"""SVG drawings: outlines taken as they are, and the drawing as a picture for print and page."""

from collections import Counter
from dataclasses import dataclass
from xml.etree import ElementTree

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray

from trace2pop.errors import PictureError
from trace2pop.geometry import beziers
from trace2pop.model.artwork import Artwork, Scale
from trace2pop.model.finding import Finding
from trace2pop.model.outline import FloatArray, Outline
from trace2pop.stages.capture import svg_shapes
from trace2pop.stages.capture.decoding import MAX_PX_PER_MM
from trace2pop.stages.capture.svg_faces import filled_area
from trace2pop.stages.capture.svg_outlines import HAIRLINE, Painted, outlines_of
from trace2pop.stages.capture.svg_render import rendered
from trace2pop.stages.capture.svg_tree import svg_root
from trace2pop.stages.capture.svg_walk import Shape, Walk, view_matrix
from trace2pop.units import MM_PER_INCH

NOMINAL = 200.0
_LONGEST_PX = 3000
"""Of the drawing as a picture: 300 dpi where it is cut at up to 254 mm."""

_LARGEST = 1e7
"""Side of a canvas, in mm or user units: beyond this it is damage, and so is its inverse."""

_LONGEST_SHAPE = 1000.0
"""Longer side of a canvas over the shorter one."""

_WHOLE = 0.98
"""Share of the canvas from which a rectangle at the back is its ground, not the motif."""


@dataclass(frozen=True, eq=False)
class _Canvas:
    """``to_mm`` (3, 3) from user units, ``size`` in mm, ``viewport`` in user units.

    ``source`` says where the size is known from.
    """

    to_mm: FloatArray
    size: tuple[float, float]
    viewport: tuple[float, float]
    scale: Scale


def read_drawing(name: str, content: bytes, dpi: float | None) -> Artwork:
    """Return the artwork of an SVG file. ``dpi`` is taken where its size is in pixels only.

    Raises:
        PictureError: where it is damaged, holds what isn't taken, or shows no shape.
    """
    root = svg_root(name, content)
    walk = Walk(name, root)
    canvas = _canvas(root, dpi) or _canvas_of_shapes(name, root, dpi)
    shapes = walk.shapes(canvas.to_mm, canvas.viewport)
    shapes, grounded = _without_ground(shapes, canvas.size)
    drawn = outlines_of(shapes, walk.tally)
    outlines = drawn.outlines
    if not outlines:
        raise _nothing_drawn(name, walk.passed_over)
    origin, size = _extent(outlines, canvas.size)
    shift = np.array([[1.0, 0, -origin[0]], [0, 1, -origin[1]]])
    px_per_mm = min(MAX_PX_PER_MM, _LONGEST_PX / max(size))
    rgba = rendered(root, canvas.to_mm, (*origin, *size), px_per_mm)
    plain = rgba is None
    if rgba is None:
        rgba = _silhouette(outlines, origin, size, px_per_mm)
    known = canvas.scale
    if known.source != "none":
        known = Scale(known.source, 1 / px_per_mm, known.uncertainty)
    return Artwork(
        name=name,
        rgb=np.ascontiguousarray(rgba[..., :3]),
        alpha=np.ascontiguousarray(rgba[..., 3]),
        px_per_mm=px_per_mm,
        scale=known,
        to_source=np.eye(3),
        source_size_px=(rgba.shape[1], rgba.shape[0]),
        vectors=tuple(beziers.transform_outline(outline, shift) for outline in outlines),
        findings=(*_findings(shapes, walk.passed_over, known, grounded, plain), *_of_lines(drawn)),
    )


def _canvas(root: ElementTree.Element, dpi: float | None) -> _Canvas | None:
    """Return the canvas as the root states it (SVG 2, section 8.2), None where it doesn't."""
    box = svg_shapes.numbers(root.get("viewBox"))
    if len(box) != 4 or not _measurable(*box[2:]) or max(map(abs, box)) > _LARGEST:
        box = []
    stated = [svg_shapes.length_mm(root.get(key)) for key in ("width", "height")]
    per_px = MM_PER_INCH / (dpi or svg_shapes.PX_PER_INCH)
    pixels = [
        svg_shapes.length(root.get(key), whole, whole) * per_px
        for key, whole in zip(("width", "height"), box[2:] or (0.0, 0.0), strict=True)
    ]
    if any(stated) and box:
        ratio = box[3] / box[2]
        width, height = stated
        width = width or (height or 0) / ratio
        height = height or width * ratio
    elif all(stated):
        width, height = stated
    else:
        width, height = pixels
    if not (width and height and _measurable(width, height)):
        return None
    scale = Scale("vector", None, 0.0)
    if not any(stated):
        scale = Scale("dpi", None, 0.0) if dpi else Scale("none", None, None)
    factor = NOMINAL / max(width, height) if scale.source == "none" else 1.0
    size = (width * factor, height * factor)
    if box:
        to_mm = view_matrix(box, size, root.get("preserveAspectRatio", ""))
        return _Canvas(to_mm, size, (box[2], box[3]), scale)
    unit = factor * (MM_PER_INCH / svg_shapes.PX_PER_INCH if any(stated) else per_px)
    return _Canvas(np.diag([unit, unit, 1]), size, (size[0] / unit, size[1] / unit), scale)


def _measurable(width: float, height: float) -> bool:
    """Whether sides are those of a sheet, not of damage: finite, above zero, not a mere line."""
    low, high = min(width, height), max(width, height)
    return bool(low > 1 / _LARGEST and high < _LARGEST and high < _LONGEST_SHAPE * low)


def _canvas_of_shapes(name: str, root: ElementTree.Element, dpi: float | None) -> _Canvas:
    """Return a canvas round the shapes of a drawing that states no size."""
    walk = Walk(name, root)
    shapes = walk.shapes(np.eye(3), (100.0, 100.0))
    chains = [chain for shape in shapes for chain, _ in shape.chains]
    if not chains:
        raise _nothing_drawn(name, walk.passed_over)
    left, top, right, bottom = beziers.bounds(np.concatenate(chains))
    width, height = right - left, bottom - top
    unit = MM_PER_INCH / dpi if dpi else NOMINAL / max(width, height, 1e-9)
    to_mm = np.array([[unit, 0, -left * unit], [0, unit, -top * unit], [0, 0, 1]])
    scale = Scale("dpi", None, 0.0) if dpi else Scale("none", None, None)
    return _Canvas(to_mm, (width * unit, height * unit), (width, height), scale)


def _without_ground(shapes: list[Shape], size: tuple[float, float]) -> tuple[list[Shape], bool]:
    """Return the shapes without a rectangle at the back that covers the whole canvas."""
    if len(shapes) < 2 or not shapes[0].filled or len(shapes[0].chains) != 1:
        return shapes, False
    chain = shapes[0].chains[0][0]
    whole = shapely.box(0, 0, *size)
    area = filled_area([chain], even_odd=False)
    straight = all(beziers.is_straight(segment) for segment in chain)
    box = shapely.box(*area.bounds) if not area.is_empty else area
    is_box = straight and area.area > 0.999 * box.area
    ground = is_box and (area & whole).area > _WHOLE * whole.area
    return (shapes[1:], True) if ground else (shapes, False)


def _extent(
    outlines: list[Outline], size: tuple[float, float]
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return head-left corner and size of the canvas, widened to what sticks out of it."""
    boxes = np.array([beziers.bounds(outline.outer) for outline in outlines])
    left, top = np.minimum(boxes[:, :2].min(axis=0), 0)
    right, bottom = np.maximum(boxes[:, 2:].max(axis=0), size)
    return (float(left), float(top)), (float(right - left), float(bottom - top))


def _silhouette(
    outlines: list[Outline], origin: tuple[float, float], size: tuple[float, float], density: float
) -> NDArray[np.uint8]:
    """Return the outlines filled in black, (rows, cols, 4) uint8 RGBA."""
    rows, cols = (max(1, round(side * density)) for side in size[::-1])
    rgba = np.zeros((rows, cols, 4), np.uint8)
    for outline in outlines:
        rings = [
            np.rint(((beziers.flatten(ring) - origin) * density - 0.5) * 16).astype(np.int32)
            for ring in (outline.outer, *outline.holes)
        ]
        cv2.fillPoly(rgba, rings, (0, 0, 0, 255), cv2.LINE_AA, 4)
    return rgba


def _nothing_drawn(name: str, passed_over: Counter[str]) -> PictureError:
    if passed_over["image"]:
        return PictureError(
            f"{name} holds a picture of pixels, no vector shapes",
            "take the picture out of it and give that as PNG or JPEG",
        )
    text = " but text" if passed_over["text"] else ""
    return PictureError(
        f"{name} shows no shape{text}", "fill the motif, and turn text into paths before saving"
    )


def _findings(
    shapes: list[Shape], passed_over: Counter[str], scale: Scale, grounded: bool, plain: bool
) -> list[Finding]:
    def note(rule: str, measured: float | None, advice: str) -> Finding:
        return Finding(rule, "note", "the drawing", measured, None, advice)

    found = []
    if scale.source == "none":
        advice = (
            "the drawing states its size in pixels only, so its size in mm isn't known; say "
            "--drawn-width if it matters, or --dpi 96 or 72 as your drawing program counts"
        )
        found.append(note("drawn-size-unknown", None, advice))
    if grounded:
        advice = "a rectangle behind everything was taken as the ground, not as part of the motif"
        found.append(note("drawing-ground", None, advice))
    if not any(shape.filled for shape in shapes):
        advice = (
            "nothing in the drawing is filled, so what closed lines go round was taken as filled; "
            "fill the motif in your drawing program if it is to have holes"
        )
        found.append(note("drawing-lines-filled", None, advice))
    if plain:
        advice = "the drawing's colours could not be drawn, so it is shown in black"
        found.append(note("drawing-plain", None, advice))
    for kind, count in sorted(passed_over.items()):
        advice = (
            f"{count} x {kind} in the drawing can't become an outline and was left out of it; turn "
            "it into paths before saving if it belongs to the motif"
        )
        found.append(
            Finding("drawing-left-out", "warning", "the drawing", float(count), None, advice)
        )
    return found


def _of_lines(drawn: Painted) -> list[Finding]:
    found = []
    if drawn.widths is not None:
        widths = " to ".join(dict.fromkeys(f"{width:.2g}" for width in drawn.widths))
        mean, most = drawn.off
        advice = (
            f"lines were taken as wide as they are drawn, {widths} mm; the outline is off their "
            f"edges by {mean:.3f} mm on average, {most:.3f} mm at most"
        )
        found.append(Finding("drawing-lines-wide", "note", "the drawing", most, None, advice))
    if drawn.hairs:
        count, most = len(drawn.hairs), drawn.hairs[0]
        many = (
            f"a line thinner than {HAIRLINE} mm sticks {most:.0f} mm out of the motif and was"
            if count == 1
            else f"{count} lines thinner than {HAIRLINE} mm stick out of the motif, up to "
            f"{most:.0f} mm, and were"
        )
        advice = f"{many} left out; draw feelers and stems {HAIRLINE} mm wide or wider"
        found.append(Finding("drawing-hairline", "warning", "the drawing", most, HAIRLINE, advice))
    return found
