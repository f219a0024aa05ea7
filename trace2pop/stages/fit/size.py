"""The largest size that closes with room for the centre beam, and the creases it allows."""

import heapq
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from trace2pop.geometry import beziers
from trace2pop.model.card import Card, Edge
from trace2pop.model.outline import Outline
from trace2pop.stages.fit.crease import CentreBeam, Span, drawn_in, places, spans_of

SAME = 1e-7
"""Relative difference below which two sizes count as one."""

_STEP = 1e-4
"""Least relative step to the next smaller scale tried."""

_ON_AXIS = 1e-6

_FLATTEN, _TALLEST = 0.003, 300.0
"""Flattening tolerance in mm at the largest size a card allows."""


@dataclass(frozen=True)
class Box:
    """What must stay inside when closed, in drawn mm.

    ``most`` is the scale from which on more of the motif would have to stay inside.
    """

    left: float
    head: float
    right: float
    foot: float
    most: float = np.inf

    @property
    def width(self) -> float:
        """Across the crease."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Along the crease."""
        return self.foot - self.head

    @property
    def middle(self) -> float:
        """Half way across: the crease that lets the box grow most."""
        return (self.left + self.right) / 2

    def largest(self, crease: float, card: Card) -> float:
        """Return the largest scale at which the box closes with its crease at ``crease``.

        Closed form: the reach of each side and the window's height each bound the scale.
        """
        widest = max(crease - self.left, self.right - crease, 1e-9)
        return min(card.reach / widest, card.window[1] / self.height, self.most)

    def creases(self, scale: float, card: Card) -> Span:
        """Return from where to where the crease may lie at ``scale``; empty where low > high."""
        low, high = self.right - card.reach / scale, self.left + card.reach / scale
        if low > high and low - high < 1e-6 * self.width:
            low = high = self.middle
        return low, high

    def beyond(self, crease: float, scale: float, card: Card) -> dict[Edge, float]:
        """Return how far the box sticks out past each limit when closed; negative inside."""
        along = (scale * self.height - card.window[1]) / 2
        return {
            "left": scale * (crease - self.left) - card.reach,
            "right": scale * (self.right - crease) - card.reach,
            "head": along,
            "foot": along,
        }


@dataclass(frozen=True, eq=False)
class Upright:
    """The motif turned as it will lie, in drawn mm.

    ``axis`` is where the crease must lie, None where it may lie anywhere. ``box`` is what counts
    for the window, ``whole`` all of the outline's.
    """

    outline: Outline
    whole: Box
    box: Box
    axis: float | None

    @cached_property
    def solid(self) -> shapely.Polygon:
        """The motif as a polygon, fine enough for its largest size."""
        return beziers.polygon(self.outline, _FLATTEN * self.whole.height / _TALLEST)

    def inner(self, scale: float, beam: CentreBeam) -> shapely.Geometry:
        """Return the paper (drawn mm) that the centre beam's flanges may cover at ``scale``."""
        return drawn_in(self.solid, beam.inset / scale)

    def places(self, scale: float, beam: CentreBeam, low: float, high: float) -> shapely.Geometry:
        """Return where the middle of the centre beam may lie, for creases ``low`` to ``high``."""
        if self.axis is not None:
            if not low - _ON_AXIS <= self.axis <= high + _ON_AXIS:
                return shapely.Polygon()
            low = high = self.axis
        return places(self.inner(scale, beam), beam.drawn(scale), low, high)

    def spans(self, scale: float, beam: CentreBeam, low: float, high: float) -> tuple[Span, ...]:
        """Return the creases between ``low`` and ``high`` with room for the beam at ``scale``."""
        free = self.places(scale, beam, low, high)
        return spans_of(free.intersection(self.slit_band(scale, beam)))

    def slit_band(self, scale: float, beam: CentreBeam) -> shapely.Polygon:
        """Return where a beam's middle leaves the base solid paper at head and foot (drawn mm)."""
        middle, half = (self.box.head + self.box.foot) / 2, beam.travel / scale
        return shapely.box(self.whole.left - 1, middle - half, self.whole.right + 1, middle + half)


