"""A sheet filled with pieces by their true shapes: closer than by boxes, and repeatable.

Shapes are laid on a grid, each grown by half the gap and by what a cell's corner is from its
middle, so that a place free on the grid is free on paper: the grid errs on the wide side, by up to
one and a half cells between two pieces. Where a piece may lie is the correlation of what is taken
with its own cells.
"""

from collections.abc import Iterator, Sequence

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray

from trace2pop.stages.sheets.kinds import Kind, Layout, Order, Room, Spot

CELL = 1.0
"""Width of a grid cell in mm."""

_CORNER = 0.7072 * CELL
"""From a cell's middle to its corner."""

_BAND = 48
"""How many rows are looked through at a time."""

Cells = NDArray[np.float32]


class ByShapes:
    """Fills sheets of one size with some kinds of pieces."""

    def __init__(self, kinds: Sequence[Kind], room: Room) -> None:
        self.kinds = kinds
        self.room = room
        self.margin = int(np.ceil((room.gap / 2 + _CORNER) / CELL)) + 1
        self.cells = [self._cells(kind) for kind in kinds]

    def __call__(self, order: Order) -> Iterator[Layout]:
        """Yield the sheet filled in that order: each piece nearest the head, then the left edge."""
        rows, columns = (
            int(side / CELL) + 1 + 2 * self.margin for side in (self.room.height, self.room.width)
        )
        taken = np.zeros((rows, columns), np.float32)
        full = [[0] * len(cells) for cells in self.cells]
        spots = []
        for number, most in order:
            kind = self.kinds[number]
            for _ in range(most):
                found = self._lowest(taken, number, full[number])
                if found is None:
                    break  # nor would another one of its kind fit
                row, column, turn = found
                _take(taken, self.cells[number][turn], row, column)
                spots.append(Spot(number, column * CELL, row * CELL, kind.turns[turn]))
        yield tuple(spots)

    def _cells(self, kind: Kind) -> list[Cells]:
        """Return, for each turn, the cells whose middle lies in the grown shape.

        It is grown by half the gap and a cell's corner, so that every cell that the shape grown by
        half the gap touches is among them. A turn that changes nothing is left out.
        """
        found: list[Cells] = []
        for paper in kind.papers:
            grown = paper.buffer(self.room.gap / 2 + _CORNER)
            shapely.prepare(grown)
            sides = (int(np.ceil(s / CELL)) + 2 * self.margin for s in (kind.height, kind.width))
            y, x = (np.mgrid[tuple(slice(side) for side in sides)] - self.margin + 0.5) * CELL
            cells = shapely.contains_xy(grown, x, y).astype(np.float32)
            if not any(np.array_equal(cells, other) for other in found):
                found.append(cells)
        return found

    def _lowest(self, taken: Cells, number: int, full: list[int]) -> tuple[int, int, int] | None:
        """Return (row, column, turn) of the free place nearest the head, then the left edge.

        ``full`` holds, for each turn, how many rows from the head are known to have no place: what
        is full stays full. It is brought up to date.
        """
        kind = self.kinds[number]
        rows = int((self.room.height - kind.height) / CELL + 1e-9) + 1
        columns = int((self.room.width - kind.width) / CELL + 1e-9) + 1
        places = []
        for turn, cells in enumerate(self.cells[number]):
            while full[turn] < rows:
                band = taken[full[turn] : full[turn] + _BAND + cells.shape[0]]
                overlap = cv2.filter2D(
                    band, cv2.CV_32F, cells, anchor=(0, 0), borderType=cv2.BORDER_CONSTANT
                )
                free = overlap[: min(_BAND, rows - full[turn]), :columns] < 0.5
                if free.any():
                    row, column = divmod(int(free.argmax()), columns)
                    full[turn] += row
                    places.append((full[turn], column, turn))
                    break
                full[turn] += _BAND
        return min(places, default=None)


def _take(taken: Cells, cells: Cells, row: int, column: int) -> None:
    part = taken[row : row + cells.shape[0], column : column + cells.shape[1]]
    np.maximum(part, cells[: part.shape[0], : part.shape[1]], out=part)
