"""Strips of a shape narrower than a width: what morphological opening leaves over, as features.

A shape opened by half the width (drawn in, then out again) loses exactly what is narrower. Each
piece it loses is judged by how it hangs on the rest: joined nowhere, at one end or at several.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from shapely.ops import linemerge

from trace2pop.geometry.middle import MiddleLine, middle_line
from trace2pop.model.outline import FloatArray

ThinKind = Literal["spur", "bridge", "ring", "loose"]

_ARC = 16
_SLIVER = 0.45
"""Share of a piece's boundary on the body from which it is a sliver along an edge."""

_CORNER_FILL = 0.62
_CORNER_DEG = 12.0
_SHORTEST = 1.5
"""A spur shorter than this many widths is the end of a corner, not a feature."""

_SHORTEST_BRIDGE = 0.25


@dataclass(frozen=True, eq=False)
class Thin:
    """A strip narrower than the width asked about.

    ``region`` is its area with what only it holds; ``joins`` (k, 2) where it meets the body;
    ``middle`` its middle line from the (first) join outwards. Lengths in the shape's unit.
    """

    kind: ThinKind
    region: shapely.Polygon
    joins: FloatArray
    middle: MiddleLine


def opened(shape: shapely.Polygon, width: float) -> shapely.Geometry:
    """Return ``shape`` without what is narrower than ``width``; rounds corners off."""
    return shape.buffer(-width / 2, quad_segs=_ARC).buffer(width / 2, quad_segs=_ARC)


def find_thin(shape: shapely.Polygon, width: float) -> tuple[Thin, ...]:
    """Return the strips of ``shape`` narrower than ``width``. Pointed corners are none."""
    slack = max(0.004 * width, 0.002)
    core = opened(shape, width).buffer(slack)
    body = max(_polygons(core), key=lambda piece: piece.area, default=None)
    if body is None:
        return (Thin("loose", shape, np.empty((0, 2)), middle_line(shape, None)),)
    found = []
    for piece in _polygons(shape.difference(core)):
        if piece.area < 0.02 * width * width:
            continue
        thin = _judged(piece, core, shape, width, slack)
        if thin is not None:
            found.append(thin)
    return tuple(_with_what_they_hold(found, core, body, width))


def _polygons(shape: shapely.Geometry) -> list[shapely.Polygon]:
    return [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]


def _contacts(
    piece: shapely.Polygon,
    core: shapely.Geometry,
    shape: shapely.Polygon,
    width: float,
    slack: float,
) -> list[shapely.LineString]:
    """Return the stretches of the piece's boundary that lie on the body."""
    own = shape.boundary.buffer(slack / 4)
    lying = piece.boundary.intersection(core.boundary.buffer(slack / 2)).difference(own)
    merged = linemerge([line for line in shapely.get_parts(lying) if line.length > 0])
    return [
        line
        for line in shapely.get_parts(merged)
        if line.geom_type == "LineString" and line.length > 0.02 * width
    ]


def _judged(
    piece: shapely.Polygon,
    core: shapely.Geometry,
    shape: shapely.Polygon,
    width: float,
    slack: float,
) -> Thin | None:
    contacts = _contacts(piece, core, shape, width, slack)
    whole = piece.boundary.length
    touching = sum(line.length for line in contacts)
    if touching > _SLIVER * whole:
        return None
    joins = np.array([line.interpolate(0.5, normalized=True).coords[0] for line in contacts])
    joins = joins.reshape(-1, 2)
    if not contacts:
        kind: ThinKind = "ring" if piece.interiors else "loose"
        return Thin(kind, piece, joins, middle_line(piece, None))
    if len(contacts) > 1:
        if (whole - touching) / 2 < _SHORTEST_BRIDGE * width:
            return None
        return Thin("bridge", piece, joins, middle_line(piece, contacts[0], contacts[1]))
    if _is_corner(piece, contacts[0]):
        return None
    middle = middle_line(piece, contacts[0])
    return Thin("spur", piece, joins, middle) if middle.length >= _SHORTEST * width else None


