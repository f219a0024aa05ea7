"""Strips of a shape narrower than a width: what morphological opening leaves over, as features.

A shape opened by half the width (drawn in, then out again) keeps its cores and loses what is
narrower. Cores and lost pieces form a graph: what hangs on the large cores through lost pieces and
small cores (the knot of a fork, a feeler's club, a place where a wavering strip is just wide
enough) is one feature, judged by how often it is joined to them.
"""

from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np
import shapely

from trace2pop.geometry.edges import Edges, divided, rings_of
from trace2pop.geometry.residue import Contact, Piece, Residue, residue_of
from trace2pop.geometry.roots import OutlineCuts
from trace2pop.model.outline import FloatArray

ThinKind = Literal["spur", "bridge", "wall", "ring", "loose"]

CORNER_DEG = 12.0
"""A tip that tapers by more than this is a pointed corner, which loses at most its last bit."""

SHORTEST = 1.5
"""A spur shorter than this many widths is as sturdy as a corner."""

SURE = 0.993
"""What is as wide as this share of the width is not narrower than it: of a strip drawn just so
wide, opening leaves and loses whatever the last digits say."""

_PLAINLY = 0.95
"""What is less than this share of the width on average needs no closer look."""

REGION_AREA = 25.0
_REGION_SHARE = 0.02
"""A core of this many square widths and this share of the largest is a region of its own."""

_WAVER, _WAVER_SHARE = 1.5, 0.2
"""A core nowhere wider than this many widths is a strip's wider place, unless it is as large as
this share of the largest."""

_PINCHED = 0.5
"""Between two edges that come nearer than this share of the width is a wall, however short."""

_LOOP = 1.0
"""A hole of this many square widths makes a loop of what is joined in one place."""


@dataclass(frozen=True, eq=False)
class Thin:
    """A feature narrower than the width asked about.

    ``joins`` (k, 2, 2): the ends, on the shape's outline, of each straight line along which it is
    joined to wider regions; ``cuts`` are those lines, or the curves that replace them where they
    would leave the shape. ``region`` is what lies beyond them. ``regions`` says how many different
    wide regions it joins.
    """

    kind: ThinKind
    region: shapely.Polygon
    joins: FloatArray
    cuts: tuple[FloatArray, ...]
    regions: int


def find_thin(shape: shapely.Polygon, width: float, *, clubs: bool = True) -> tuple[Thin, ...]:
    """Return the features of ``shape`` narrower than ``width``. Pointed corners are none.

    A feature is what is narrower than ``width`` round a place narrower than ``SURE`` of it.
    Without ``clubs``, a wide place at the end of a narrow one is never part of it. Where nothing
    of the shape is as wide, all of it is one feature, a ring or loose.
    """
    rest = residue_of(shape, width)
    if not rest.cores:
        rest = residue_of(shape, SURE * width)
    if not rest.cores:
        kind: ThinKind = "ring" if _loop(shape, width) else "loose"
        return (Thin(kind, shape, np.empty((0, 2, 2)), (), 0),)
    pieces = _strips(shape, rest, width)
    if not pieces:
        return ()
    large = _regions(rest, pieces, width, clubs=clubs)
    clusters = [cluster for cluster in _clusters(pieces, large) if any(_roots(cluster, large))]
    roots = [_roots(cluster, large) for cluster in clusters]
    lines = iter(OutlineCuts(shape, [contact for some in roots for contact in some]).cuts())
    cuts = [[next(lines) for _ in some] for some in roots]
    faces = divided(shape, [cut for some in cuts for cut in some])
    inside = [max(cluster, key=lambda piece: piece.area).inner_point() for cluster in clusters]
    face_of = _faces_at(faces, np.array(inside).reshape(-1, 2))
    surely = _narrow(shape, clusters, face_of, faces, width)
    found = []
    for cluster, own, number in zip(clusters, cuts, face_of, strict=True):
        if number in surely:
            found.append(_thin(faces[number], cluster, own, large, width))
    return tuple(found)


