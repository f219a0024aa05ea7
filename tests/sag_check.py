"""How far a motif sags, by another finite element on another mesh than the program's.

Finite cells (Parvizian, Duester, Rank, Comput. Mech. 41, 2007): a square grid that takes no notice
of the outline, each cell's stiffness summed over the small squares of it that lie on paper. In each
a bicubic rectangle (Bogner, Fox, Schmit, 1965), whose slopes are continuous, cut along the crease.
Web lines are rows of stiff springs. Forces in N, lengths in mm.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
import shapely
from numpy.typing import NDArray
from scipy.sparse.linalg import splu

Floats = NDArray[np.float64]

SQUARES = 4
"""Small squares along a cell's side."""
VOID = 1e-6
"""Stiffness of a cell off the paper, as a share: keeps the system solvable."""
BED = 1e-3
"""Stiffness under a unit pressure of a bed so soft that what hangs free sinks by a metre."""
FIRM = 1e3
"""N/mm of each point of a web line: a reaction of 0.01 N moves it by 10 nm."""
EVERY = 0.5
"""Points along a web line, mm."""


@dataclass(frozen=True)
class Line:
    """A beam: a web line at ``u`` from ``v0`` to ``v1`` with what its flanges cover."""

    u: float
    v0: float
    v1: float
    flanges: shapely.Geometry


def rigidity(thickness: float, e_along: float, e_across: float, nu: float) -> Floats:
    """Return an orthotropic sheet's D (3, 3) in N mm, its grain along v, moduli in N/mm2.

    Huber's twisting stiffness (Timoshenko and Woinowsky-Krieger, 1959, Art. 86, from memory).
    """
    mean = np.sqrt(e_along * e_across)
    d = np.array([[e_across, nu * mean, 0], [nu * mean, e_along, 0], [0, 0, (1 - nu) * mean / 2]])
    return d * thickness**3 / 12 / (1 - nu**2)


def _hermite(x: Floats, order: int) -> Floats:
    """Return the four cubics (n, 4) on 0..1, or a derivative: value and slope at 0, then at 1."""
    powers = [[1, 0, -3, 2], [0, 1, -2, 1], [0, 0, 3, -2], [0, 0, -1, 1]]
    polynomials = [np.polynomial.Polynomial(row) for row in powers]
    return np.stack([(p.deriv(order) if order else p)(x) for p in polynomials], axis=-1)


def _basis(x: Floats, y: Floats, across: int, along: int, cell: float) -> Floats:
    """Return the 16 functions (n, 16) of a cell, or a derivative; unknowns w, wx, wy, wxy a node.

    Nodes in the order (0, 0), (1, 0), (0, 1), (1, 1), ``x`` and ``y`` (n,) from 0 to 1.
    """
    one = _hermite(x, across) / cell**across * np.array([1, cell, 1, cell])
    other = _hermite(y, along) / cell**along * np.array([1, cell, 1, cell])
    columns = [
        one[:, 2 * right + slope] * other[:, 2 * low + lean]
        for low in (0, 1)
        for right in (0, 1)
        for lean in (0, 1)
        for slope in (0, 1)
    ]
    return np.stack(columns, axis=-1)


