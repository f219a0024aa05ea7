"""What morphological opening loses of a shape, piece by piece, and where pieces touch the rest."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from trace2pop.geometry.edges import Edges, rings_of
from trace2pop.model.outline import FloatArray

_ARC = 16
"""Segments a quarter circle: an arc errs by 0.1 % of its radius."""

_STEP = 0.055
"""Widths: a little more than an arc's segment, half a width times 90 degrees over ``_ARC``."""

_SLACK = 0.004
"""Cores are grown by this share of the width, four times what arcs err by."""

_SPECK = 0.02
"""Pieces below this many square widths, and contacts below this many widths, are noise."""

_SLIVER = 0.45
"""A piece with this share of its boundary on a core lies along an edge."""


@dataclass(frozen=True, eq=False)
class Contact:
    """Where a lost piece touches a core: the core's number and the line (n, 2) they share.

    ``beside`` (2, 2) are the next points of the piece's edge beyond the line's ends.
    """

    core: int
    line: FloatArray
    beside: FloatArray


@dataclass(frozen=True, eq=False)
class Piece:
    """A lost piece: its shape, its contacts, and the runs (n, 2) of its edge between them."""

    shape: shapely.Polygon
    contacts: tuple[Contact, ...]
    sides: tuple[FloatArray, ...]

    @property
    def area(self) -> float:
        """Its area."""
        return float(self.shape.area)

    def touched(self) -> set[int]:
        """Return the numbers of the cores it touches."""
        return {contact.core for contact in self.contacts}

    def side_length(self) -> float:
        """Return the mean length of its two sides."""
        return sum(_length(side) for side in self.sides) / 2

    def mean_width(self) -> float:
        """Return its mean width between its contacts' chords."""
        if len(self.contacts) < 2:
            root, tip, _ = self.trapezoid()
            return (root + tip) / 2
        return _area(np.concatenate(self.sides)) / max(self.side_length(), 1e-12)

    def is_sliver(self) -> bool:
        """Whether it lies along an edge instead of leading away from one."""
        touching = sum(_length(contact.line) for contact in self.contacts)
        return touching > _SLIVER * float(self.shape.length)

    def inner_point(self) -> tuple[float, float]:
        """Return a point inside."""
        point = self.shape.representative_point()
        return float(point.x), float(point.y)

    def trapezoid(self) -> tuple[float, float, float]:
        """Return width at root and tip and length of the trapezoid like this one-sided piece.

        It has the piece's root, the length of its sides and its area: with sides P, root c and
        area A, P = 2 L + t and A = L (c + t) / 2. The root is the straight line between the
        contact's ends.
        """
        ring = self.sides[0]
        root = math.dist(ring[0], ring[-1])
        sides = _length(ring)
        area = _area(ring)
        square = max((sides - root) ** 2 - 4 * (4 * area - sides * root), 0.0)
        tip = float(np.clip(((sides - root) - np.sqrt(square)) / 2, 0, root))
        return root, tip, max((sides - tip) / 2, 1e-12)


@dataclass(frozen=True, eq=False)
class Residue:
    """A shape opened: the cores that are left, and the pieces lost."""

    cores: list[shapely.Polygon]
    pieces: list[Piece]


def residue_of(shape: shapely.Polygon, width: float) -> Residue:
    """Return ``shape`` opened by ``width`` as cores and lost pieces."""
    slack = _SLACK * width
    drawn_in = shape.buffer(-width / 2, quad_segs=_ARC)
    core = drawn_in.buffer(width / 2 + slack, quad_segs=_ARC)
    cores = _polygons(core)
    if not cores:
        return Residue([], [])
    lost = _polygons(shape.difference(core))
    return Residue(cores, _pieces(lost, shape, cores, width))


def _polygons(shape: shapely.Geometry) -> list[shapely.Polygon]:
    parts = shapely.get_parts(shape)
    return [part for part in parts if part.geom_type == "Polygon" and not part.is_empty]


def _area(ring: FloatArray) -> float:
    x, y = (ring - ring[0]).T
    return abs(float(x[:-1] @ y[1:] - x[1:] @ y[:-1])) / 2


def _length(line: FloatArray) -> float:
    steps = line[1:] - line[:-1]
    return float(np.hypot(steps[:, 0], steps[:, 1]).sum())


