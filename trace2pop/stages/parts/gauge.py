"""The placing gauge: how far the motif lies from the head, set without measuring.

The motif is laid folded on the folded beams of the right half: its crease lies ``web`` from the
base's crease, both its halves on top of each other further out. The gauge lies there between base
crease and motif: a lip, folded down, hooks on the head edge; a bar runs along the motif's crease;
its end follows the folded motif's own edge, so that the motif comes to rest in one place.
"""

import numpy as np
import shapely
from shapely import affinity

from trace2pop import limits
from trace2pop.geometry import beziers
from trace2pop.model.card import CutMotif
from trace2pop.model.pieces import Part
from trace2pop.model.stock import Stock
from trace2pop.stages.parts.drawing import Drawing, scored_run
from trace2pop.stages.parts.motif import crease_spans, paper

_BAR = 14.0
_NIB = 10.0
_LIP = 8.0
_FENCE = 6.0
_CLEAR_OF_SPINE = 1.0


def gauge_part(cut: CutMotif, stock: Stock, strip: float, grain_deg: float) -> Part:
    """Return the gauge for the right half, front up, lip at the top.

    It has nothing narrower than ``strip``.
    """
    web = cut.placed.card.web
    stop = crease_spans(cut)[0][0]
    shape = _shape(cut, web, stop, strip)
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
    bar, end = web - left, stop + _FENCE
    for line, words in enumerate(("gauge: right half,", "this side up")):
        x = left + bar * (0.6 - 0.3 * line)
        drawing.label(words, (x, end / 2), size=2.6, turn_deg=90.0, room=end - 3)


def folded_motif(cut: CutMotif, web: float) -> shapely.Geometry:
    """Return what the folded motif covers on the right half, holes filled: (distance, v)."""
    outlines = shapely.get_parts(paper(cut, 0.01))
    whole = shapely.union_all([shapely.Polygon(piece.exterior) for piece in outlines])
    right = shapely.box(0, -1e4, 1e4, 1e4)
    left = affinity.scale(whole, xfact=-1, origin=(0, 0))
    both = shapely.union(whole.intersection(right), left.intersection(right))
    return affinity.translate(both, xoff=web)


def _shape(cut: CutMotif, web: float, stop: float, strip: float) -> shapely.Polygon:
    """Return the gauge on the right half of the base: x from the base's crease, y from its head."""
    left = max(web - _BAR, _CLEAR_OF_SPINE)
    body = shapely.box(left, -_LIP, web + _NIB, stop + _FENCE)
    motif = folded_motif(cut, web)
    # Below the stop only the fence beside the crease stays.
    beyond = shapely.box(web, stop + 1e-9, web + _NIB + 1, stop + _FENCE + 1)
    free = body.difference(shapely.union_all([motif, beyond]))
    clean = free.buffer(-strip / 2, join_style="mitre").buffer(strip / 2, join_style="mitre")
    kept = max(shapely.get_parts(clean), key=lambda piece: float(piece.area))
    return shapely.Polygon(np.asarray(kept.exterior.coords)).simplify(limits.GAUGE_TRUE.value)
