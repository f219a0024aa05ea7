"""Strips of a written piece too narrow to cut: what is lost when it is drawn in and out again."""

import math

import shapely

_ARC = 16
_ALONG = 0.45
"""Share of a rest's boundary on the body from which it is only a sliver along an edge."""

_FULL = 0.62
_POINTED_DEG = 12.0
_SHORTEST = 1.5
_PINCHED = 0.5
"""Two edges nearer than this share of the width have a wall between them, however short."""


def narrow_strips(paper: shapely.Polygon, width: float) -> list[tuple[float, shapely.Point]]:
    """Return the strips narrower than ``width``: their width, and a place on each.

    The tip of a pointed corner is no strip, nor is what is shorter than one and a half widths; a
    wall between a hole and another edge is one at half the width already, however short.
    """
    slack = max(0.004 * width, 0.002)
    body = paper.buffer(-width / 2, quad_segs=_ARC).buffer(width / 2 + slack, quad_segs=_ARC)
    if body.is_empty:
        return [(_mean_width(paper), paper.representative_point())]
    rests = shapely.get_parts(paper.difference(body))
    strips = [
        (_mean_width(rest), rest.representative_point())
        for rest in rests
        if rest.area > 0.02 * width * width and _is_strip(rest, body, width)
    ]
    return strips + _walls(paper, _PINCHED * width)


def _walls(paper: shapely.Polygon, width: float) -> list[tuple[float, shapely.Point]]:
    """Return where a hole comes nearer than ``width`` to another edge: how near, and a place."""
    rings = [paper.exterior, *paper.interiors]
    pairs = shapely.STRtree(rings).query(rings, predicate="dwithin", distance=width).T.tolist()
    ways = [shapely.shortest_line(rings[one], rings[other]) for one, other in pairs if one < other]
    return [
        (float(way.length), way.interpolate(0.5, normalized=True))
        for way in ways
        if way.length < width
    ]


def _is_strip(rest: shapely.Polygon, body: shapely.Geometry, width: float) -> bool:
    seam = rest.boundary.intersection(body.buffer(1e-4))
    ends = [
        part for part in shapely.get_parts(shapely.line_merge(seam)) if part.length > 0.02 * width
    ]
    on_body = sum(part.length for part in ends)
    if on_body > _ALONG * rest.length:
        return False
    if len(ends) > 1:
        return bool((rest.length - on_body) / 2 > 0.25 * width)
    reach = max(
        (shapely.Point(point).distance(body) for point in rest.exterior.coords), default=0.0
    )
    if not ends or reach < 1e-9:
        return bool(rest.length > 2 * _SHORTEST * width)
    fill = rest.area / (on_body * reach)
    angle = math.degrees(2 * math.atan(on_body / 2 / reach))
    pointed = fill < _FULL and angle >= _POINTED_DEG
    return bool(reach > _SHORTEST * width and not pointed)


def _mean_width(strip: shapely.Polygon) -> float:
    """Return the width of the rectangle with the same area and boundary."""
    half = strip.length / 2
    length = (half + math.sqrt(max(half * half - 4 * strip.area, 0.0))) / 2
    return float(strip.area / length)
