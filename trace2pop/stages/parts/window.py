"""A window in the front of the outer card: where nothing of the works shows through it.

Behind it lies the back of the base's left half, with the lower flanges glued to it. The window goes
where it shows plain paper only, with glued paper all round it.
"""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.ops import nearest_points

from trace2pop import limits
from trace2pop.errors import SheetError
from trace2pop.mechanism.keys import lower_flange
from trace2pop.model.card import Beam, Card

Box = tuple[float, float, float, float]


def window_box(
    card: Card, beams: Sequence[Beam], size: tuple[float, float], corner_radius: float
) -> Box:
    """Return the window (u0, v0, u1, v1) on the base, u < 0: as near the front's middle as it goes.

    Raises:
        SheetError: where it has no place; says the largest of that shape that has one.
    """
    found = _place(card, beams, size, corner_radius)
    if found is None:
        raise SheetError(
            f"a window of {size[0]:.1f} x {size[1]:.1f} mm in the outer card would show the works: "
            + _largest(card, beams, size, corner_radius),
            "choose another size (--cover-window), or leave it out",
        )
    return found


def _largest(
    card: Card, beams: Sequence[Beam], size: tuple[float, float], corner_radius: float
) -> str:
    low, high = 0.0, 1.0
    while high - low > 0.002:
        middle = (low + high) / 2
        fits = _place(card, beams, (size[0] * middle, size[1] * middle), corner_radius)
        low, high = (middle, high) if fits else (low, middle)
    least = limits.WINDOW_RIM.value
    if min(size) * low < least:
        return "there is no room between the beams"
    return f"the largest of that shape is {size[0] * low:.1f} x {size[1] * low:.1f} mm"


def _place(
    card: Card, beams: Sequence[Beam], size: tuple[float, float], corner_radius: float
) -> Box | None:
    across, down = size[0] / 2, size[1] / 2
    rim = max(limits.WINDOW_RIM.value, corner_radius)
    left, right = -card.half_width + rim + across, -limits.UNGLUED.value - rim - across
    top, bottom = rim + down, card.height - rim - down
    if left > right or top > bottom:
        return None
    clear = limits.WINDOW_CLEAR.value
    works = [_grown(shape, across + clear, down + clear) for shape in _works(beams)]
    free = shapely.MultiPoint([(left, top), (right, bottom)]).envelope.difference(
        shapely.union_all(works)
    )
    if free.is_empty:
        return None
    middle = shapely.Point(-card.outer.width / 2, card.outer.height / 2 - card.border)
    at = nearest_points(free, middle)[0]
    return (at.x - across, at.y - down, at.x + across, at.y + down)


def _works(beams: Sequence[Beam]) -> list[shapely.Polygon]:
    """Return what lies at the back of the base: lower flanges with their marks, and slits."""
    shapes = [lower_flange(beam, side) for beam in beams for side in (-1, 1)]
    for beam in beams:
        half = beam.slit.width / 2
        shapes.append(shapely.box(beam.u - half, beam.slit.v0, beam.u + half, beam.slit.v1))
    return shapes


def _grown(shape: shapely.Polygon, across: float, down: float) -> shapely.Geometry:
    """Return where the middle of a box of twice those sides makes it meet the shape's hull."""
    corners = np.array([(-across, -down), (across, -down), (across, down), (-across, down)])
    points = shapely.get_coordinates(shape)[:, None] + corners[None]
    return shapely.MultiPoint(points.reshape(-1, 2)).convex_hull