def _is_corner(piece: shapely.Polygon, contact: shapely.LineString) -> bool:
    """Whether a piece joined at one end is a corner's tip: filled like a triangle, and blunt."""
    ends = np.array([contact.coords[0], contact.coords[-1]])
    chord = float(np.linalg.norm(ends[1] - ends[0]))
    middle = ends.mean(axis=0)
    axis = float(np.linalg.norm(np.asarray(piece.exterior.coords) - middle, axis=1).max())
    segment = shapely.Polygon(contact.coords).area if len(contact.coords) > 2 else 0.0
    fill = (piece.area + segment) / max(chord * axis, 1e-12)
    angle = 2 * np.degrees(np.arctan2(chord / 2, axis))
    return bool(fill < _CORNER_FILL and angle >= _CORNER_DEG)


def _with_what_they_hold(
    found: list[Thin], core: shapely.Geometry, body: shapely.Polygon, width: float
) -> list[Thin]:
    """Return the strips, with those that meet in a small solid piece made one feature.

    A fork's knot and a feeler's club survive the opening; what hangs on the body in one place
    only, through strips and such pieces, is one spur.
    """
    loose_end = [thin for thin in found if thin.kind in ("ring", "loose")]
    strips = [thin for thin in found if thin.kind in ("spur", "bridge")]
    grown = [thin.region.buffer(0.02 * width) for thin in strips]
    knots = [
        piece
        for piece in _polygons(core)
        if piece is not body
        and piece.area < 0.2 * body.area
        and piece.area
        < 4 * sum(t.region.area for t, g in zip(strips, grown, strict=True) if g.intersects(piece))
    ]
    solid = core.difference(shapely.union_all(knots)) if knots else core
    joined = shapely.union_all([*grown, *(knot.buffer(0.02 * width) for knot in knots)])
    features: list[Thin] = []
    for cluster in _polygons(joined):
        members = [t for t in strips if t.region.intersects(cluster)]
        if len(members) == 1 and not any(knot.intersects(cluster) for knot in knots):
            features += members
        elif members:
            features.append(_cluster(cluster, members, knots, solid, width))
    return [*features, *loose_end]


def _cluster(
    cluster: shapely.Polygon,
    members: list[Thin],
    knots: list[shapely.Polygon],
    solid: shapely.Geometry,
    width: float,
) -> Thin:
    """Return strips and knots that hang together as one feature."""
    pieces = [*(t.region.buffer(0.01 * width) for t in members)]
    pieces += [knot.buffer(0.01 * width) for knot in knots if knot.intersects(cluster)]
    region = max(_polygons(shapely.union_all(pieces)), key=lambda piece: piece.area)
    joins = np.vstack([t.joins for t in members])
    near = shapely.distance(shapely.points(joins), solid) < 0.1 * width
    roots = joins[near] if near.any() else joins[:1]
    kind: ThinKind = "spur" if len(roots) == 1 else "bridge"
    return Thin(kind, region, roots, middle_line(region, None, start=roots[0]))


def body_without_spurs(shape: shapely.Polygon, width: float) -> shapely.Polygon:
    """Return ``shape`` with its spurs narrower than ``width`` taken off, all else untouched."""
    spurs = [thin.region for thin in find_thin(shape, width) if thin.kind == "spur"]
    return taken_off(shape, spurs, width)


def taken_off(
    shape: shapely.Polygon, regions: list[shapely.Polygon], width: float
) -> shapely.Polygon:
    """Return the largest piece of ``shape`` without ``regions``, cut a hair inside their ends."""
    if not regions:
        return shape
    slack = 1.5 * max(0.004 * width, 0.002)
    cut = shapely.union_all([region.buffer(slack, join_style="mitre") for region in regions])
    return max(_polygons(shape.difference(cut)), key=lambda piece: piece.area)
