"""Painted shapes to outlines: united, on their own Beziers wherever no other shape covers them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from trace2pop.geometry import beziers
from trace2pop.geometry.crossing import sound
from trace2pop.geometry.edge_curves import ring_curves
from trace2pop.geometry.edges import rings_of
from trace2pop.geometry.recover import flat_chains, recovered
from trace2pop.model.outline import Contour, Outline
from trace2pop.stages.capture.svg_bounds import Tally
from trace2pop.stages.capture.svg_faces import filled_area
from trace2pop.stages.capture.svg_lines import Pen, painted
from trace2pop.stages.capture.svg_walk import Shape

HAIRLINE = 0.35
"""mm: a thinner line marks an edge, a wider one is drawn ink; common practice, no source."""

_LEAST_MM2 = 0.05
_ON = 1e-6
_TRUE = 0.004
"""mm to which the edges of drawn lines are written as Beziers: less than fills are flattened by."""

_LONGEST = 20_000.0
"""mm of edges beyond which those of drawn lines stay as they are: that is no motif to cut."""


_LINE_SHARE, _LINE_STROKE = 0.6, 0.035
"""A line drawing's ink is less of its area, and its lines are thinner than this of its size."""

_STICKS_OUT = 1.0
"""mm of a hairline outside all areas from which it may be a feeler."""


@dataclass(frozen=True, eq=False)
class Painted:
    """The outlines of all that is painted, the largest first, and what to tell of its lines.

    ``widths`` (least, largest) in mm of the lines painted with their width, None where there are
    none, and how far the outlines are ``off`` what is painted (mean, largest). ``hairs`` are the
    lengths in mm by which hairlines stick out.
    """

    outlines: list[Outline]
    widths: tuple[float, float] | None
    off: tuple[float, float]
    hairs: tuple[float, ...]


def outlines_of(shapes: Sequence[Shape], tally: Tally) -> Painted:
    """Return the outlines of all that is painted.

    Raises:
        PictureError: where they are too many or too tangled for ``tally``.
    """
    tally.crossings([chain for shape in shapes for chain, _ in shape.chains if len(chain)])
    any_filled = any(shape.filled for shape in shapes)
    areas, rings, widths, hairs = [], [], [], []
    inked = 0.0
    for shape in shapes:
        fills = [chain for chain, closed in shape.chains if shape.filled or closed]
        fills = [_closed(chain) for chain in fills if len(chain)]
        parts = []
        if fills and (shape.filled or not any_filled):
            fill = filled_area(fills, even_odd=shape.even_odd)
            parts.append(fill)
            rings += [_turned(chain, fill) for chain in fills]
        if shape.line >= HAIRLINE:
            pen = Pen(shape.line / 2, shape.cap, shape.join, shape.mitre)
            lines = [
                painted(chain, closed=closed, pen=pen, tally=tally)
                for chain, closed in shape.chains
            ]
            inked += sum(float(line.area) for line in lines)
            parts += lines
            widths.append(shape.line)
        elif shape.line and not shape.filled:
            hairs += [(chain, shape.clip) for chain, closed in shape.chains if not closed]
        area = shapely.union_all(parts)
        areas.append(area if shape.clip is None else area & shape.clip)
    whole = shapely.union_all([area for area in areas if not area.is_empty])
    if widths and not any_filled:
        whole = _gone_round(whole, inked, max(widths))
    polygons = [
        part
        for part in shapely.get_parts(whole)
        if part.geom_type == "Polygon" and part.area > _LEAST_MM2
    ]
    polygons.sort(key=lambda part: (-part.area, part.bounds))
    outlines = _on_their_beziers(polygons, rings)
    return Painted(
        outlines,
        (min(widths), max(widths)) if widths else None,
        _off(outlines, whole) if widths else (0.0, 0.0),
        _sticking_out(hairs, whole),
    )


def _gone_round(whole: shapely.Geometry, inked: float, width: float) -> shapely.Geometry:
    """Return the area with all that its lines enclose, where it is a line drawing.

    Told as in a picture: thin lines that enclose much more than themselves.
    """
    parts = [part for part in shapely.get_parts(whole) if part.geom_type == "Polygon"]
    full = shapely.union_all([shapely.Polygon(part.exterior) for part in parts])
    left, top, right, bottom = full.bounds if parts else (0.0,) * 4
    thin = width < _LINE_STROKE * max(right - left, bottom - top)
    return full if thin and inked < _LINE_SHARE * full.area else whole


def _off(outlines: Sequence[Outline], whole: shapely.Geometry) -> tuple[float, float]:
    """Return mean and largest distance in mm of outlines from the edges of what is painted."""
    edges = whole.boundary
    shapely.prepare(edges)
    chains = [chain for outline in outlines for chain in (outline.outer, *outline.holes)]
    points = np.vstack([beziers.flatten(chain) for chain in chains] or [np.empty((0, 2))])
    off = shapely.distance(edges, shapely.points(points))
    return (float(off.mean()), float(off.max())) if len(off) else (0.0, 0.0)


def _sticking_out(
    hairs: Sequence[tuple[Contour, shapely.Geometry | None]], whole: shapely.Geometry
) -> tuple[float, ...]:
    """Return the lengths of hairlines that are seen outside an area, the longest first."""
    lengths = []
    for chain, clip in hairs:
        line = shapely.LineString(beziers.flatten(chain))
        lengths.append(float(((line if clip is None else line & clip) - whole).length))
    return tuple(sorted((size for size in lengths if size > _STICKS_OUT), reverse=True))


def _on_their_beziers(polygons: list[shapely.Polygon], rings: list[Contour]) -> list[Outline]:
    """Return polygons as outlines, on the Beziers of ``rings`` wherever they run on them."""
    tree = shapely.STRtree([shapely.LineString(beziers.flatten(ring)) for ring in rings])
    outlines = []
    for polygon in polygons:
        holes = [hole for hole in polygon.interiors if shapely.Polygon(hole).area > _LEAST_MM2]
        shape = shapely.Polygon(polygon.exterior, holes)
        if shape.length > _LONGEST:
            outlines.append(beziers.from_polygon(shape.simplify(_ON)))
            continue
        near = np.sort(tree.query(shape.boundary, "dwithin", distance=_ON))
        if len(near):
            own = [rings[number] for number in near]
            outline = recovered(flat_chains(Outline(own[0], tuple(own[1:]))), shape)
        else:
            outer, *inner = (ring_curves(ring, _TRUE) for ring in rings_of(shape))
            outline = Outline(outer, tuple(inner))
        outlines.append(outline if sound(outline) else beziers.from_polygon(shape.simplify(_ON)))
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
