"""Each piece by itself: contours sound, nothing twice, nothing too thin, folds in place."""

from collections.abc import Sequence

import numpy as np
import shapely

from trace2pop.checks.drawing import Line
from trace2pop.checks.folder import Folder, Piece, ShownSheet
from trace2pop.checks.narrow import narrow_strips
from trace2pop.checks.report import Judge

TRUE = 0.01
"""What the program promises of its files, in mm: half of what a cutter can place."""

_TOUCH = 0.02
_SHARE = 0.9
"""Share of the least width below which a strip counts: just under it tracing decides."""


def check_pieces(folder: Folder, judge: Judge) -> None:
    """Judge every piece's own file."""
    for piece in folder.pieces.values():
        check_lines(piece.file, piece.lines, judge)
        if piece.outline.is_empty:
            continue
        _size(piece, judge)
        _nesting(piece, judge)
        _folds(piece, judge)
        if piece.part.name != "motif" or not folder.plan.keeps_thin:
            _width(piece, folder, judge)


def check_sheets_lines(sheets: Sequence[ShownSheet], judge: Judge) -> None:
    """Judge the lines of every sheet as a tool would run them."""
    for sheet in sheets:
        lines = [line for group in sheet.drawing.groups.values() for line in group]
        check_lines(sheet.drawing.file, lines, judge)


def check_lines(where: str, lines: Sequence[Line], judge: Judge) -> None:
    """Judge lines whatever they belong to: closed, simple, each there once."""
    cuts = [line for line in lines if line.op == "cut"]
    must = [line for line in cuts if line.kind == ""]
    # A slot closes; the open cut of a slit is one straight line.
    must += [line for line in cuts if line.kind == "slit" and len(line.points) > 2]
    open_ones = [line for line in must if not line.closed]
    gap = max((line.gap for line in open_ones), default=0.0)
    names = ", ".join(line.name for line in open_ones[:3])
    judge.holds(
        "closed", where, not open_ones, f"{names} ends {gap:.2f} mm from its start: it isn't closed"
    )
    crossed = [line.name for line in lines if not _simple(line)]
    judge.holds("crossing", where, not crossed, f"{', '.join(crossed[:3])} crosses itself")
    twice = _doubled([line for line in lines if line.op])
    judge.holds("doubled", where, not twice, f"{', '.join(twice[:3])} lies on another line")


def _simple(line: Line) -> bool:
    if line.closed:
        return bool(shapely.LinearRing(line.points).is_simple)
    return len(line.points) < 2 or bool(line.shape.is_simple)


def _doubled(lines: Sequence[Line]) -> list[str]:
    """Return the names of lines that lie on another one along most of their length."""
    shapes = [line.shape for line in lines]
    tree = shapely.STRtree(shapes)
    found = set()
    pairs = tree.query(shapes, predicate="dwithin", distance=_TOUCH).T if shapes else []
    for first, second in pairs:
        if first < second and _on_each_other(lines[first], lines[second]):
            found.add(lines[second].name)
    return sorted(found)


def _on_each_other(first: Line, second: Line) -> bool:
    if np.abs(first.bounds - second.bounds).max() > 0.5 and first.closed and second.closed:
        return False
    short, long = sorted((first.shape, second.shape), key=lambda shape: shape.length)
    step = max(short.length / 40, 1e-6)
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(short, step)))
    near = shapely.distance(points, long) < _TOUCH
    return bool(near.mean() > 0.9)


def _size(piece: Piece, judge: Judge) -> None:
    left, top, right, bottom = piece.outline.bounds
    off = max(abs(left), abs(top))
    judge.at_most(
        "size", piece.file, off, TRUE, f"it begins {off:.2f} mm from its drawing's corner"
    )
    for name, measured, wanted in zip(
        ("wide", "high"), (right - left, bottom - top), piece.drawing.size, strict=True
    ):
        text = f"it is {measured:.2f} mm {name}, its drawing {wanted:.2f} mm"
        judge.same("size", piece.file, measured, wanted, TRUE, text)


def _nesting(piece: Piece, judge: Judge) -> None:
    """Inner cuts lie inside the outline and meet neither it nor each other."""
    largest = piece.outline.exterior
    inner = [line for line in piece.cuts if not (line.closed and _same_ring(line, piece.outline))]
    shapes = [line.shape for line in inner]
    outside = [
        line.name
        for line, shape in zip(inner, shapes, strict=True)
        if not piece.outline.covers(shape) or shape.distance(largest) < _TOUCH
    ]
    judge.holds(
        "nesting",
        piece.file,
        not outside,
        f"{', '.join(outside[:3])} leaves the piece or meets its edge",
    )
    tree = shapely.STRtree(shapes)
    pairs = tree.query(shapes, predicate="dwithin", distance=_TOUCH).T if shapes else []
    meeting = [f"{inner[a].name} and {inner[b].name}" for a, b in pairs if a < b]
    judge.holds("nesting", piece.file, not meeting, f"{', '.join(meeting[:2])} meet")


def _same_ring(line: Line, outline: shapely.Polygon) -> bool:
    return bool(np.abs(line.bounds - np.array(outline.bounds)).max() < 1e-9)


def _folds(piece: Piece, judge: Judge) -> None:
    mute = [line.name for line in piece.folds if line.fold not in ("mountain", "valley")]
    judge.holds(
        "folds", piece.file, not mute, f"{', '.join(mute[:3])} doesn't say mountain or valley"
    )
    out = [line.name for line in piece.folds if not piece.outline.covers(line.shape)]
    judge.holds("folds", piece.file, not out, f"{', '.join(out[:3])} leaves the paper")


def _width(piece: Piece, folder: Folder, judge: Judge) -> None:
    if not judge.holds(
        "width", piece.file, piece.paper.geom_type == "Polygon", "its cuts part it in pieces"
    ):
        return
    limit = _SHARE * folder.plan.least_width(piece.part.name)
    strips = narrow_strips(piece.paper, limit)
    if not strips:
        return
    narrowest = min(width for width, _ in strips)
    places = ", ".join(f"{width:.2f} mm at {at.x:.0f}, {at.y:.0f} mm" for width, at in strips[:3])
    judge.at_least("width", piece.file, narrowest, limit, f"it is narrow: {places} on the piece")
