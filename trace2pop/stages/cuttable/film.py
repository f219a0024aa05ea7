"""The strip of clear film that holds a loose piece in its hole, glued on from behind."""

import numpy as np
import shapely
from shapely import affinity

from trace2pop.limits import FILM_LEAST_WIDTH, FILM_OVERLAP, FILM_WIDTH, GLUE_FOLD_GAP
from trace2pop.model.outline import FloatArray

_TURNS_DEG = range(0, 180, 15)
_FAR = 1e4
_NEAR = 1e-3
"""mm that an end may lack of the paper it is glued on."""

Film = tuple[FloatArray, float]
"""Its middle line (2, 2) from end to end, and its width."""


def film_behind(island: shapely.Polygon, body: shapely.Polygon) -> Film | None:
    """Return the strip whose film hangs free over the least length, None where none can be glued.

    It goes through the island's broadest place and ends ``limits.FILM_OVERLAP`` beyond its hole on
    the body's paper, all of it on one side of the crease.
    """
    holes = [hole for hole in map(shapely.Polygon, body.interiors) if hole.contains(island)]
    if not holes:
        return None
    radius = shapely.maximum_inscribed_circle(island, tolerance=0.1)
    centre, paper = shapely.get_point(radius, 0), body.buffer(_NEAR)
    least = FILM_LEAST_WIDTH.value
    broad = float(np.clip(radius.length, least, FILM_WIDTH.value))
    for width in sorted({round(broad, 1), least}, reverse=True):
        found = []
        for turn in _TURNS_DEG:
            line = _across(holes[0], centre, turn, width)
            if _can_be_glued(line, width, paper):
                held = shapely.LineString(line).intersection(island).length
                found.append((round(float(np.hypot(*(line[1] - line[0]))) - held, 3), turn, line))
        if found:
            return min(found, key=lambda row: row[:2])[2], width
    return None


def _across(
    hole: shapely.Polygon, centre: shapely.Point, turn_deg: float, width: float
) -> FloatArray:
    """Return a strip's middle line through ``centre``, overlaps included."""
    turned = affinity.rotate(hole, -turn_deg, origin=centre)
    x, y = centre.x, centre.y
    band = shapely.box(x - _FAR, y - width / 2, x + _FAR, y + width / 2)
    open_part = min(
        shapely.get_parts(turned.intersection(band)), key=lambda part: part.distance(centre)
    )
    start, _, end, _ = open_part.bounds
    over = FILM_OVERLAP.value
    line = shapely.LineString([(start - over, y), (end + over, y)])
    ends: FloatArray = shapely.get_coordinates(affinity.rotate(line, turn_deg, origin=centre))
    return ends


def _can_be_glued(line: FloatArray, width: float, paper: shapely.Geometry) -> bool:
    """Whether a strip stays on one side of the crease and its ends lie on paper."""
    across = shapely.LineString(line).buffer(width / 2, cap_style="flat")
    left, _, right, _ = across.bounds
    if left < GLUE_FOLD_GAP.value and right > -GLUE_FOLD_GAP.value:
        return False
    along = (line[1] - line[0]) / np.hypot(*(line[1] - line[0])) * FILM_OVERLAP.value
    ends = ((line[0], line[0] + along), (line[1] - along, line[1]))
    return all(
        paper.covers(shapely.LineString(end).buffer(width / 2, cap_style="flat")) for end in ends
    )
