"""A written folder, read back: pieces rebuilt from their files, sheets with what they show."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import shapely

from trace2pop.checks.drawing import Drawing, Line, read_drawing
from trace2pop.checks.plan import Plan, PlanPart, PlanPlacement, PlanSheet, read_plan
from trace2pop.checks.report import Judge
from trace2pop.model.outline import FloatArray

DELIVERED = ("guide.pdf", "page.html", "preview.png", "mockup.pdf")
"""What a card's folder holds beside what card.json lists."""


@dataclass(frozen=True, eq=False)
class Piece:
    """One piece as its own file draws it."""

    part: PlanPart
    drawing: Drawing
    lines: tuple[Line, ...]

    @property
    def file(self) -> str:
        """The piece's file."""
        return self.drawing.file

    @property
    def cuts(self) -> tuple[Line, ...]:
        """Everything that is cut."""
        return tuple(line for line in self.lines if line.op == "cut")

    @property
    def folds(self) -> tuple[Line, ...]:
        """Everything that is folded: scores, dashes and pencilled lines."""
        return tuple(line for line in self.lines if line.op != "cut")

    @cached_property
    def outline(self) -> shapely.Polygon:
        """The largest closed contour, filled; empty where there is none."""
        rings = [_filled(line) for line in self.cuts if line.closed]
        return max(rings, key=lambda ring: ring.area, default=shapely.Polygon())

    @cached_property
    def holes(self) -> tuple[Line, ...]:
        """The closed contours inside the outline that are no slits."""
        closed = [line for line in self.cuts if line.closed]
        if not closed:
            return ()
        largest = max(closed, key=lambda line: _filled(line).area)
        return tuple(line for line in closed if line is not largest and line.kind != "slit")

    @cached_property
    def paper(self) -> shapely.Geometry:
        """What is left of the sheet: the outline without its holes, slots included as holes."""
        slots = [line for line in self.cuts if line.closed and line.kind == "slit"]
        return self.outline.difference(
            shapely.union_all([_filled(line) for line in (*self.holes, *slots)])
        )

    def on_card(self, shape: shapely.Geometry) -> shapely.Geometry:
        """Return a shape of the piece in card coordinates."""
        assert self.part.origin is not None
        return shapely.transform(shape, lambda points: points + np.array(self.part.origin))

    def line_on_card(self, line: Line) -> Line:
        """Return a line of the piece in card coordinates."""
        assert self.part.origin is not None
        u, v = self.part.origin
        return line.moved(np.array([[1.0, 0, u], [0, 1.0, v]]))


@dataclass(frozen=True, eq=False)
class ShownSheet:
    """A sheet as its file draws it."""

    plan: PlanSheet
    drawing: Drawing


@dataclass(frozen=True, eq=False)
class Folder:
    """Everything that could be read."""

    path: Path
    plan: Plan
    pieces: Mapping[str, Piece]
    sheets: tuple[ShownSheet, ...]


def read_folder(path: Path, judge: Judge) -> Folder | None:
    """Return the folder read back, None where its plan can't be used; faults are recorded."""
    for name in DELIVERED:
        there = (path / name).is_file() and (path / name).stat().st_size > 0
        judge.holds("files", name, there, "it is missing or empty")
    plan = read_plan(path, judge)
    if plan is None:
        return None
    pieces = {}
    for part in plan.parts:
        drawing = read_drawing(path, part.file, judge)
        if drawing is not None:
            lines = drawing.groups.get(part.name, ())
            judge.holds("plan", part.file, bool(lines), f"it holds no group named {part.name}")
            pieces[part.name] = Piece(part, drawing, lines)
    shown = []
    for sheet in plan.sheets:
        drawing = read_drawing(path, sheet.file, judge)
        if drawing is not None:
            shown.append(ShownSheet(sheet, drawing))
    return Folder(path, plan, pieces, tuple(shown))


def placed_by(piece: Piece, placement: PlanPlacement) -> FloatArray:
    """Return the matrix (2, 3) that turns a piece clockwise and puts its box's corner in place."""
    turn = np.radians(placement.rotation_deg)
    cos, sin = round(float(np.cos(turn)), 12), round(float(np.sin(turn)), 12)
    spin = np.array([[cos, -sin], [sin, cos]])
    width, height = piece.drawing.size
    box = np.array([(0, 0), (width, 0), (width, height), (0, height)]) @ spin.T
    shift = np.array([placement.x, placement.y]) - box.min(axis=0)
    return np.column_stack([spin, shift])


def _filled(line: Line) -> shapely.Polygon:
    """Return a closed line as an area, made whole where it crosses itself."""
    shape = shapely.Polygon(line.points)
    return shape if shape.is_valid else shape.buffer(0)
