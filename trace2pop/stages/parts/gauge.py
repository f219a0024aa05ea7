"""The placing gauge: how far the motif lies from the head, set without measuring.

The motif is laid folded on the folded beams of the right half: its crease lies ``web`` from the
base's crease, both its halves on top of each other further out. The gauge lies there between base
crease and motif: a lip, folded down, hooks on the head edge; a bar runs along the motif's crease;
its end follows the folded motif's own edge, so that the motif comes to rest in one place.

It touches the motif only where a scored stretch of its crease begins. A toe that crosses the crease
without a score stays flat or folds, as the hand has it, and thin limbs bend: it keeps off both.
"""

import math
from dataclasses import dataclass

import numpy as np
import shapely

from trace2pop import limits
from trace2pop.errors import SheetError
from trace2pop.geometry import beziers
from trace2pop.model.card import CutMotif
from trace2pop.model.pieces import Part
from trace2pop.model.stock import Stock
from trace2pop.stages.parts.drawing import Drawing, scored_run
from trace2pop.stages.parts.motif import crease_spans, paper

_BAR = 14.0
_NIB = 10.0
_LIP = 8.0
_CLEAR_OF_SPINE = 1.0
_LONG = 10.0
"""mm of crease that lie straight against the bar; every beam on the crease needs more."""

_FINGER, _LIMB = 3.0, 4.0
"""mm: a gauge's finger narrower than the first bends, a motif's limb than the second."""

_NUDGE, _HOLDS = 0.5, 2.0
"""Moved by the first towards the head, the motif meets this width of the gauge, in mm."""

_CHORDS = 0.002
"""mm that chords may be off: where an edge runs along the crease, ten times that along it."""

_FAR = 1e4


def gauge_part(cut: CutMotif, stock: Stock, strip: float, grain_deg: float) -> Part:
    """Return the gauge for the right half, front up, lip at the top.

    It has nothing narrower than ``strip``.

    Raises:
        SheetError: where there is no room for one so wide.
    """
    web = cut.placed.card.web
    stop, shape = _best(_laid(cut, web), web, strip)
    drawing = Drawing()
    left, _, right, _ = shape.bounds
    run = scored_run(left, right)
    if run:
        drawing.score("lip", (run[0], 0.0), (run[1], 0.0), "mountain")
    drawing.outline(beziers.from_polygon(shape))
    _labels(drawing, left, right, web, stop)
    if stop > 16:
        drawing.grain((web + _NIB / 2, stop / 2), grain_deg, 8.0)
    return drawing.part("gauge", "placing gauge", "gauge", stock, grain_deg=grain_deg)


def _labels(drawing: Drawing, left: float, right: float, web: float, stop: float) -> None:
    middle, room = (left + right) / 2, right - left - 2
    drawing.label("lip: fold down", (middle, -_LIP / 2 - 0.5), size=2.2, room=room)
    drawing.label("over the head edge", (middle, -_LIP / 2 + 2.3), size=2.2, room=room)
    bar, end = web - left, stop + limits.GAUGE_FENCE.value
    for line, words in enumerate(("gauge: right half,", "this side up")):
        x = left + bar * (0.6 - 0.3 * line)
        drawing.label(words, (x, end / 2), size=2.6, turn_deg=90.0, room=end - 3)


@dataclass(frozen=True, eq=False)
class _Laid:
    """The folded motif on the right half, (distance, v): holes filled, both halves on each other.

    ``solid`` is what a scored fold turns over; ``loose`` is what crosses the crease without a
    score, as it lies flat and as it lies folded. ``spans`` are the stretches (v0, v1) of the
    motif's crease that are scored, from head to foot.
    """

    solid: shapely.Geometry
    loose: shapely.Geometry
    spans: tuple[tuple[float, float], ...]


def _laid(cut: CutMotif, web: float) -> _Laid:
    outlines = shapely.get_parts(paper(cut, _CHORDS))
    whole = shapely.union_all([shapely.Polygon(piece.exterior) for piece in outlines])
    line = shapely.LineString([(0.0, -_FAR), (0.0, _FAR)])
    bounds = [span.bounds for span in shapely.get_parts(whole.intersection(line)) if span.length]
    across = sorted((float(v0), float(v1)) for _, v0, _, v1 in bounds)
    runs = [run for run in (scored_run(*span) for span in crease_spans(cut)) if run]
    scored = [span for span in across if any(span[0] < run[0] < span[1] for run in runs)] or across
    folds = shapely.multilinestrings([[(0.0, v0), (0.0, v1)] for v0, v1 in scored])
    solid, loose = [], []
    for side in (-1, 1):
        half = whole.intersection(
            shapely.box(min(0, side * _FAR), -_FAR, max(0, side * _FAR), _FAR)
        )
        for piece in shapely.get_parts(half):
            folded, flat = (_moved(piece, sign, web) for sign in (side, -side))
            if piece.intersection(folds).length > 0:
                solid.append(folded)
            else:
                loose += [folded, flat]
    return _Laid(shapely.union_all(solid), shapely.union_all(loose), tuple(scored))


