"""Pieces and sheets as DXF: millimetres declared, a layer an operation, y upwards."""

import io
import logging
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Literal

import numpy as np

from trace2pop.formats.svg import CROSS
from trace2pop.geometry import beziers
from trace2pop.mechanism.sheet import in_order, to_sheet
from trace2pop.model.outline import Contour, FloatArray
from trace2pop.model.pieces import Label, Part, Pieces, Sheet, Stroke

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.layout import Modelspace

Version = Literal["R12", "R2000"]
Curves = Literal["polylines", "splines"]

CURVE_TOLERANCE = 0.002
"""How far a polyline may be off its curve, in mm.

A cutter needs no better than 0.02, but chords lie inside round outlines: at 0.01 mm a winged motif
lost 0.02 % of its area.
"""

# Layer: AutoCAD colour index (1 red, 3 green, 5 blue, 7 black or white) and line type.
LAYERS = {
    "CUT": (7, "CONTINUOUS"),
    "CUT-INNER": (7, "CONTINUOUS"),
    "SLIT": (1, "CONTINUOUS"),
    "SCORE-VALLEY": (5, "VALLEY"),
    "SCORE-MOUNTAIN": (5, "MOUNTAIN"),
    "DASHED-CUT": (5, "CONTINUOUS"),
    "NOTE": (3, "CONTINUOUS"),
}
# Pattern length, then dashes (positive) and gaps (negative), in mm.
LINE_TYPES = {"VALLEY": [4.5, 3.0, -1.5], "MOUNTAIN": [6.6, 4.0, -1.0, 0.6, -1.0]}
_MM = 4
_METRIC = 1


def part_dxf(part: Part, version: Version = "R2000", curves: Curves = "polylines") -> bytes:
    """Return one piece alone, its lower left corner at 0 0."""
    identity = np.array([[1.0, 0, 0], [0, 1, 0]])
    with _drawing(version, part.size) as (drawing, space):
        _add(space, part.strokes, part.labels, _upright(identity, part.size[1]), version, curves)
        return _bytes(drawing)


def sheet_dxf(
    sheet: Sheet, parts: Pieces, version: Version = "R2000", curves: Curves = "polylines"
) -> bytes:
    """Return a sheet with its pieces in cutting order, the sheet's lower left corner at 0 0."""
    by_name = {part.name: part for part in parts.parts}
    with _drawing(version, (sheet.width, sheet.height)) as (drawing, space):
        for index, item in enumerate(sheet.placements):
            part = by_name[item.part]
            strokes = in_order(part, [step for step in sheet.steps if step.placement == index])
            matrix = _upright(to_sheet(part, item), sheet.height)
            _add(space, strokes, part.labels, matrix, version, curves, item.rotation_deg)
        for x, y in sheet.crosses:
            _add_cross(space, x, sheet.height - y)
        return _bytes(drawing)


def layer_of(stroke: Stroke) -> str:
    """Return the layer a stroke is drawn on."""
    if stroke.dash:
        return "DASHED-CUT"
    if stroke.op == "score":
        return "SCORE-MOUNTAIN" if stroke.fold == "mountain" else "SCORE-VALLEY"
    if stroke.op == "cut":
        return "SLIT" if stroke.slit else "CUT-INNER" if stroke.inner else "CUT"
    return "NOTE"