@dataclass(frozen=True)
class Found:
    """A scale and the spans its crease may lie in; none where no crease will do."""

    scale: float
    spans: tuple[Span, ...]


def largest(upright: Upright, card: Card, beam: CentreBeam, *, step: float = 0.0) -> Found:
    """Return the largest scale at which the box closes and the centre beam has room.

    Branch and bound over spans of creases. The scale a crease allows falls with its distance from
    the box's middle, and paper that has room at one scale has it at every larger one; so the spans
    with room at a scale hold all creases that can have it at a smaller one. The span with the
    highest bound is looked at again at just that scale, until it stays as it is. Room too near
    the base's head or foot for a slit comes nearer the middle at a smaller scale: such a span is
    kept for the scale at which it first could do. Along a bent wall each look takes little off:
    with a ``step`` each takes that share off at least, and what is in between may be missed.
    """
    box = upright.box

    def bound(span: Span) -> float:
        return box.largest(min(max(box.middle, span[0]), span[1]), card)

    whole = (upright.axis, upright.axis) if upright.axis is not None else (box.left, box.right)
    top = bound(whole)
    heap: list[tuple[float, Span, float]] = [(-top, whole, np.inf)]
    kept: list[Span] = []
    best = 0.0
    while heap and -heap[0][0] >= best * (1 - SAME):
        negative, span, seen_at = heapq.heappop(heap)
        scale = -negative
        if scale >= seen_at * (1 - SAME):
            best = best or scale
            low, high = box.creases(best, card)
            kept.append((max(span[0], low), min(span[1], high)))
            continue
        inside, outside = _split(upright, beam, scale, span)
        for part in inside:
            most = bound(part)
            next_one = most if most >= scale * (1 - SAME) else min(most, scale * (1 - step))
            heapq.heappush(heap, (-next_one, part, scale))
        for part, later in outside:
            later = min(bound(part), later, scale * (1 - step))
            heapq.heappush(heap, (-later, part, np.inf))
    return Found(best or top, tuple(sorted((min(low, high), high) for low, high in kept)))


def _split(
    upright: Upright, beam: CentreBeam, scale: float, span: Span
) -> tuple[tuple[Span, ...], list[tuple[Span, float]]]:
    """Return the spans with room at ``scale``, and those whose room lies too near an end.

    The latter with the scale at which the nearest of it comes within the slit's band.
    """
    free = upright.places(scale, beam, *span)
    band = upright.slit_band(scale, beam)
    inside = spans_of(free.intersection(band))
    middle = (upright.box.head + upright.box.foot) / 2
    outside = []
    for piece in shapely.get_parts(free.difference(band)):
        left, head, right, foot = piece.bounds
        if piece.is_empty or any(low <= left and right <= high for low, high in inside):
            continue
        later = beam.travel / max(head - middle, middle - foot)
        outside.append(((left, right), min(later, scale * (1 - _STEP))))
    return inside, _joined(outside)


def _joined(outside: list[tuple[Span, float]]) -> list[tuple[Span, float]]:
    """Return spans that overlap as one: room at head and foot alike is looked at once."""
    joined: list[tuple[Span, float]] = []
    for (left, right), later in sorted(outside):
        if joined and left <= joined[-1][0][1]:
            (first, last), before = joined.pop()
            left, right, later = first, max(last, right), max(before, later)
        joined.append(((left, right), later))
    return joined


def at_scale(upright: Upright, card: Card, beam: CentreBeam, scale: float) -> Found:
    """Return the creases at which a motif of ``scale`` closes and has room for the beam."""
    low, high = upright.box.creases(scale, card)
    along = min(card.window[1] / upright.box.height, upright.box.most)
    if low > high or scale > along * (1 + SAME):
        return Found(scale, ())
    return Found(scale, upright.spans(scale, beam, low, high))


def limits(upright: Upright, crease: float, scale: float, card: Card) -> tuple[Edge, ...]:
    """Return the edges that stop the motif growing."""
    box = upright.whole if scale >= upright.box.most * (1 - SAME) else upright.box
    beyond = box.beyond(crease, scale, card)
    order: tuple[Edge, ...] = ("head", "foot", "left", "right")
    return tuple(edge for edge in order if beyond[edge] > -0.01)