def _pieces(
    lost: list[shapely.Polygon],
    shape: shapely.Polygon,
    cores: list[shapely.Polygon],
    width: float,
) -> list[Piece]:
    rings = [ring for piece in lost for ring in rings_of(piece)]
    if not rings:
        return []
    touching = _touching(rings, shape, cores, width)
    owners = _Owners(cores)
    pieces = []
    place = 0
    for piece in lost:
        contacts: list[Contact] = []
        sides: list[FloatArray] = []
        for _ in range(1 + len(piece.interiors)):
            lines, others = _split(rings[place], touching[place], _SPECK * width)
            contacts += [Contact(owners.of(line), line, beside) for line, beside in lines]
            sides += others
            place += 1
        joining = len(contacts) > 1
        if joining or piece.area > _SPECK * width * width:
            pieces.append(Piece(piece, tuple(contacts), tuple(sides)))
    return pieces


def _touching(
    rings: Sequence[FloatArray],
    shape: shapely.Polygon,
    cores: Sequence[shapely.Polygon],
    width: float,
) -> list[NDArray[np.bool_]]:
    """Return for each edge of each ring whether it lies on a core's edge, not on the shape's.

    Points that came through the difference unchanged tell by whose they are; where an edge's two
    points don't agree, its middle tells.
    """
    points = np.concatenate(rings)
    on_core = np.isin(_keys(points), _keys(np.concatenate([r for c in cores for r in rings_of(c)])))
    on_shape = np.isin(_keys(points), _keys(np.concatenate(rings_of(shape))))
    after = np.concatenate([part for ring in rings for part in (ring[1:], ring[:1])])
    bounds = np.cumsum([0, *(len(ring) for ring in rings)])
    following = np.arange(1, len(points) + 1)
    following[bounds[1:] - 1] = bounds[:-1]
    # A core's point may lie on the shape's edge by chance: only an arc's short steps are sure.
    short = np.linalg.norm(after - points, axis=1) < _STEP * width
    lies = on_core & on_core[following] & short
    unsure = np.flatnonzero(~lies & ~(on_shape & on_shape[following]))
    if len(unsure):
        middles = (points[unsure] + after[unsure]) / 2
        distance = Edges(rings_of(shape)).locate(middles)[2]
        lies[unsure] = distance > 1e-7
    return np.split(lies, bounds[1:-1])


def _keys(points: FloatArray) -> NDArray[np.complex128]:
    result: NDArray[np.complex128] = points[:, 0] + 1j * points[:, 1]
    return result


def _split(
    ring: FloatArray, touching: NDArray[np.bool_], least: float
) -> tuple[list[tuple[FloatArray, FloatArray]], list[FloatArray]]:
    """Return the runs of a ring's edges that touch a core, with the points beside, and the rest.

    Runs whose ends are nearer than ``least`` count as not touching.
    """
    count = len(ring)
    if touching.all() or not touching.any():
        closed = np.vstack([ring, ring[:1]])
        return ([(closed, ring[:2])], []) if touching.all() else ([], [closed])
    start = int(np.flatnonzero(touching != np.roll(touching, 1))[0])
    order = (start + np.arange(count)) % count
    groups = np.split(order, np.flatnonzero(np.diff(touching[order].astype(int))) + 1)
    contacts, sides = [], []
    for group in groups:
        points = ring[np.append(group, (group[-1] + 1) % count)]
        if touching[group[0]] and math.dist(points[-1], points[0]) <= least:
            without = touching.copy()
            without[group] = False
            return _split(ring, without, least)
        if touching[group[0]]:
            contacts.append((points, ring[[group[0] - 1, (group[-1] + 2) % count]]))
        else:
            sides.append(points)
    return contacts, sides


class _Owners:
    """Tells which core a line lies on."""

    def __init__(self, cores: Sequence[shapely.Polygon]) -> None:
        self._tree = shapely.STRtree([core.boundary for core in cores])
        self._count = len(cores)

    def of(self, line: FloatArray) -> int:
        """Return the number of the core whose boundary ``line`` lies on."""
        if self._count == 1:
            return 0
        middle = shapely.Point((line[len(line) // 2] + line[(len(line) - 1) // 2]) / 2)
        return int(self._tree.nearest(middle))
