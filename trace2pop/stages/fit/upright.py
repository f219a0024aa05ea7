"""The motif turned as it will lie on the card."""

from dataclasses import replace

import numpy as np
import shapely

from trace2pop.geometry import beziers
from trace2pop.model.artwork import Motif
from trace2pop.model.card import Card
from trace2pop.model.outline import FloatArray
from trace2pop.model.settings import FragileSettings
from trace2pop.stages.fit.feelers import body, counts_body_only, strands
from trace2pop.stages.fit.size import Box, Upright

_ALONG = 1e-6
_ROUNDS, _ROUGH_ROUNDS, _CORRECTIONS = 20, 10, 6

_STILL = 1e-5
"""Relative change of size below which the search for it ends."""

_PLAIN = 0.03
"""Outlines are simplified by this much in mm while the size is searched for."""


def rotation(turn_deg: float) -> FloatArray:
    """Return the matrix (2, 2) of a turn clockwise as seen (y runs down)."""
    angle = np.radians(turn_deg)
    return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])


def turned(motif: Motif, turn_deg: float, card: Card, fragile: FragileSettings) -> Upright:
    """Return the motif turned clockwise by ``turn_deg`` from how it was drawn.

    Where that brings its mirror axis upright, the crease must lie on it.
    """
    matrix = rotation(turn_deg)
    outline = beziers.transform_outline(motif.outline, np.column_stack([matrix, [0.0, 0.0]]))
    axis = motif.axis
    upright_axis = axis is not None and _is_upright(axis.tilt_deg + turn_deg)
    crease = float((matrix @ np.array(axis.point))[0]) if axis and upright_axis else None
    box = Box(*beziers.bounds(outline.outer))
    upright = Upright(outline, box, box, crease)
    return body_only(upright, card, fragile) if counts_body_only(fragile) else upright


def _is_upright(tilt_deg: float) -> bool:
    return abs(float(np.sin(np.radians(tilt_deg)))) < _ALONG


def body_only(
    upright: Upright, card: Card, fragile: FragileSettings, *, rough: bool = False
) -> Upright:
    """Return the motif with only its body counting for the window, at the largest scale it fits.

    The larger the motif is made, the less of it is too thin; so the size its body allows falls as
    the size it is judged at grows, and the two meet once. ``rough`` does without the exact eye for
    feelers at the end.
    """
    plain = upright.solid.simplify(_PLAIN * upright.whole.height / card.height)

    def box_at(scale: float, *, quick: bool = False) -> Box:
        solid = plain if quick else upright.solid
        left, head, right, foot = body(solid, scale, fragile, quick=quick).bounds
        return Box(left, head, right, foot)

    def allowed(box: Box) -> float:
        return box.largest(box.middle if upright.axis is None else upright.axis, card)

    low = allowed(upright.whole)
    high = allowed(box_at(low, quick=True))
    for _ in range(_ROUGH_ROUNDS if rough else _ROUNDS):
        middle = (low + high) / 2
        fits = allowed(box_at(middle, quick=True)) >= middle
        low, high = (middle, high) if fits else (low, middle)
    box = box_at(low, quick=rough)
    for _ in range(0 if rough else _CORRECTIONS):
        if allowed(box) >= low:
            break
        low = allowed(box)
        box = box_at(low)
    return replace(upright, box=replace(box, most=low))


def with_strands(
    upright: Upright, card: Card, fragile: FragileSettings, scale: float | None
) -> Upright:
    """Return the motif with what is added by hand counting as thick as its material is.

    At ``scale``, or at the largest at which all of it fits.
    """
    if fragile.spurs != "hand" or counts_body_only(fragile):
        return upright

    def box_at(scale: float) -> Box:
        parts = shapely.box(*upright.solid.bounds).union(strands(upright.solid, scale, fragile))
        left, head, right, foot = parts.bounds
        whole = upright.whole
        return Box(
            min(left, whole.left),
            min(head, whole.head),
            max(right, whole.right),
            max(foot, whole.foot),
        )

    def allowed(box: Box) -> float:
        return box.largest(box.middle if upright.axis is None else upright.axis, card)

    if scale is not None:
        return replace(upright, box=box_at(scale))
    largest = allowed(upright.whole)
    for _ in range(_CORRECTIONS):
        box = box_at(largest)
        if allowed(box) >= largest * (1 - _STILL):
            break
        largest = allowed(box)
    return replace(upright, box=box)
