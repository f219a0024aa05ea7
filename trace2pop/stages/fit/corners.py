"""Rounded corners of the base: the window's corners are rounded too."""

from dataclasses import replace

import numpy as np
import shapely

from trace2pop.errors import FitError
from trace2pop.model.card import Card
from trace2pop.stages.fit.crease import CentreBeam
from trace2pop.stages.fit.size import SAME, Found, Upright

_MARGIN = 1 - 1e-9


def within_corners(
    upright: Upright, card: Card, found: Found, crease: float, radius: float
) -> float:
    """Return the largest scale, at most ``found``'s, that stays inside the rounded window.

    Closed, the base's corner of ``radius`` lets a margin's width show unless the motif stays inside
    an arc of ``radius - margin``. Each hull point runs outward along a ray from the crease's middle
    as the motif grows; where the ray ends in the corner square it meets the arc at the larger root
    of a quadratic.
    """
    arc = radius - card.margin
    if arc <= 0:
        return found.scale
    body = shapely.box(upright.box.left, upright.box.head, upright.box.right, upright.box.foot)
    hull = shapely.get_coordinates(upright.solid.intersection(body).convex_hull)
    middle = (upright.box.head + upright.box.foot) / 2
    points = np.abs(hull - [crease, middle])
    inner = np.array([card.reach, card.window[1] / 2]) - arc
    # |k p - inner| = arc, for the points whose place at the found scale lies in the corner square.
    a = (points**2).sum(axis=1)
    b = points @ inner
    c = float(inner @ inner) - arc**2
    corner = (points * found.scale > inner).all(axis=1)
    roots = (b + np.sqrt(np.maximum(b**2 - a * c, 0.0))) / np.maximum(a, 1e-12)
    return min(found.scale, float(roots[corner].min(initial=np.inf)) * _MARGIN)


def at_corners(
    upright: Upright,
    card: Card,
    beam: CentreBeam,
    found: Found,
    crease: float,
    radius: float,
    *,
    chosen: bool,
) -> Found:
    """Return what was found, made smaller where rounded corners ask for it.

    Raises:
        FitError: where the size was the maker's, or the beam has no room at the smaller one.
    """
    scale = within_corners(upright, card, found, crease, radius)
    if scale >= found.scale * (1 - SAME):
        return found
    width = scale * upright.whole.width
    if chosen or not upright.spans(scale, beam, crease - SAME, crease + SAME):
        raise FitError(
            f"at {found.scale * upright.whole.width:.1f} mm width the motif shows at the base's "
            f"rounded corners when the card is closed; inside them it may be {width:.1f} mm wide",
            f"make it {width:.1f} mm wide, or choose a smaller --corner-radius "
            f"(up to {card.margin:.1f} mm costs nothing) or a larger --card",
        )
    return replace(found, scale=scale)
