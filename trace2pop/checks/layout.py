"""The sheets: each piece as its own file has it, within the cutter, clear of others, all there."""

from collections import Counter
from collections.abc import Sequence

import numpy as np
import shapely

from trace2pop.checks.drawing import Line
from trace2pop.checks.folder import Folder, Piece, ShownSheet, placed_by
from trace2pop.checks.plan import PlanPlacement
from trace2pop.checks.report import Judge

SHIFT = 0.02
"""How far two drawings of the same line may be apart, in mm: flattening and four decimals."""

_MOCKUP = "mockup"


def check_layout(folder: Folder, judge: Judge) -> None:
    """Judge every sheet."""
    for sheet in folder.sheets:
        _sheet_size(sheet, folder, judge)
        _stray(sheet, judge)
        shapes = _shown(sheet, folder, judge)
        _within(sheet, shapes, folder, judge)
        _apart(sheet, shapes, folder, judge)
    _quantity(folder, judge)


def matched(wanted: Sequence[Line], found: Sequence[Line]) -> list[str]:
    """Return what differs between two drawings of the same lines; nothing where they agree.

    Lines may begin elsewhere or run the other way. Names don't count: geometry, operation, kind and
    closure do.
    """
    left = list(found)
    faults = []
    for line in wanted:
        near = [
            other
            for other in left
            if (other.op, other.kind, other.fold) == (line.op, line.kind, line.fold)
            and other.closed == line.closed
            and np.abs(other.bounds - line.bounds).max() < 1.0
        ]
        shifts = [_shift(line, other) for other in near]
        if not shifts:
            faults.append(f"{line.name} is missing or not where it should be")
            continue
        shift = min(shifts)
        left.remove(near[shifts.index(shift)])
        if shift > SHIFT:
            faults.append(f"{line.name} is {shift:.2f} mm off")
    return faults + [f"{line.name} is too much" for line in left]


def _shift(first: Line, second: Line) -> float:
    return float(shapely.hausdorff_distance(first.shape, second.shape))


def _sheet_size(sheet: ShownSheet, folder: Folder, judge: Judge) -> None:
    for name, measured, wanted in zip(
        ("wide", "high"), sheet.drawing.size, sheet.plan.size, strict=True
    ):
        text = f"it is {measured:.2f} mm {name}; the plan says {wanted:.2f} mm"
        judge.same("size", sheet.drawing.file, measured, wanted, 0.01, text)


def _group(placement: PlanPlacement) -> str:
    return f"{placement.part}-{placement.copy}"


def _stray(sheet: ShownSheet, judge: Judge) -> None:
    planned = {_group(placement) for placement in sheet.plan.placements}
    stray = [
        line.name
        for group, lines in sheet.drawing.groups.items()
        for line in lines
        if group not in planned and line.op
    ]
    text = f"{', '.join(stray[:3])} belongs to no piece of the plan"
    judge.holds("stray", sheet.drawing.file, not stray, text)


def _shown(
    sheet: ShownSheet, folder: Folder, judge: Judge
) -> list[tuple[PlanPlacement, shapely.Polygon]]:
    """Return the outline of each placed piece as the sheet draws it, and judge the drawing."""
    shapes = []
    for placement in sheet.plan.placements:
        piece = folder.pieces.get(placement.part)
        where = f"{sheet.drawing.file}, {_group(placement)}"
        if not judge.holds(
            "placed", where, piece is not None, "the plan lists no such piece, or it can't be read"
        ):
            continue
        assert piece is not None
        lines = sheet.drawing.groups.get(_group(placement), ())
        matrix = placed_by(piece, placement)
        faults = matched([line.moved(matrix) for line in piece.lines], lines)
        judge.holds("placed", where, not faults, "; ".join(faults[:3]))
        same = piece.part.stock == sheet.plan.stock
        text = f"it is made of {piece.part.stock}, the sheet is {sheet.plan.stock}"
        judge.holds("placed", where, same, text)
        outline = Piece(piece.part, sheet.drawing, lines).outline
        if not outline.is_empty:
            shapes.append((placement, outline))
    return shapes


def _within(
    sheet: ShownSheet,
    shapes: Sequence[tuple[PlanPlacement, shapely.Polygon]],
    folder: Folder,
    judge: Judge,
) -> None:
    (area_width, area_height), inset = folder.plan.cutter
    width, height = (
        min(side, reach)
        for side, reach in zip(sheet.plan.size, (area_width, area_height), strict=True)
    )
    for placement, shape in shapes:
        left, top, right, bottom = shape.bounds
        clear = min(left, top, width - right, height - bottom)
        text = (
            f"it comes within {clear:.2f} mm of the sheet's edge; the cutter needs {inset:.1f} mm"
        )
        where = f"{sheet.drawing.file}, {_group(placement)}"
        judge.at_least("on-sheet", where, clear + 1e-3, inset, text)


def _apart(
    sheet: ShownSheet,
    shapes: Sequence[tuple[PlanPlacement, shapely.Polygon]],
    folder: Folder,
    judge: Judge,
) -> None:
    gap = folder.plan.choice("cutter", "gap")
    outlines = [shape for _, shape in shapes]
    tree = shapely.STRtree(outlines)
    closest, names = np.inf, ""
    pairs = tree.query(outlines, predicate="dwithin", distance=2 * gap + 1).T if outlines else []
    for first, second in pairs:
        if first < second:
            clear = _clear(outlines[first], outlines[second])
            if clear < closest:
                closest = clear
                names = f"{_group(shapes[first][0])} and {_group(shapes[second][0])}"
    if np.isfinite(closest):
        text = (
            f"{names} overlap by {-closest:.2f} mm"
            if closest < 0
            else f"{names} are {closest:.2f} mm apart; {gap:.1f} mm is asked for"
        )
        judge.at_least("apart", sheet.drawing.file, closest + 0.01, gap, text)


def _clear(first: shapely.Polygon, second: shapely.Polygon) -> float:
    """Return the distance of two outlines, below 0 where they overlap."""
    shared = first.intersection(second)
    if shared.area > 0:
        return -float(np.sqrt(shared.area))
    return float(first.distance(second))


def _quantity(folder: Folder, judge: Judge) -> None:
    copies = round(folder.plan.choice("cutter", "copies"))
    laid = Counter(
        (item.part, item.copy) for sheet in folder.plan.sheets for item in sheet.placements
    )
    for part in folder.plan.parts:
        times = 1 if part.name.startswith(_MOCKUP) else copies
        numbers = sorted(copy for name, copy in laid.elements() if name == part.name)
        wanted = list(range(1, part.quantity * times + 1))
        text = f"{len(numbers)} copies are laid out, {len(wanted)} are needed"
        if len(numbers) == len(wanted) and numbers != wanted:
            text = "a copy is laid out twice and another not at all"
        judge.holds("quantity", part.name, numbers == wanted, text)
