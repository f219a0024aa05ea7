"""Places where two edges of the motif only touch: walls without any width."""

import numpy as np
import shapely

_SAME = 0.05
"""Places nearer than this, in mm, are one."""

_NEAR = 0.002
"""Edges nearer than this, in mm, touch: the last bits of a number decide nothing."""

_SPECK = 0.05
"""Radius in mm of the paper put where edges touch: a wall that is found like any other."""


def bonded(body: shapely.Polygon, bounds: shapely.Geometry) -> shapely.Polygon:
    """Return ``body`` with a speck of paper wherever a hole touches its outline or another hole.

    Without it the wall there would end in two points, which count as corners. What is added stays
    within ``bounds``.
    """
    specks = [shapely.Point(place).buffer(_SPECK) for place in _touching(body)]
    if not specks:
        return body
    grown = body.union(shapely.union_all(specks).intersection(bounds))
    return max(shapely.get_parts(grown), key=lambda part: part.area)


def _touching(body: shapely.Polygon) -> list[tuple[float, float]]:
    rings = [body.exterior, *body.interiors]
    pairs = shapely.STRtree(rings).query(rings, predicate="dwithin", distance=_NEAR).T.tolist()
    places: list[tuple[float, float]] = []
    for one, other in pairs:
        if one < other:
            near = rings[one].intersection(rings[other].buffer(_NEAR))
            for u, v in shapely.get_coordinates(near).tolist():
                if all(np.hypot(u - x, v - y) > _SAME for x, y in places):
                    places.append((u, v))
    return places
