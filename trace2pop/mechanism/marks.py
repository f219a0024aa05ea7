"""Small cut marks that tell beams and slits apart and end up hidden: a cutter prints no notes.

A beam carries its number in each lower flange, its slit the same number beside it: a slot counts
five, a round hole one. When the beam sits in its own slit the right way round, the holes lie over
the pinholes.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from trace2pop import limits
from trace2pop.mechanism.keys import lower_flange, with_shoulders
from trace2pop.model.card import Beam, CardPlan

FIVE = 5
"""What a slot counts."""

_SPARE = 0.05
"""What paper left beside a hole is wider than the narrowest strip the cutter leaves whole."""

_ROUND_OFF = 1e-6
_NO_ROOM = 1e6


@dataclass(frozen=True)
class Mark:
    """A round hole, or a slot along the fold: its middle, from end to end, and its width.

    ``down`` is the distance from the lower fold, ``along`` from the beam's head end.
    """

    down: float
    along: float
    length: float
    width: float

    @property
    def counts(self) -> int:
        """What it adds to the number."""
        return FIVE if self.length > self.width else 1

    @property
    def pinhole(self) -> "Mark":
        """The hole in the base that lies under it, a little smaller."""
        less = limits.MARK_PLAY.value
        return replace(self, length=self.length - less, width=self.width - less)


def marks_of(beam: Beam, number: int, strip: float) -> tuple[Mark, ...]:
    """Return the marks of a beam numbered ``number``: one round hole where there is no room.

    ``strip`` is the narrowest strip that the cutter leaves whole. Empty where not even one fits.
    """
    return _written(beam, number, strip) or _written(beam, 1, strip)


def has_room(beam: Beam, number: int, strip: float) -> bool:
    """Return whether a beam can carry ``number``."""
    return bool(_written(beam, number, strip))


def mark_side(beam: Beam) -> int:
    """Return on which side of its slit a beam's pinholes lie: away from the crease, else right."""
    return -1 if beam.u < 0 else 1


def numbers(beams: Sequence[Beam]) -> dict[str, int]:
    """Return the number that marks each beam's piece, from 1, by the piece's name."""
    return {part: n for n, part in enumerate(dict.fromkeys(beam.part for beam in beams), start=1)}


def sharing(beams: Sequence[Beam]) -> tuple[Beam, ...]:
    """Return the beams with equal ones named as one piece, in the order of the first of each."""
    named: dict[tuple[float, ...], str] = {}
    shared = []
    for beam in beams:
        sizes = (beam.v1 - beam.v0, beam.flange, beam.taper_deg, beam.shoulder)
        kind = tuple(round(x, 3) for x in sizes)
        shared.append(replace(beam, part=named.setdefault(kind, f"beam-{len(named) + 1}")))
    return tuple(shared)


def numbered(plan: CardPlan, strip: float, *, keyed: bool) -> CardPlan:
    """Return the plan with its beams numbered so that each has room for the marks of its number.

    Beams keep their order where all have. Else numbers change hands, as few and as little as will
    do; where that isn't enough, equal beams take the same number, as they may change places.
    ``keyed`` says that the beams get shoulders, which leave more room.
    """
    card = plan.cut.placed.card
    beams = with_shoulders(plan.beams, card) if keyed else sharing(plan.beams)
    parts = list(numbers(beams))
    order, misfits = _order(beams, strip)
    if misfits and keyed:
        shared = sharing(beams)
        other, fewer = _order(shared, strip)
        if fewer < misfits:
            beams, parts, order = shared, list(numbers(shared)), other
    if [beam.part for beam in beams] == [beam.part for beam in plan.beams] and order == parts:
        return plan
    place = {part: n for n, part in enumerate(order, start=1)}
    rows = sorted(zip(beams, plan.beams, strict=True), key=lambda row: place[row[0].part])
    renamed = tuple(
        replace(old, id=n, part=f"beam-{place[beam.part]}")
        for n, (beam, old) in enumerate(rows, start=1)
    )
    names = {old.part: new.part for (_, old), new in zip(rows, renamed, strict=True)}
    closed = plan.closed
    layers = tuple(_renamed(layer, names) for layer in closed.layers)
    areas = tuple(
        replace(area, layers=tuple(_renamed(layer, names) for layer in area.layers))
        for area in closed.areas
    )
    return replace(plan, beams=renamed, closed=replace(closed, layers=layers, areas=areas))