class Sheet:
    """A sheet on square cells of ``cell`` mm; ``hinged`` where its crease u = 0 takes no moment."""

    def __init__(self, paper: shapely.Geometry, cell: float = 2.0, *, hinged: bool = True) -> None:
        left, top, right, bottom = paper.bounds
        self.cell = cell
        self.low = np.array([np.floor(left / cell) * cell, top])
        self.shape = (
            int(np.ceil((bottom - top) / cell)) + 1,
            int(np.ceil((right - self.low[0]) / cell)) + 1,
        )
        self.share = self.covered(paper)
        self.rows, self.cols = np.nonzero(self.share.any(axis=(2, 3)))
        count = (self.shape[0] + 1) * (self.shape[1] + 1)
        node = self.rows * (self.shape[1] + 1) + self.cols
        nodes = np.stack([node, node + 1, node + self.shape[1] + 1, node + self.shape[1] + 2], 1)
        self.owner = (4 * nodes[:, :, None] + np.arange(4)).reshape(-1, 16)
        if hinged:
            self._cut(nodes, count)
        self.used = np.unique(self.owner)
        number = np.full(8 * count, -1)
        number[self.used] = np.arange(len(self.used))
        self.owner = number[self.owner]

    def _cut(self, nodes: NDArray[np.int64], count: int) -> None:
        """Give the cells right of the crease slopes across it of their own: wx and wxy."""
        crease = round(-self.low[0] / self.cell)
        right = (self.cols == crease)[:, None] & np.array([True, False, True, False])
        for part in (1, 3):
            own = self.owner[:, part::4]
            self.owner[:, part::4] = np.where(right, 4 * count + 4 * nodes + part, own)

    def covered(self, zone: shapely.Geometry) -> Floats:
        """Return (rows, cols, SQUARES, SQUARES) which small squares' middles lie in a zone."""
        rows, cols = self.shape
        step = self.cell / SQUARES
        v = self.low[1] + (np.arange(rows * SQUARES) + 0.5) * step
        u = self.low[0] + (np.arange(cols * SQUARES) + 0.5) * step
        across, along = np.meshgrid(u, v)
        shapely.prepare(zone)
        inside = shapely.contains_xy(zone, across.ravel(), along.ravel())
        found: Floats = inside.reshape(rows, SQUARES, cols, SQUARES).swapaxes(1, 2).astype(float)
        return found

    def sag(
        self,
        bending: Floats,
        beam: Floats,
        pressure: float,
        lines: Sequence[Line],
        fold: float = 0.0,
    ) -> tuple[Floats, Floats]:
        """Return places (n, 2) on the paper and how far each sinks (n,) on the ``lines``.

        ``bending`` and ``beam`` (3, 3) are the rigidities of motif and flange, ``pressure`` in
        N/mm2. Flanges add their stiffness as layers that slide. ``fold`` is the crease's own
        stiffness: moment per length and radian, N.
        """
        paper = self.share[self.rows, self.cols]
        zones = np.zeros_like(self.share)
        for line in lines:
            zones = np.maximum(zones, self.covered(line.flanges))
        flanges = zones[self.rows, self.cols] * paper
        squares, load, bed = self._squares(bending), self._loads(), self._beds()
        block = np.tensordot(paper, squares, 2) + np.tensordot(flanges, self._squares(beam), 2)
        block += VOID * squares.sum(axis=(0, 1))
        block += pressure * BED * np.tensordot(paper, bed, 2)
        force = np.zeros(len(self.used))
        np.add.at(force, self.owner, pressure * np.tensordot(paper, load, 2))
        size = (len(self.used),) * 2
        rows = np.repeat(self.owner, 16, axis=1).ravel()
        stiff = sp.coo_array((block.ravel(), (rows, np.tile(self.owner, 16).ravel())), size)
        stiff = sp.csc_array(stiff) + fold * self._crease()
        held = self._read(np.concatenate([_points(line) for line in lines]))
        solver = splu(
            sp.csc_matrix(stiff + FIRM * (held.T @ held)),
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            options={"SymmetricMode": True},
        )
        places = self._places(paper)
        return places, self._read(places) @ solver.solve(force)

    def _crease(self) -> sp.csc_array:
        """Return the stiffness of a unit spring all along the crease, where there is paper."""
        crease = round(-self.low[0] / self.cell)
        index = np.full(self.shape, -1)
        index[self.rows, self.cols] = np.arange(len(self.rows))
        at, weight = np.polynomial.legendre.leggauss(4)
        value = _hermite((at + 1) / 2, 0) * np.array([1, self.cell, 1, self.cell])
        whole = self.cell / 2 * value.T @ (weight[:, None] * value)
        size = (len(self.used),) * 2
        total = sp.csc_array(size)
        for row in range(self.shape[0]):
            if not 0 < crease < self.shape[1] or (index[row, crease - 1 : crease + 1] < 0).any():
                continue
            left, right = self.owner[index[row, crease - 1]], self.owner[index[row, crease]]
            # wx and wxy of the left cell's right nodes, and of the right cell's left nodes.
            own = np.concatenate([left[[5, 7, 13, 15]], right[[1, 3, 9, 11]]])
            jump = np.vstack([np.eye(4), -np.eye(4)])
            paper = np.minimum(self.share[row, crease - 1, :, -1], self.share[row, crease, :, 0])
            block = paper.mean() * jump @ whole @ jump.T
            at_rows, at_cols = np.repeat(own, 8), np.tile(own, 8)
            total = total + sp.csc_array((block.ravel(), (at_rows, at_cols)), size)
        return total

    def _gauss(self, row: int, col: int) -> tuple[Floats, Floats, Floats]:
        """Return x, y (16,) on the cell and weights in mm2 of a small square's Gauss points."""
        at, weight = np.polynomial.legendre.leggauss(4)
        one, other = np.meshgrid((at + 1) / 2, (at + 1) / 2)
        area = np.outer(weight, weight).ravel() / 4 * (self.cell / SQUARES) ** 2
        return (col + one.ravel()) / SQUARES, (row + other.ravel()) / SQUARES, area

    def _squares(self, bending: Floats) -> Floats:
        """Return the stiffness (SQUARES, SQUARES, 16, 16) of each small square of a cell."""
        found = np.zeros((SQUARES, SQUARES, 16, 16))
        for row, col in np.ndindex(SQUARES, SQUARES):
            x, y, area = self._gauss(row, col)
            kinds = ((2, 0, 1.0), (0, 2, 1.0), (1, 1, 2.0))
            bent = np.stack([k * _basis(x, y, a, b, self.cell) for a, b, k in kinds], axis=1)
            found[row, col] = np.einsum("q,qki,kl,qlj->ij", area, bent, bending, bent)
        return found

    def _loads(self) -> Floats:
        found = np.zeros((SQUARES, SQUARES, 16))
        for row, col in np.ndindex(SQUARES, SQUARES):
            x, y, area = self._gauss(row, col)
            found[row, col] = area @ _basis(x, y, 0, 0, self.cell)
        return found

    def _beds(self) -> Floats:
        found = np.zeros((SQUARES, SQUARES, 16, 16))
        for row, col in np.ndindex(SQUARES, SQUARES):
            x, y, area = self._gauss(row, col)
            value = _basis(x, y, 0, 0, self.cell)
            found[row, col] = np.einsum("q,qi,qj->ij", area, value, value)
        return found

    def _places(self, paper: Floats) -> Floats:
        """Return the middles (n, 2) of the small squares that lie on paper."""
        which, row, col = np.nonzero(paper)
        step = self.cell / SQUARES
        u = self.low[0] + self.cols[which] * self.cell + (col + 0.5) * step
        v = self.low[1] + self.rows[which] * self.cell + (row + 0.5) * step
        return np.stack([u, v], axis=1)

    def _read(self, places: Floats) -> sp.csr_array:
        """Return the matrix (n, unknowns) that reads deflections; places off the sheet are out."""
        at = (places - self.low) / self.cell
        index = np.full(self.shape, -1)
        index[self.rows, self.cols] = np.arange(len(self.rows))
        whole = np.floor(at + 1e-9).astype(int)
        inside = ((whole >= 0) & (whole < self.shape[::-1])).all(axis=1)
        at, whole = at[inside], whole[inside]
        owner = index[whole[:, 1], whole[:, 0]]
        at, whole, owner = at[owner >= 0], whole[owner >= 0], owner[owner >= 0]
        x, y = (at - whole).T
        values = _basis(x, y, 0, 0, self.cell)
        rows = np.repeat(np.arange(len(x)), 16)
        columns = self.owner[owner].ravel()
        return sp.csr_array((values.ravel(), (rows, columns)), (len(x), len(self.used)))


def _points(line: Line) -> Floats:
    count = int(np.ceil((line.v1 - line.v0) / EVERY)) + 1
    v = np.linspace(line.v0, line.v1, count)
    return np.stack([np.full(count, line.u), v], axis=1)


def hexagon(u: float, v0: float, v1: float, flange: float) -> shapely.Polygon:
    """Return what a pair of flanges covers, its ends at 45 degrees."""
    right, left = u + flange, u - flange
    ends = ((v0, v0 + flange), (v1, v1 - flange))
    (top, high), (bottom, low) = ends
    return shapely.Polygon(
        [(u, top), (right, high), (right, low), (u, bottom), (left, low), (left, high)]
    )