def _moved(piece: shapely.Geometry, sign: float, web: float) -> shapely.Geometry:
    return shapely.transform(piece, lambda xy: xy * [sign, 1.0] + [web, 0.0])


def _best(laid: _Laid, web: float, strip: float) -> tuple[float, shapely.Polygon]:
    """Return where the motif stops, and the gauge on the right half of the base.

    x runs from the base's crease, y from its head. The stop is the head end of the first long
    stretch of scored crease, or of a short one before it that holds the motif better. Beams on the
    crease need a long one, so none lies under the bar.

    Raises:
        SheetError: where no such gauge would hold together.
    """
    long = [number for number, (v0, v1) in enumerate(laid.spans) if v1 - v0 >= _LONG]
    spans = laid.spans[: long[0] + 1][::-1] if long else laid.spans
    found = []
    for stop, _ in spans:
        shape = _shape(laid, web, stop, strip)
        holds = _holds(shape, laid, web, stop)
        if holds >= _HOLDS:
            return stop, shape
        found.append((holds, stop, shape))
    holds, stop, shape = max(found, key=lambda row: row[0])
    if holds == 0:
        raise _no_room(web, strip)
    return stop, shape


def _no_room(web: float, strip: float) -> SheetError:
    bar = min(_BAR, web - _CLEAR_OF_SPINE)
    if strip <= bar:
        return SheetError(
            "the placing gauge has no room beside the head end of the motif's crease: it would "
            f"hold by less than the {strip:.1f} mm that your cutter leaves whole",
            "turn the motif (--turn), or choose a cutter that leaves finer strips whole "
            "(--cutter-strip)",
        )
    finer = "a cutter that leaves finer strips whole (--cutter-strip)"
    higher = f"a --rise higher by {math.ceil(10 * (strip - bar)) / 10:.1f} mm, or {finer}"
    return SheetError(
        f"the placing gauge can't be cut: at this rise its bar is {bar:.1f} mm wide, and your "
        f"cutter leaves strips from {strip:.1f} mm on whole",
        f"choose {higher if strip <= _BAR else finer}",
    )


def _holds(shape: shapely.Polygon, laid: _Laid, web: float, stop: float) -> float:
    """Return the width in mm that keeps the motif from the head; 0 for a gauge that is broken."""
    end = stop + limits.GAUGE_FENCE.value
    fence = shapely.box(web - 1.0, stop, web, end)
    whole = shape.bounds[1] < -_LIP + 0.01 and shape.intersection(fence).area > 0.9 * (end - stop)
    nearer = shapely.transform(laid.solid, lambda xy: xy - [0.0, _NUDGE])
    return float(shape.intersection(nearer).area) / _NUDGE if whole else 0.0


def _shape(laid: _Laid, web: float, stop: float, strip: float) -> shapely.Polygon:
    left, end = max(web - _BAR, _CLEAR_OF_SPINE), stop + limits.GAUGE_FENCE.value
    body = shapely.box(left, -_LIP, web + _NIB, end)
    # Below the stop only the fence beside the crease stays.
    beyond = shapely.box(web, stop + 1e-9, web + _NIB + 1, end + 1)
    off = shapely.union(laid.loose, _off(laid.solid, web, stop))
    # Room round a hand's toes is one bay, without points between them.
    clear = off.buffer(limits.GAUGE_CLEAR.value + _FINGER).buffer(-_FINGER)
    free = body.difference(shapely.union_all([laid.solid, clear, beyond]))
    finger = max(strip, min(_FINGER, 0.7 * (web - left)))
    opened = free.buffer(-finger / 2, join_style="mitre").buffer(finger / 2, join_style="mitre")
    # A mitre may reach beyond what was opened.
    clean = opened.intersection(free)
    kept = max(shapely.get_parts(clean), key=lambda piece: float(piece.area))
    return shapely.Polygon(np.asarray(kept.exterior.coords)).simplify(limits.GAUGE_TRUE.value)


def _off(solid: shapely.Geometry, web: float, stop: float) -> shapely.Geometry:
    """Return what of the motif in the gauge's reach is not to stop it: all but its broad head.

    That is what lies apart from the head end of the crease and reaches beyond it, and limbs.
    """
    end = shapely.Point(web, stop)
    reach = solid.intersection(shapely.box(web - 1, -_FAR, web + _NIB, stop))
    parts = shapely.get_parts(reach)
    apart = [
        piece
        for piece in parts
        if piece.distance(end) > limits.GAUGE_CLEAR.value
        and piece.bounds[1] < stop - limits.GAUGE_TRUE.value
    ]
    head = shapely.union_all([piece for piece in parts if piece.distance(end) <= 1e-3])
    broad = solid.buffer(-_LIMB / 2).buffer(_LIMB / 2 * 1.01)
    thin = shapely.get_parts(head.difference(broad))
    limbs = [piece for piece in thin if piece.area > 0.1 and piece.distance(end) > _LIMB]
    return shapely.union_all([*apart, *limbs])