@contextmanager
def _drawing(
    version: Version, size: tuple[float, float]
) -> Iterator[tuple["Drawing", "Modelspace"]]:
    """Yield an empty drawing; dates and ids are fixed, so that the same pieces give the same file.

    R12 can't declare a unit ($INSUNITS came with R2000); it only says that it is metric.
    """
    import ezdxf  # 0.5 s to import: only where it is used
    from ezdxf.filemanagement import new

    options = ezdxf.options  # type: ignore[attr-defined]  # public, but not listed as exported
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    log = logging.getLogger("ezdxf")
    level = log.level
    log.setLevel(logging.ERROR)  # it warns that R12 declares no unit, which nobody can change
    try:
        drawing = new(version, units=_MM)
        drawing.header["$MEASUREMENT"] = _METRIC
        drawing.header["$LTSCALE"] = 1.0
        for name, pattern in LINE_TYPES.items():
            drawing.linetypes.add(name, pattern, description=f"{name.lower()} fold")
        for name, (colour, line_type) in LAYERS.items():
            drawing.layers.add(name, color=colour, linetype=line_type)
        space = drawing.modelspace()
        drawing.header["$EXTMIN"], drawing.header["$EXTMAX"] = (0, 0, 0), (*size, 0)
        space.dxf.extmin, space.dxf.extmax = (0, 0, 0), (*size, 0)
        space.reset_limits((0, 0), size)
        yield drawing, space
    finally:
        options.write_fixed_meta_data_for_testing = before
        log.setLevel(level)


def _bytes(drawing: "Drawing") -> bytes:
    stream = io.StringIO()
    drawing.write(stream)
    return drawing.encode(stream.getvalue())


def _upright(matrix: FloatArray, height: float) -> FloatArray:
    """Return ``matrix`` (2, 3) followed by the turn from y down to y up."""
    return np.array([matrix[0], [-matrix[1, 0], -matrix[1, 1], height - matrix[1, 2]]])


def _add(
    space: "Modelspace",
    strokes: Iterable[Stroke],
    labels: Iterable[Label],
    matrix: FloatArray,
    version: Version,
    curves: Curves,
    turn_deg: float = 0.0,
) -> None:
    for stroke in strokes:
        line = beziers.transform(stroke.line, matrix)
        look = {"layer": layer_of(stroke)}
        if curves == "splines" and version != "R12" and not _all_straight(line):
            points, knots = as_spline(line)
            space.add_open_spline(points, degree=3, knots=knots, dxfattribs=look)
            continue
        corners = beziers.flatten(line, CURVE_TOLERANCE)
        points = corners[:-1] if stroke.closed else corners
        if version == "R12":
            space.add_polyline2d(points.tolist(), close=stroke.closed, dxfattribs=look)
        else:
            space.add_lwpolyline(points.tolist(), close=stroke.closed, dxfattribs=look)
    for label in labels:
        _add_text(space, label, matrix, turn_deg)


def _add_cross(space: "Modelspace", x: float, y: float) -> None:
    half, look = CROSS / 2, {"layer": "NOTE"}
    space.add_line((x - half, y), (x + half, y), dxfattribs=look)
    space.add_line((x, y - half), (x, y + half), dxfattribs=look)


def as_spline(line: Contour) -> tuple[FloatArray, list[float]]:
    """Return control points (3n + 1, 2) and knots of the one cubic B-spline that is the chain."""
    points = np.concatenate([line[0, :1], line[:, 1:].reshape(-1, 2)])
    inner = [float(n) for n in range(1, len(line)) for _ in range(3)]
    return points, [0.0] * 4 + inner + [float(len(line))] * 4


def _all_straight(line: Contour) -> bool:
    return all(beziers.is_straight(segment) for segment in line)


def _add_text(space: "Modelspace", label: Label, matrix: FloatArray, turn_deg: float) -> None:
    from ezdxf.enums import TextEntityAlignment

    places = {
        "start": TextEntityAlignment.LEFT,
        "middle": TextEntityAlignment.CENTER,
        "end": TextEntityAlignment.RIGHT,
    }
    x, y = matrix @ np.array([*label.at, 1.0])
    # Two percent signs begin a control code, and a line break ends the value.
    words = " ".join(label.text.split()).replace("%%", "% %")
    look = {"layer": "NOTE", "rotation": -(label.turn_deg + turn_deg)}
    text = space.add_text(words, height=label.size * 0.7, dxfattribs=look)
    text.set_placement((float(x), float(y)), align=places[label.anchor])
