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
_AT_ONCE = 16
"""Forces solved for together: with more of them the factor leaves the processor's cache."""
_TELLING = 8
"""Points that decide first whether a fold line is looked at any further."""
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
        force = _solved(_firm(self.between[rows[:, None], rows]), self.sunk[rows])
        result: FloatArray = self.all_sunk - force @ self.everywhere.T[rows]
        return result

    def after(self, beams: Sequence[Fold], places: Sequence[int]) -> "Influence":
        """Return the influence of ``places`` alone on the motif already held by ``beams``."""
        rows = self.rows(beams)
        columns = self.rows([self.whole(place) for place in places])
        held = self.between[np.ix_(rows, columns)]
        right = np.column_stack([held, self.sunk[rows]])
        force = _solved(_firm(self.between[np.ix_(rows, rows)]), right)
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
        points: Ints,
        *,
        span: int,
        limit: float,
    ) -> FloatArray:
        """Return what any one fold on ``places`` added to ``beams`` does: (places, nodes, nodes).

        At [k, first, last] stands the largest sag of ``points`` where that is within ``limit``, or
        else some sag over it. It is infinite for folds of more than ``span`` nodes, and means
        nothing where stretch k has no such fold.
        """
        if len(points) <= 2 * _TELLING or len(places) < _TELLING:
            return _nested(*self._systems(beams, places, points), span)
        # Most folds are out of the question at the points that sag most.
        order = np.argsort(-np.abs(self.sag(beams)[points]), kind="stable")
        worst, others = points[order[:_TELLING]], points[order[_TELLING:]]
        result = _nested(*self._systems(beams, places, worst), span)
        left = np.flatnonzero((result <= limit).any(axis=(1, 2)))
        if len(left):
            more = _nested(*self._systems(beams, [places[int(k)] for k in left], others), span)
            count = more.shape[1]
            result[left, :count, :count] = np.maximum(result[left, :count, :count], more)
        return result

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
        held = self.between[rows[:, None], columns]
        seen = self.everywhere[points[:, None], rows]
        # The whole is the sum of what the beams take, over their modes: A = L L', H = L W.
        modes = _modes(
            _firm(self.between[rows[:, None], rows]),
            np.column_stack([held, self.sunk[rows], seen.T]),
        )
        mine, theirs = modes[:, : len(columns)], modes[:, len(columns) :]
        level = self.all_sunk[points] - theirs[:, 0] @ theirs[:, 1:]
        each = mine.T.reshape(*at.shape, len(rows))
        own = self.between[at[:, :, None], at[:, None, :]] - each @ each.swapaxes(1, 2)
        taken = each @ theirs
        load = np.empty((*at.shape, 1 + len(points)))
        load[:, :, 0] = self.sunk[at] - taken[:, :, 0]
        load[:, :, 1:] = self.everywhere.T[at[:, :, None], points] - taken[:, :, 1:]
        if not real.all():
            own[~(real[:, :, None] & real[:, None, :])] = 0.0
            load[~real] = 0.0
        diagonal = np.einsum("kii->ki", own)
        diagonal += np.where(real, _GIVE, 1.0)
        return own, load, level


def _firm(matrix: FloatArray) -> FloatArray:
    """Return ``matrix``, now with a trace of give at each node, so it can always be factored."""
    matrix.ravel()[:: len(matrix) + 1] += _GIVE
    return matrix


def _solved(matrix: FloatArray, right: FloatArray) -> FloatArray:
    """Return the solution (n,) or (n, k) of a symmetric positive definite system."""
    from scipy.linalg.lapack import dposv

    result: FloatArray = dposv(matrix, right)[1]
    return result


def _modes(matrix: FloatArray, right: FloatArray) -> FloatArray:
    """Return W (n, k) with L W = ``right``, where L L' is the positive definite ``matrix``."""
    from scipy.linalg.lapack import dpotrf, dtrtrs

    if not len(matrix):
        return right
    result: FloatArray = dtrtrs(dpotrf(matrix, lower=1)[0], right, lower=1)[0]
    return result


def _nested(own: FloatArray, right: FloatArray, level: FloatArray, span: int) -> FloatArray:
    """Return (stretches, nodes, nodes): the largest sag held by the nodes from first to last.

    A lattice: what the nodes from ``first`` to ``last - 1`` leave of ``last``, and those from
    ``first + 1`` to ``last`` of ``first``, follow from the same of a node less. What each node
    takes from the sag beside those before it adds up.
    """
    count = own.shape[1]
    node = np.arange(count)
    result = np.full(own.shape, np.inf)
    ahead = behind = np.concatenate([own, right], axis=2)
    freed = held = own[:, node, node]
    sag = level - right[:, :, :1] * right[:, :, 1:] / held[:, :, None]
    result[:, node, node] = np.abs(sag).max(axis=-1, initial=0.0)
    for length in range(1, min(span, count)):
        first, last = node[:-length], node[length:]
        ahead, behind = ahead[:, :-1], behind[:, 1:]
        both = behind[:, first, first]
        ahead, behind = (
            ahead - (both / held[:, 1:])[:, :, None] * behind,
            behind - (both / freed[:, :-1])[:, :, None] * ahead,
        )
        freed, held = ahead[:, first, first], behind[:, first, last]
        taken = behind[:, :, count : count + 1] / held[:, :, None]
        sag = sag[:, :-1] - taken * behind[:, :, count + 1 :]
        result[:, first, last] = np.abs(sag).max(axis=-1, initial=0.0)
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
    bending, pressure = sheet.on(plate.net)
    matrix = plate.stiffness(bending, crease_springs(plate, sheet))
    load = plate.load(pressure)
    nodes = tuple(_nodes(place, step) for place in places)
    at = np.concatenate(
        [
            np.column_stack([np.full(len(v), place.u), v])
            for place, v in zip(places, nodes, strict=True)
        ]
    )
    reader = plate.deflection(at)
    solver = factored(matrix + _bed(plate, sheet.pressure))
    forces = np.vstack([reader.toarray(), load])
    parts = range(0, len(forces), _AT_ONCE)
    solved = np.hstack([solver.solve(forces[k : k + _AT_ONCE].T) for k in parts])
    points = len(plate.net.points)
    held = reader @ solved
    between = held[:, :-1]
    return Influence(
        nodes=nodes,
        offsets=np.cumsum([0, *(len(v) for v in nodes)])[:-1],
        between=(between + between.T) / 2,
        everywhere=np.asfortranarray(solved[:points, :-1]),
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
