"""Pieces nested by their true shapes: closer than by boxes, and repeatable.

Shapes are laid on a grid, each grown by half the gap and by what a cell's corner is from its
middle, so that a place free on the grid is free on paper: the grid errs on the wide side, by up to
one and a half cells between two pieces. Where a piece may lie is the correlation of what is taken
with its own cells.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray

from trace2pop.stages.sheets.packing import Spot

CELL = 1.0
"""Width of a grid cell in mm."""

_CORNER = 0.7072 * CELL
"""From a cell's middle to its corner."""

Cells = NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Shape:
    """A piece to nest: ``key``, its turns in degrees, and its paper at each, corner at 0 0."""

    key: int
    turns: tuple[float, ...]
    papers: tuple[shapely.Polygon, ...]


def nest(shapes: Sequence[Shape], area: tuple[float, float], gap: float) -> list[Spot]:
    """Return a place and a turn for each shape: largest first, each nearest the head.

    Every shape must fit the area by itself.
    """
    sheets: list[Cells] = []
    spots: list[Spot] = []
    kernels: dict[bytes, Cells] = {}
    first_try: dict[bytes, int] = {}
    for shape in sorted(shapes, key=lambda shape: (-shape.papers[0].area, shape.key)):
        grids = [_cells(paper, gap, kernels) for paper in shape.papers]
        same = shapely.to_wkb(shape.papers[0])
        # What was full for an equal piece stays full.
        for number in range(first_try.get(same, 0), len(sheets) + 1):
            if number == len(sheets):
                sheets.append(_empty(area, gap))
            found = _lowest(sheets[number], shape, grids, area)
            if found:
                turn, row, column = found
                _take(sheets[number], grids[turn], row, column)
                first_try[same] = number
                spots.append(Spot(shape.key, number, column * CELL, row * CELL, shape.turns[turn]))
                break
    return sorted(spots, key=lambda spot: (spot.sheet, spot.y, spot.x, spot.key))


def _margin(gap: float) -> int:
    """Return by how many cells a grown shape stands out on each side."""
    return int(np.ceil((gap / 2 + _CORNER) / CELL)) + 1


def _empty(area: tuple[float, float], gap: float) -> Cells:
    """Return a free sheet with the margin that grown shapes may stand out into."""
    rows, columns = (int(side / CELL) + 1 + 2 * _margin(gap) for side in (area[1], area[0]))
    return np.zeros((rows, columns), np.float32)


def _cells(paper: shapely.Polygon, gap: float, known: dict[bytes, Cells]) -> Cells:
    """Return the cells whose middle lies in the shape grown by half the gap and a cell's corner.

    So every cell that the shape grown by half the gap touches is among them.
    """
    name = shapely.to_wkb(paper)
    if name not in known:
        margin = _margin(gap)
        grown = paper.buffer(gap / 2 + _CORNER)
        shapely.prepare(grown)
        _, _, right, bottom = paper.bounds
        rows, columns = (int(np.ceil(side / CELL)) + 2 * margin for side in (bottom, right))
        y, x = (np.mgrid[:rows, :columns] - margin + 0.5) * CELL
        known[name] = shapely.contains_xy(grown, x, y).astype(np.float32)
    return known[name]


def _lowest(
    taken: Cells, shape: Shape, grids: list[Cells], area: tuple[float, float]
) -> tuple[int, int, int] | None:
    """Return (turn, row, column) of the free place nearest the head, then the left edge."""
    best: tuple[int, int, int] | None = None
    for turn, (paper, cells) in enumerate(zip(shape.papers, grids, strict=True)):
        _, _, right, bottom = paper.bounds
        rows = int((area[1] - bottom) / CELL + 1e-9) + 1
        columns = int((area[0] - right) / CELL + 1e-9) + 1
        if (taken == 0).sum() < cells.sum() * 0.5:
            continue
        overlap = cv2.filter2D(
            taken, cv2.CV_32F, cells, anchor=(0, 0), borderType=cv2.BORDER_CONSTANT
        )
        free = overlap[:rows, :columns] < 0.5
        if not free.any():
            continue
        row, column = divmod(int(free.argmax()), free.shape[1])
        if best is None or (row, column) < best[1:]:
            best = turn, row, column
    return best


def _take(taken: Cells, cells: Cells, row: int, column: int) -> None:
    part = taken[row : row + cells.shape[0], column : column + cells.shape[1]]
    np.maximum(part, cells[: part.shape[0], : part.shape[1]], out=part)
