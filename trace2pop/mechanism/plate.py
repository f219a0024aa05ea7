"""How a sheet of paper bends: an orthotropic Kirchhoff plate of Morley triangles.

Forces in N, lengths in mm. The plate carries bending only; its curvature is constant in each
triangle. Unknowns are the deflection at each point and the slope across each edge, so a hinge is
an edge with a slope of its own on either side: it carries shear and no moment.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import shapely
from numpy.typing import NDArray

from trace2pop.mechanism.mesh import Net
from trace2pop.model.outline import FloatArray
from trace2pop.model.stock import Stock

GRAVITY = 9.80665
"""Standard gravity, m/s2."""
_LOOSE = 1e5
"""A deflection (mm) beyond this means that nothing holds the part."""

Ints = NDArray[np.int64]


class FloatingError(Exception):
    """A part of the plate is not held at all."""


class Matrix(Protocol):
    """What is used of scipy's sparse matrices, which have no types."""

    @property
    def T(self) -> "Matrix":  # noqa: N802 - scipy's name
        """The transpose."""

    def __add__(self, other: "Matrix") -> "Matrix": ...
    def __getitem__(self, rows: object) -> "Matrix": ...
    def __matmul__(self, columns: FloatArray) -> FloatArray: ...
    def toarray(self) -> FloatArray:
        """Return the dense array."""


class Factor(Protocol):
    """A factored matrix."""

    def solve(self, force: FloatArray) -> FloatArray:
        """Return the unknowns under ``force`` (size,) or (size, k)."""


def weight(stock: Stock) -> float:
    """Return the weight of a paper in N/mm2."""
    return stock.grammage * 1e-9 * GRAVITY


def rigidity(stock: Stock, grain_deg: float) -> FloatArray:
    """Return the bending stiffness (3, 3) in N mm over curvatures (uu, vv, twice uv).

    ``grain_deg`` is the grain's direction, 0 along u, 90 along v. The stock's Poisson ratio counts
    as the geometric mean of the two; the shear modulus is that of Huber's orthotropic plate,
    sqrt(E1 E2) / (2 (1 + nu)), which measured papers keep to (docs/mechanism.md).
    """
    along, across = stock.e_along * 1e3, stock.e_across * 1e3
    nu, mean = stock.poisson, float(np.sqrt(along * across))
    block = np.array(
        [
            [along, nu * mean, 0.0],
            [nu * mean, across, 0.0],
            [0.0, 0.0, (1 - nu * nu) * mean / (2 * (1 + nu))],
        ]
    )
    own = block * stock.thickness**3 / (12 * (1 - nu * nu))
    c, s = np.cos(np.radians(grain_deg)), np.sin(np.radians(grain_deg))
    turn = np.array(
        [[c * c, s * s, c * s], [s * s, c * c, -c * s], [-2 * c * s, 2 * c * s, c * c - s * s]]
    )
    result: FloatArray = turn.T @ own @ turn
    return result


def shares(net: Net, zones: Sequence[shapely.Geometry]) -> FloatArray:
    """Return (m,) how much of each triangle's area the ``zones`` cover in sum."""
    covered = np.zeros(len(net.triangles))
    faces = shapely.polygons(net.points[net.triangles])
    tree = shapely.STRtree(faces)
    for zone in zones:
        near = tree.query(zone, predicate="intersects")
        shapely.prepare(zone)
        whole = shapely.contains_properly(zone, faces[near])
        covered[near[whole]] += net.areas[near[whole]]
        part = near[~whole]
        covered[part] += shapely.area(shapely.intersection(faces[part], zone))
    result: FloatArray = covered / net.areas
    return result


@dataclass(frozen=True, eq=False)
class Bent:
    """A bent plate: ``depth`` (n,) of the net's points in mm, and all ``unknowns``."""

    depth: FloatArray
    unknowns: FloatArray


