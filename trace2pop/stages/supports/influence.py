"""What every candidate beam does to the motif's bending, known at once.

A coarse net of the motif is factored once, on a bed far too soft to matter. Its flexibility between
all places a web line may hold, and from them to everywhere, is then a dense matrix, and the sag of
any set of beams is the solution of a system as small as the set. Left out is what flanges add to
the motif's stiffness; the proof on a fine net has it (``proof``), and the search learns from it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

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
_MOST_STEPS = 14
"""Steps along a stretch, however long."""

Ints = NDArray[np.int64]


@dataclass(frozen=True, order=True)
class Fold:
    """A candidate fold line: nodes ``first`` .. ``last`` (inclusive) of the stretch ``place``."""

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
    offsets: Ints
    between: FloatArray
    everywhere: FloatArray
    sunk: FloatArray
    all_sunk: FloatArray
    points: FloatArray

    def whole(self, place: int) -> Fold:
        """Return a stretch's whole fold line."""
        return Fold(place, 0, len(self.nodes[place]) - 1)

    def scaled(self, ratio: FloatArray) -> "Influence":
        """Return the same with the sag of each point ``ratio`` (P,) times as large."""
        return replace(
            self, everywhere=self.everywhere * ratio[:, None], all_sunk=self.all_sunk * ratio
        )

    def rows(self, beams: Sequence[Fold]) -> Ints:
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

    def after(self, beams: Sequence[Fold], places: Sequence[int]) -> "Influence":
        """Return the influence of ``places`` alone on the motif already held by ``beams``."""
        rows = self.rows(beams)
        columns = self.rows([self.whole(place) for place in places])
        held = self.between[np.ix_(rows, columns)]
        right = np.column_stack([held, self.sunk[rows]])
        force = np.linalg.solve(_firm(self.between[np.ix_(rows, rows)]), right)
        nodes = tuple(self.nodes[place] for place in places)
        return Influence(
            nodes=nodes,
            offsets=np.cumsum([0, *(len(v) for v in nodes)])[:-1],
            between=self.between[np.ix_(columns, columns)] - held.T @ force[:, :-1],
            everywhere=self.everywhere[:, columns] - self.everywhere[:, rows] @ force[:, :-1],
            sunk=self.sunk[columns] - held.T @ force[:, -1],
            all_sunk=self.all_sunk - self.everywhere[:, rows] @ force[:, -1],
            points=self.points,
        )

    def table(
        self,
        beams: Sequence[Fold],
        places: Sequence[int],
        points: Ints | None = None,
        *,
        span: int | None = None,
    ) -> FloatArray:
        """Return what any one fold on ``places`` added to ``beams`` does: (places, nodes, nodes).

        At [k, first, last] stands the largest sag of ``points`` (all of them if None). It is
        infinite for folds of more than ``span`` nodes, and means nothing where stretch k has no
        such fold.
        """
        points = np.arange(len(self.all_sunk)) if points is None else points
        own, load, level = self._systems(beams, places, points)
        count = own.shape[1]
        starts = np.arange(count)
        return _nested(own, load, level, starts, count if span is None else min(span, count))

    def with_whole(self, beams: Sequence[Fold], places: Sequence[int], points: Ints) -> FloatArray:
        """Return the sag (places, points) with each whole stretch added to ``beams``."""
        own, load, level = self._systems(beams, places, points)
        force = np.linalg.solve(own, load[:, :, :1])
        result: FloatArray = np.abs(level - np.sum(force * load[:, :, 1:], axis=1))
        return result

    def _systems(
        self, beams: Sequence[Fold], places: Sequence[int], points: Ints
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return what stands to be solved for folds on ``places`` once ``beams`` hold.

        Their nodes' flexibility (places, nodes, nodes), the sag there and how it acts on ``points``
        (places, nodes, 1 + points), the sag of the points (points,). Short stretches are filled up
        with inert nodes.
        """
        rows = self.rows(beams)
        counts = np.array([len(self.nodes[place]) for place in places])
        number = np.arange(counts.max())
        real = number < counts[:, None]
        at = np.where(real, self.offsets[list(places), None] + number, 0)
        columns = at.ravel()
        held = self.between[np.ix_(rows, columns)]
        right = np.column_stack([held, self.sunk[rows]])
        force = np.linalg.solve(_firm(self.between[np.ix_(rows, rows)]), right)
        seen = self.everywhere[np.ix_(points, rows)]
        level = self.all_sunk[points] - seen @ force[:, -1]
        shape = (len(rows), *at.shape)
        own = self.between[at[:, :, None], at[:, None, :]]
        own -= held.reshape(shape).transpose(1, 2, 0) @ force[:, :-1].reshape(shape).swapaxes(0, 1)
        own = np.where(real[:, :, None] & real[:, None, :], own, 0.0)
        own += np.where(real, _GIVE, 1.0)[:, :, None] * np.eye(len(number))
        sunk = self.sunk[columns] - held.T @ force[:, -1]
        out = self.everywhere[np.ix_(points, columns)] - seen @ force[:, :-1]
        load = np.vstack([sunk, out]).reshape(-1, *at.shape).transpose(1, 2, 0)
        return own, np.where(real[:, :, None], load, 0.0), level


def _firm(matrix: FloatArray) -> FloatArray:
    """Return ``matrix`` with a trace of give at each node, so that it can always be factored."""
    return matrix + np.eye(len(matrix)) * _GIVE


def _nested(
    own: FloatArray, right: FloatArray, level: FloatArray, firsts: Ints, span: int
) -> FloatArray:
    """Return (stretches, nodes, nodes): the largest sag held by the nodes from first to last.

    One elimination gives all folds that start at one node, as each is a leading block of the next.
    It is written out over all stretches and starts at once: a threaded library is slow on many
    small systems.
    """
    count = own.shape[1]
    # Past the last node the window holds inert nodes that carry nothing.
    padded = np.zeros((len(own), count + span, count + span))
    padded[:] = np.eye(count + span)
    padded[:, :count, :count] = own
    loads = np.zeros((len(own), count + span, right.shape[2]))
    loads[:, :count] = right
    window = firsts[:, None] + np.arange(span)
    left = padded[:, window[:, :, None], window[:, None, :]]
    load = loads[:, window]
    sag = np.broadcast_to(level, (*load.shape[:2], len(level))).copy()
    result = np.full((len(own), count, count + span), np.inf)
    for k in range(span):
        pivot = left[..., k, k, None]
        sag -= load[..., k, :1] * load[..., k, 1:] / pivot
        result[:, firsts, firsts + k] = np.abs(sag).max(axis=-1, initial=0.0)
        ratio = left[..., k + 1 :, k] / pivot
        load[..., k + 1 :, :] -= ratio[..., None] * load[..., k, None, :]
        left[..., k + 1 :, k + 1 :] -= ratio[..., None] * left[..., k, None, k + 1 :]
    return result[:, :, :count]


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
    # Column by column: with many at once the threads of the library wait for one another.
    forces = reader.toarray()
    solved = np.stack([solver.solve(force) for force in (*forces, load)], axis=1)
    points = len(plate.net.points)
    held = reader @ solved
    between = held[:, :-1]
    return Influence(
        nodes=nodes,
        offsets=np.cumsum([0, *(len(v) for v in nodes)])[:-1],
        between=(between + between.T) / 2,
        everywhere=solved[:points, :-1],
        sunk=held[:, -1],
        all_sunk=solved[:points, -1],
        points=plate.net.points,
    )


def _nodes(place: Stretch, step: float) -> FloatArray:
    length = place.v1 - place.v0
    count = min(int(np.ceil(length / step)), _MOST_STEPS)
    return np.linspace(place.v0, place.v1, max(count, 1) + 1)


def _bed(plate: Plate, pressure: float) -> Matrix:
    import scipy.sparse as sp

    lumped = np.zeros(plate.size)
    np.add.at(lumped, plate.net.triangles, plate.areas[:, None] / 3)
    bed: Matrix = sp.diags_array(lumped * pressure * _SOFT).tocsc()
    return bed
