"""Painted shapes to outlines: united, on their own Beziers wherever no other shape covers them."""

import math
from collections.abc import Sequence

import numpy as np
import shapely

from trace2pop.geometry import beziers
from trace2pop.geometry.crossing import sound
from trace2pop.geometry.fitting import fit_closed
from trace2pop.geometry.recover import flat_chains, recovered
from trace2pop.model.outline import Contour, Outline
from trace2pop.stages.capture.svg_bounds import Tally
from trace2pop.stages.capture.svg_faces import filled_area
from trace2pop.stages.capture.svg_walk import Shape

HAIRLINE = 0.35
"""mm: a thinner line marks an edge, a wider one is drawn ink; common practice, no source."""

_LEAST_MM2 = 0.05
_ON = 1e-6
_SMOOTH_MM = 0.01
_SMOOTH_FROM = 100


def outlines_of(shapes: Sequence[Shape], tally: Tally) -> list[Outline]:
    """Return the outlines of all that is painted, the largest first.

    Raises:
        PictureError: where they are too many or too tangled for ``tally``.
    """
    tally.crossings([chain for shape in shapes for chain, _ in shape.chains if len(chain)])
    any_filled = any(shape.filled for shape in shapes)
    areas, rings = [], []
    lines = False
    for shape in shapes:
        fills = [chain for chain, closed in shape.chains if shape.filled or closed]
        fills = [_closed(chain) for chain in fills if len(chain)]
        parts = []
        if fills and (shape.filled or not any_filled):
            fill = filled_area(fills, even_odd=shape.even_odd)
            parts.append(fill)
            rings += [_turned(chain, fill) for chain in fills]
        if shape.line >= HAIRLINE:
            parts.append(_inked(shape))
            lines = True
        area = shapely.union_all(parts)
        areas.append(area if shape.clip is None else area & shape.clip)
    whole = shapely.union_all([area for area in areas if not area.is_empty])
    polygons = [
        part
        for part in shapely.get_parts(whole)
        if part.geom_type == "Polygon" and part.area > _LEAST_MM2
    ]
    polygons.sort(key=lambda part: (-part.area, part.bounds))
    outlines = _on_their_beziers(polygons, rings)
    return [_smoothed(outline) for outline in outlines] if lines else outlines


def _on_their_beziers(polygons: list[shapely.Polygon], rings: list[Contour]) -> list[Outline]:
    """Return polygons as outlines, on the Beziers of ``rings`` wherever they run on them."""
    tree = shapely.STRtree([shapely.LineString(beziers.flatten(ring)) for ring in rings])
    outlines = []
    for polygon in polygons:
        holes = [hole for hole in polygon.interiors if shapely.Polygon(hole).area > _LEAST_MM2]
        shape = shapely.Polygon(polygon.exterior, holes)
        near = np.sort(tree.query(shape.boundary, "dwithin", distance=_ON))
        plain = beziers.from_polygon(shape.simplify(_ON))
        if not len(near):
            outlines.append(plain)
            continue
        own = [rings[number] for number in near]
        outline = recovered(flat_chains(Outline(own[0], tuple(own[1:]))), shape)
        outlines.append(outline if sound(outline) else plain)
    return outlines


def _turned(chain: Contour, area: shapely.Geometry) -> Contour:
    """Return the chain run so that the filled area lies on the same side as of all others.

    Only then do the edges of a union run along all their chains forwards.
    """
    points = beziers.flatten(chain)
    edges = np.diff(points, axis=0)
    length = np.linalg.norm(edges, axis=1)
    longest = int(np.argmax(length))
    side = np.array([-edges[longest, 1], edges[longest, 0]]) / length[longest]
    beside = (points[longest] + points[longest + 1]) / 2 + 1e-3 * side
    return chain if shapely.contains_xy(area, *beside) else beziers.reverse(chain)


def _closed(chain: Contour) -> Contour:
    """Return the chain with a line back to its start, where it doesn't end there."""
    start, end = chain[0, 0], chain[-1, 3]
    if np.array_equal(start, end):
        return chain
    if np.abs(start - end).max() < 1e-6:
        chain = chain.copy()
        chain[-1, 3] = start
        return chain
    return np.concatenate([chain, beziers.straight([end, start], closed=False)])


def _inked(shape: Shape) -> shapely.Geometry:
    """Return the area of a shape's line."""
    radius = shape.line / 2
    turn = 2 * math.acos(max(0.0, 1 - beziers.FLATTEN / radius))
    quarter = min(max(4, math.ceil(math.pi / 2 / max(turn, 1e-6))), 256)
    caps = {"round": "round", "square": "square"}
    joins = {"round": "round", "bevel": "bevel"}
    areas = []
    for chain, closed in shape.chains:
        points = beziers.flatten(chain)
        line = shapely.LinearRing(points) if closed and len(points) > 3 else None
        areas.append(
            shapely.buffer(
                line or shapely.LineString(points),
                radius,
                quad_segs=quarter,
                cap_style=caps.get(shape.cap, "flat"),
                join_style=joins.get(shape.join, "mitre"),
                mitre_limit=4.0,
            )
        )
    return shapely.union_all(areas)


def _smoothed(outline: Outline) -> Outline:
    """Return the outline with edges of drawn lines, made of many short steps, as few Beziers."""
    smooth = Outline(_smooth_ring(outline.outer), tuple(map(_smooth_ring, outline.holes)))
    return smooth if sound(smooth) else outline


def _smooth_ring(ring: Contour) -> Contour:
    straight = sum(map(beziers.is_straight, ring))
    if straight < _SMOOTH_FROM or straight < len(ring) / 2:
        return ring
    fitted = fit_closed(ring[:, 0], _SMOOTH_MM)
    before, after = (shapely.LinearRing(beziers.flatten(chain)) for chain in (ring, fitted))
    close = shapely.hausdorff_distance(before, after) <= 3 * _SMOOTH_MM
    return fitted if close and len(fitted) < len(ring) else ring