class Plate:
    """A sheet on a net, with a hinge along its edges on u = ``hinge`` where that is given.

    ``edges`` (k, 2) are the points of each edge and ``slopes`` (k,) its unknown; ``boundary`` lists
    the sheet's own edges. ``owner`` (m, 6) are the unknowns of each triangle, ``curvature``
    (m, 3, 6) makes its curvatures (uu, vv, twice uv) of them, ``lifted`` (m, 6) the volume under
    it. ``hinged`` (h, 3) holds the hinge's edges with their unknowns to the left and to the right.
    """

    def __init__(self, net: Net, hinge: float | None = None) -> None:
        from skfem import Basis, ElementTriMorley, MeshTri  # 0.2 s to import

        points = np.ascontiguousarray(net.points.T)
        mesh = MeshTri(points, np.ascontiguousarray(net.triangles.T), sort_t=True)
        basis = Basis(mesh, ElementTriMorley(), intorder=2)
        self.net = Net(net.points, np.ascontiguousarray(mesh.t.T, dtype=np.int64))
        self.areas: FloatArray = self.net.areas
        self.edges: Ints = np.ascontiguousarray(mesh.facets.T, dtype=np.int64)
        self.boundary: Ints = np.asarray(mesh.boundary_facets(), dtype=np.int64)
        self.size = int(basis.N)
        self.owner: Ints = np.array(basis.element_dofs.T, dtype=np.int64)
        self.slopes: Ints = np.array(basis.facet_dofs[0], dtype=np.int64)
        local = [basis.basis[number][0] for number in range(6)]
        hess = np.stack([field.hess[:, :, :, 0] for field in local])
        bent = np.stack([hess[:, 0, 0], hess[:, 1, 1], 2 * hess[:, 0, 1]])
        self.curvature: FloatArray = np.ascontiguousarray(bent.transpose(2, 0, 1))
        self.lifted: FloatArray = np.stack(
            [np.sum(np.asarray(field) * basis.dx, axis=1) for field in local], axis=1
        )
        self.hinged: Ints = np.empty((0, 3), dtype=np.int64)
        if hinge is not None:
            self._cut_slopes(hinge, np.asarray(mesh.f2t, dtype=np.int64))

    def _cut_slopes(self, hinge: float, beside: Ints) -> None:
        """Give the right side of every edge on the hinge a slope unknown of its own."""
        on = np.isclose(self.net.points[:, 0], hinge, rtol=0, atol=1e-6)
        inner = (beside >= 0).all(axis=0)
        facets = np.flatnonzero(on[self.edges].all(axis=1) & inner)
        one, other = beside[:, facets]
        right = np.where(self.net.middles[one, 0] > hinge, one, other)
        old = self.slopes[facets]
        new = self.size + np.arange(len(facets))
        place = self.owner[right] == old[:, None]
        # A triangle has one edge on the hinge at most, so no row is written twice.
        self.owner[right] = np.where(place, new[:, None], self.owner[right])
        self.hinged = np.stack([facets, old, new], axis=1)
        self.size += len(facets)

    def stiffness(self, bending: FloatArray, springs: FloatArray | None = None) -> Matrix:
        """Return the sparse stiffness matrix.

        ``bending`` (m, 3, 3) is each triangle's rigidity in N mm; ``springs`` (h,) the fold
        stiffness of each hinged edge in N (moment per length and radian).
        """
        import scipy.sparse as sp  # 0.1 s to import

        stress = (bending @ self.curvature) * self.areas[:, None, None]
        block = self.curvature.transpose(0, 2, 1) @ stress
        rows = np.repeat(self.owner[:, :, None], 6, axis=2).ravel()
        cols = np.repeat(self.owner[:, None, :], 6, axis=1).ravel()
        values = block.ravel()
        if springs is not None and len(self.hinged):
            facet, old, new = self.hinged.T
            ends = self.net.points[self.edges[facet]]
            pull = springs * np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
            rows = np.concatenate([rows, old, new, old, new])
            cols = np.concatenate([cols, old, new, new, old])
            values = np.concatenate([values, pull, pull, -pull, -pull])
        matrix: Matrix = sp.coo_matrix((values, (rows, cols)), shape=(self.size, self.size)).tocsc()
        return matrix

    def load(self, pressure: FloatArray) -> FloatArray:
        """Return the forces (size,) of a pressure (m,) in N/mm2, downwards positive."""
        force = np.zeros(self.size)
        np.add.at(force, self.owner, self.lifted * pressure[:, None])
        return force

    def bend(
        self,
        bending: FloatArray,
        pressure: FloatArray,
        held: Ints,
        springs: FloatArray | None = None,
    ) -> Bent:
        """Return the plate under ``pressure``, the unknowns ``held`` at zero.

        ``held`` holds indices of points (no deflection) and of ``slopes`` (no slope: clamped).

        Raises:
            FloatingError: where a part of the plate is not held at all.
        """
        free = np.setdiff1d(np.arange(self.size), held)
        unknowns = np.zeros(self.size)
        matrix = self.stiffness(bending, springs)[free][:, free]
        unknowns[free] = factored(matrix).solve(self.load(pressure)[free])
        if not np.isfinite(unknowns).all() or np.abs(unknowns).max() > _LOOSE:
            raise FloatingError
        return Bent(unknowns[: len(self.net.points)], unknowns)

    def deflection(self, places: FloatArray) -> Matrix:
        """Return the sparse matrix (k, size) that reads the deflection at ``places`` (k, 2).

        Inside a triangle the deflection is the quadratic of its corners and curvature. Places just
        off the sheet are read in the nearest triangle.
        """
        import scipy.sparse as sp

        faces = shapely.polygons(self.net.points[self.net.triangles])
        element = shapely.STRtree(faces).nearest(shapely.points(places))
        corners = self.net.points[self.net.triangles[element]]
        weights = _barycentric(corners, places)
        values = np.zeros((len(places), 6))
        values[:, :3] = weights
        bend = self.curvature[element]
        for a, b in ((0, 1), (1, 2), (2, 0)):
            along = corners[:, a] - corners[:, b]
            turn = np.stack([along[:, 0] ** 2, along[:, 1] ** 2, along[:, 0] * along[:, 1]], axis=1)
            both = weights[:, a] * weights[:, b]
            values -= 0.5 * both[:, None] * np.einsum("ek,eki->ei", turn, bend)
        rows = np.repeat(np.arange(len(places)), 6)
        shape = (len(places), self.size)
        reader: Matrix = sp.csr_matrix(
            (values.ravel(), (rows, self.owner[element].ravel())), shape=shape
        )
        return reader


def factored(matrix: Matrix) -> Factor:
    """Return a solver for a sparse symmetric positive definite matrix.

    Raises:
        FloatingError: where it is singular.
    """
    from scipy.sparse.linalg import splu

    try:
        # Without pivoting the symmetric ordering keeps the factor sparse: 10 ms, not 10 s.
        solver: Factor = splu(
            matrix,
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            options={"SymmetricMode": True},
        )
    except RuntimeError as error:  # scipy's word for an exactly singular matrix
        raise FloatingError from error
    return solver


def _barycentric(corners: FloatArray, places: FloatArray) -> FloatArray:
    a, b, c = np.moveaxis(corners, 1, 0)
    first, second, at = b - a, c - a, places - a
    whole = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    one = (at[:, 0] * second[:, 1] - at[:, 1] * second[:, 0]) / whole
    two = (first[:, 0] * at[:, 1] - first[:, 1] * at[:, 0]) / whole
    return np.stack([1 - one - two, one, two], axis=1)
