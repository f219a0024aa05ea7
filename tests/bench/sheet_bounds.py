"""How many equal pieces a sheet holds at most, proved by trying all places on a grid.

Two pieces at grid places count as lying off each other where any move within a step of that lets
them: so a set of pieces that lie off each other is a clique of this graph, wherever they lie. Where
the graph has no clique of n, no sheet holds n of them.
"""

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from trace2pop.stages.sheets.apart import free_moves, most_of
from trace2pop.stages.sheets.kinds import Kind, Room

Graph = NDArray[np.bool_]

_STEPS = (6.0, 4.0, 3.0)
_LARGE = 0.1
"""Share of the sheet from which a piece is worth the trouble."""

_MOST = 4


def most_by_trying(kind: Kind, room: Room) -> float:
    """Return how many of a kind a sheet holds at most, infinity where that isn't known."""
    known = most_of(kind, room)
    if kind.width * kind.height < _LARGE * room.width * room.height:
        return known
    for pieces in range(2, _MOST + 1):
        if known < pieces or any(_never(kind, room, pieces, step) for step in _STEPS):
            return min(known, pieces - 1)
    return known


def _never(kind: Kind, room: Room, pieces: int, step: float) -> bool:
    graph = _graph(kind, room, step)
    # The sheet turned by half a turn is the same: one piece may be taken at its first turn.
    return not _has_clique(graph, pieces, len(graph) // 2)


def _graph(kind: Kind, room: Room, step: float) -> Graph:
    """Return which places, first those of one turn, then of the other, may be taken together."""
    sides = (room.width - kind.width, room.height - kind.height)
    across, down = (math.ceil(max(side, 0.0) / step) + 1 for side in sides)
    x = np.arange(1 - across, across) * step
    y = np.arange(1 - down, down) * step
    moves_y, moves_x = np.meshgrid(y, x, indexing="ij")
    cells = shapely.box(moves_x - step, moves_y - step, moves_x + step, moves_y + step)
    row, column = np.divmod(np.arange(across * down), across)
    rows = row[None] - row[:, None] + down - 1
    columns = column[None] - column[:, None] + across - 1
    same, turned = (
        shapely.intersects(
            cells,
            shapely.union_all(free_moves(kind.papers[0], paper, kind, kind, room)),
        )[rows, columns]
        for paper in kind.papers
    )
    return np.block([[same, turned], [turned.T, same.T]])


def _has_clique(graph: Graph, size: int, first: int) -> bool:
    """Whether ``size`` places may all be taken together, one of them among the ``first``."""
    if size == 2:
        return bool(graph[:first].any())
    if size == 3:
        weights = graph.astype(np.float32)
        return bool(((weights[:first] @ weights)[graph[:first]] > 0.5).any())
    for place in range(first):
        near = np.flatnonzero(graph[place])
        if len(near) >= size - 1 and _has_clique(graph[np.ix_(near, near)], size - 1, len(near)):
            return True
    return False