def _strips(shape: shapely.Polygon, rest: Residue, width: float) -> list[Piece]:
    edges: list[Edges] = []

    def pinched(piece: Piece) -> bool:
        """Whether it lies between two of the shape's edges that nearly meet."""
        if not shape.interiors or len(piece.sides) < 2:
            return False
        edges[:] = edges or [Edges(rings_of(shape))]
        ring = edges[0].locate(np.array([side[len(side) // 2] for side in piece.sides]))[0]
        lines = [shapely.LineString(side) for side in piece.sides]
        return any(
            ring[a] != ring[b] and shapely.dwithin(lines[a], lines[b], _PINCHED * width)
            for a, b in combinations(range(len(ring)), 2)
        )

    return [piece for piece in rest.pieces if _is_strip(piece, width) or pinched(piece)]


def _narrow(
    shape: shapely.Polygon,
    clusters: list[list[Piece]],
    face_of: list[int],
    faces: list[shapely.Polygon],
    width: float,
) -> set[int]:
    """Return which faces hold something narrower than ``SURE`` of the width."""
    surely = {
        face
        for face, cluster in zip(face_of, clusters, strict=True)
        if any(
            piece.mean_width() < _PLAINLY * width < piece.side_length()
            and not piece.shape.interiors
            for piece in cluster
        )
    }
    if surely.issuperset(face_of):
        return surely - {-1}
    strips = _strips(shape, residue_of(shape, SURE * width), width)
    points = np.array([piece.inner_point() for piece in strips]).reshape(-1, 2)
    return (surely | set(_faces_at(faces, points))) - {-1}


def _is_strip(piece: Piece, width: float) -> bool:
    """Whether a lost piece is (part of) a feature: no sliver along an edge, no corner's tip."""
    if len(piece.contacts) == 0:
        return False
    if len(piece.contacts) > 1:
        return len(piece.touched()) > 1 or not piece.is_sliver()
    root, tip, length = piece.trapezoid()
    if length < SHORTEST * width:
        return False
    return bool(root - tip < 2 * length * np.tan(np.radians(CORNER_DEG / 2)))


def _regions(rest: Residue, pieces: list[Piece], width: float, *, clubs: bool) -> set[int]:
    """Return the numbers of the cores that count as regions, not as parts of strips."""
    areas = np.array([core.area for core in rest.cores])
    largest = int(np.argmax(areas))
    regions = {largest}
    bulky = max(REGION_AREA * width * width, _REGION_SHARE * areas[largest])
    for number, core in enumerate(rest.cores):
        if number == largest:
            continue
        slim = core.buffer(-_WAVER / 2 * width).is_empty
        if slim and areas[number] < _WAVER_SHARE * areas[largest]:
            continue
        carried = [
            piece.side_length()
            for piece in pieces
            if number in piece.touched() and len(piece.touched()) > 1
        ]
        size = 2 * np.sqrt(areas[number] / np.pi)
        if not clubs or areas[number] >= bulky or size > max(carried, default=0.0):
            regions.add(number)
    return regions


def _clusters(pieces: list[Piece], large: set[int]) -> list[list[Piece]]:
    """Return pieces that hang together through small cores."""
    home = list(range(len(pieces)))

    def top(number: int) -> int:
        while home[number] != number:
            number = home[number]
        return number

    seen: dict[int, int] = {}
    for number, piece in enumerate(pieces):
        for contact in piece.contacts:
            if contact.core not in large:
                home[top(number)] = top(seen.setdefault(contact.core, number))
    groups: dict[int, list[Piece]] = {}
    for number, piece in enumerate(pieces):
        groups.setdefault(top(number), []).append(piece)
    return list(groups.values())


def _roots(cluster: list[Piece], large: set[int]) -> list[Contact]:
    return [contact for piece in cluster for contact in piece.contacts if contact.core in large]


def _faces_at(faces: list[shapely.Polygon], points: FloatArray) -> list[int]:
    tree = shapely.STRtree(faces)
    point, face = tree.query(shapely.points(points), predicate="within")
    where = dict(zip(point.tolist(), face.tolist(), strict=True))
    return [where.get(number, -1) for number in range(len(points))]


def _thin(
    region: shapely.Polygon,
    cluster: list[Piece],
    cuts: list[FloatArray],
    large: set[int],
    width: float,
) -> Thin:
    cores = {contact.core for contact in _roots(cluster, large)}
    joins = np.array([cut[[0, -1]] for cut in cuts])
    kind: ThinKind = "spur"
    if len(cuts) > 1:
        kind = "bridge" if len(cores) > 1 else "wall"
    elif _loop(region, width):
        kind = "ring"
    return Thin(kind, region, joins, tuple(cuts), len(cores))


def _loop(region: shapely.Polygon, width: float) -> bool:
    holes = [shapely.Polygon(ring).area for ring in region.interiors]
    return max(holes, default=0.0) >= _LOOP * width * width


def without(shape: shapely.Polygon, features: list[Thin]) -> list[shapely.Polygon]:
    """Return what is left of ``shape``, largest first, when ``features`` are cut off."""
    if not features:
        return [shape]
    faces = divided(shape, [cut for feature in features for cut in feature.cuts])
    inside = [shapely.get_coordinates(shapely.point_on_surface(f.region))[0] for f in features]
    gone = set(_faces_at(faces, np.array(inside)))
    left = [face for number, face in enumerate(faces) if number not in gone]
    return sorted(left, key=lambda face: -face.area)


def body_without_spurs(shape: shapely.Polygon, width: float) -> shapely.Polygon:
    """Return ``shape`` with its spurs narrower than ``width`` cut off, all else untouched."""
    spurs = [thin for thin in find_thin(shape, width) if thin.kind == "spur"]
    return without(shape, spurs)[0]