def _renamed(layer: str, names: dict[str, str]) -> str:
    words, _, part = layer.rpartition(" ")
    return f"{words} {names[part]}" if part in names else layer


def _order(beams: Sequence[Beam], strip: float) -> tuple[list[str], int]:
    """Return the pieces in the order of their numbers, and how many have no room for theirs."""
    firsts = {beam.part: beam for beam in reversed(beams)}
    parts = list(numbers(beams))
    own = range(1, len(parts) + 1)
    if all(has_room(firsts[part], n, strip) for part, n in zip(parts, own, strict=True)):
        return parts, 0
    from scipy.optimize import linear_sum_assignment

    cost = np.array(
        [
            [(n - m) ** 2 + _NO_ROOM * (not has_room(firsts[part], m, strip)) for m in own]
            for part, n in zip(parts, own, strict=True)
        ]
    )
    rows, columns = linear_sum_assignment(cost)
    order = [parts[row] for row in rows[np.argsort(columns)]]
    return order, int((cost[rows, columns] >= _NO_ROOM).sum())


def _written(beam: Beam, number: int, strip: float) -> tuple[Mark, ...]:
    """Return the marks of a number, small ones where only they have room; empty where none have.

    They start at the head end, so that a beam turned round shows, and run in rows along the fold.
    """
    for width in (limits.MARK_HOLE.value, limits.MARK_SMALL.value):
        marks = tuple(_rows(beam, number, width, strip + _SPARE))
        if sum(mark.counts for mark in marks) == number:
            return marks
    return ()


def _rows(beam: Beam, number: int, width: float, paper: float) -> Iterator[Mark]:
    """Yield marks as far as there is room for them, with ``paper`` left round each."""
    fives, ones = divmod(number, FIVE)
    lengths = [limits.MARK_FIVE.value * width] * fives + [width] * ones
    radius, apart = width / 2, max(limits.MARK_GAP.value, paper)
    off_slit = beam.slit.width / 2 + (width - limits.MARK_PLAY.value) / 2 + paper
    last = beam.flange - radius - paper
    row = min(max(limits.MARK_FOLD.value, off_slit), last)
    if row < off_slit - _ROUND_OFF:
        return
    while lengths and row <= last + _ROUND_OFF:
        start, end = _run(beam, row, radius + paper)
        at = start - radius
        while lengths and at + lengths[0] <= end + radius + _ROUND_OFF:
            length = lengths.pop(0)
            yield Mark(row, at + length / 2, length, width)
            at += length + apart
        row += width + apart


def _run(beam: Beam, row: float, clear: float) -> tuple[float, float]:
    """Return between which places along the row the middle of a hole keeps ``clear`` of the edges.

    At the foot it ends with the fold, so that the pinholes stay under the motif.
    """
    length = beam.v1 - beam.v0
    flange = lower_flange(replace(beam, u=0.0, v0=0.0, v1=length), 1)
    if not flange.is_valid:  # too short for its flange ends: refused when it is drawn
        return math.inf, -math.inf
    whole = shapely.union(flange, shapely.box(-2 * clear, 0.0, 0.0, length))
    beyond = shapely.box(-2 * clear, -2 * clear, 0.0, 0.0)  # the other half, past the head's fold
    room = shapely.union(whole, beyond).buffer(-clear)
    line = room.intersection(shapely.LineString([(row, 0.0), (row, length)]))
    if line.is_empty:
        return math.inf, -math.inf
    return float(line.bounds[1]), float(line.bounds[3])
