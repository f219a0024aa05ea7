"""What every candidate beam does to the motif's bending, known at once.

A coarse net of the motif is factored once, on a bed far too soft to matter. Its flexibility between
all places a web line may hold, and from them to everywhere, is then a dense matrix, and the sag of
any set of beams is the solution of a system as small as the set. Left out is what flanges add to
the motif's stiffness; the proof on a fine net has it (``proof``), and the search is scaled by it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from trace2pop.mechanism.mesh import net
from trace2pop.mechanism.plate import Matrix, Plate, factored
from trace2pop.model.outline import FloatArray
from trace2pop.stages.supports.places import Stretch
from trace2pop.stages.supports.proof import Sheet, crease_springs

_SOFT = 1e-3
"""Stiffness of the bed in N/mm3 per N/mm2 of load: alone it would sink by 1000 mm."""
_GIVE = 1e-4
"""How far a node gives, mm/N: reactions of some hundredths of a newton move it by a nanometre."""


@dataclass(frozen=True)
class Fold:
    """A candidate beam: nodes ``first`` .. ``last`` (inclusive) of the stretch ``place``."""

    place: int
    first: int
    last: int


@dataclass(frozen=True, eq=False)
class Influence:
    """Flexibilities of the motif, in mm per N (between places) and mm (under the load).

    ``nodes[k]`` (n_k,) are the v of stretch k's nodes, which take rows ``offsets[k]`` on.
    ``between`` (N, N), ``everywhere`` (P, N), ``sunk`` (N,), ``all_sunk`` (P,) on the soft bed;
    ``points`` (P, 2) are where the sag is read.
    """

    nodes: tuple[FloatArray, ...]
    offsets: NDArray[np.int64]
    between: FloatArray
    everywhere: FloatArray
    sunk: FloatArray
    all_sunk: FloatArray
    points: FloatArray

    def rows(self, beams: Sequence[Fold]) -> NDArray[np.int64]:
        """Return the rows of the nodes that ``beams`` hold."""
        spans = [
            np.arange(self.offsets[b.place] + b.first, self.offsets[b.place] + b.last + 1)
            for b in beams
        ]
        return np.concatenate(spans) if spans else np.empty(0, dtype=np.int64)

    def sag(self, beams: Sequence[Fold]) -> FloatArray:
        """Return the sag (P,) of every point, held by ``beams``."""
        rows = self.rows(beams)
        force = np.linalg.solve(_firm(self.between[np.ix_(rows, rows)]), self.sunk[rows])
        result: FloatArray = self.all_sunk - self.everywhere[:, rows] @ force
        return result

    def with_one_more(self, beams: Sequence[Fold], place: int | None) -> FloatArray:
        """Return what any one fold added to ``beams`` does: (stretches, nodes, nodes).

        At [k, first, last] stands the sag at point ``place``, or where that is None the largest
        anywhere; it means nothing where the stretch has no such fold.
        """
        rows = self.rows(beams)
        held = self.between[:, rows]
        base = np.linalg.solve(_firm(held[rows]), np.column_stack([held.T, self.sunk[rows]]))
        where = slice(None) if place is None else slice(place, place + 1)
        sunk = self.sunk - held @ base[:, -1]
        seen = self.everywhere[where] - self.everywhere[where][:, rows] @ base[:, :-1]
        level = self.all_sunk[where] - self.everywhere[where][:, rows] @ base[:, -1]
        most = max(len(nodes) for nodes in self.nodes)
        own = np.tile(np.eye(most), (len(self.nodes), 1, 1))
        right = np.zeros((len(self.nodes), most, 1 + len(level)))
        for k, (start, nodes) in enumerate(zip(self.offsets, self.nodes, strict=True)):
            block, count = slice(start, start + len(nodes)), len(nodes)
            own[k, :count, :count] = _firm(
                self.between[block, block] - held[block] @ base[:, block]
            )
            right[k, :count, 0] = sunk[block]
            right[k, :count, 1:] = seen[:, block].T
        return np.stack([_nested(own, right, level, first) for first in range(most)], axis=1)


def _firm(matrix: FloatArray) -> FloatArray:
    """Return ``matrix`` with a trace of give at each node, so that it can always be factored."""
    return matrix + np.eye(len(matrix)) * _GIVE


def _nested(own: FloatArray, right: FloatArray, level: FloatArray, first: int) -> FloatArray:
    """Return (stretches, nodes): the largest sag held by the nodes from ``first`` to each.

    One elimination gives them all, as each fold is a leading block of the next. It is written out
    over all stretches at once: a threaded library is slow on many small systems.
    """
    count = own.shape[1]
    result = np.full(own.shape[:2], np.inf)
    left = own[:, first:, first:].copy()
    load = right[:, first:].copy()
    sag = np.tile(level, (len(own), 1))
    for k in range(count - first):
        pivot = left[:, k, k, None]
        sag -= load[:, k, :1] * load[:, k, 1:] / pivot
        result[:, first + k] = np.abs(sag).max(axis=1)
        ratio = left[:, k + 1 :, k] / pivot
        load[:, k + 1 :] -= ratio[:, :, None] * load[:, k, None, :]
        left[:, k + 1 :, k + 1 :] -= ratio[:, :, None] * left[:, k, None, k + 1 :]
    return result


def influence(
    shape: shapely.Geometry,
    places: Sequence[Stretch],
    sheet: Sheet,
    *,
    size: float,
    step: float,
) -> Influence:
    """Return the influence of all ``places`` on the part ``shape`` of a motif.

    Where ``shape`` is half of a mirror-symmetric motif the crease is its free edge: across it
    nothing pulls. ``size`` is the net's, ``step`` the distance of nodes along a web line.
    """
    crease = shapely.LineString([(0.0, -1e4), (0.0, 1e4)])
    plate = Plate(net(shape, [crease], size), hinge=0.0)
    count = len(plate.net.triangles)
    springs = crease_springs(plate, sheet)
    matrix = plate.stiffness(np.broadcast_to(sheet.bending, (count, 3, 3)), springs)
    load = plate.load(np.full(count, sheet.pressure))
    nodes = tuple(_nodes(place, step) for place in places)
    at = np.concatenate(
        [
            np.column_stack([np.full(len(v), place.u), v])
            for place, v in zip(places, nodes, strict=True)
        ]
    )
    reader = plate.deflection(at)
    solver = factored(matrix + _bed(plate, sheet.pressure))
    solved = solver.solve(np.column_stack([reader.T.toarray(), load]))
    points = len(plate.net.points)
    held = reader @ solved
    return Influence(
        nodes=nodes,
        offsets=np.cumsum([0, *(len(v) for v in nodes)])[:-1],
        between=held[:, :-1],
        everywhere=solved[:points, :-1],
        sunk=held[:, -1],
        all_sunk=solved[:points, -1],
        points=plate.net.points,
    )


def _nodes(place: Stretch, step: float) -> FloatArray:
    count = max(2, int(np.ceil((place.v1 - place.v0) / step)) + 1)
    return np.linspace(place.v0, place.v1, count)


def _bed(plate: Plate, pressure: float) -> Matrix:
    import scipy.sparse as sp

    lumped = np.zeros(plate.size)
    np.add.at(lumped, plate.net.triangles, plate.areas[:, None] / 3)
    bed: Matrix = sp.diags_array(lumped * pressure * _SOFT).tocsc()
    return bed
