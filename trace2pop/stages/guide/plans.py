"""Plans of the card: the motif going on, the outer card, the closed card."""

import numpy as np
import shapely
from shapely import affinity

from trace2pop.geometry import beziers
from trace2pop.mechanism.beam import flange_pair
from trace2pop.model.guide import Figure
from trace2pop.stages.guide.card import TheCard
from trace2pop.stages.guide.endview import _turned
from trace2pop.stages.guide.flat import motif_glue
from trace2pop.stages.guide.sketch import Sketch

_STRIP = 12.0
_LIP = 8.0


def placing(card: TheCard, height: float) -> Figure:
    """Return the right half of the base: beams laid outward, gauge hooked on, folded motif."""
    size, say, web = card.card, card.say, card.card.web
    scale = height / (size.height + _LIP)
    sketch = Sketch(scale)
    sketch.area(
        [(-14, 0), (size.half_width, 0), (size.half_width, size.height), (-14, size.height)], "base"
    )
    sketch.line([(0, 0), (0, size.height)], "valley")
    for beam in card.beams:
        if beam.u < 0:
            continue
        sketch.area(
            [
                (beam.u, beam.v0),
                (beam.u + web, beam.v0),
                (beam.u + web, beam.v1),
                (beam.u, beam.v1),
            ],
            "beam",
        )
        pair = flange_pair(beam.u + web, beam.v0, beam.v1, beam.flange, beam.taper_deg)
        sketch.shape(pair, "beam")
        for corners in motif_glue(beam, web):
            area = shapely.Polygon(corners)
            if beam.u > 0 or area.centroid.x > web:
                sketch.glue(area)
        sketch.ball(str(card.numbers[beam.part]), (beam.u + web * 0.45, (beam.v0 + beam.v1) / 2))
    gauge = card.pieces.get("gauge")
    if gauge is not None:
        outline = next(stroke.line for stroke in gauge.strokes if stroke.id == "outline")
        left = max(web - 14.0, 1.0)
        place = outline + np.array([left, -_LIP])
        sketch.contours([place], "gauge")
        x0, y0, x1, _ = beziers.bounds(place)
        sketch.line([(x0, 0), (x1, 0)], "mountain")
    folded = affinity.translate(card.half_motif(1), xoff=web)
    rings = [
        np.asarray(piece.exterior.coords)
        for piece in shapely.get_parts(folded)
        if piece.geom_type == "Polygon"
    ]
    for ring in rings:
        sketch.line(ring, "cut", width=0.5)
    rim = np.concatenate(rings)
    tip = rim[rim[:, 0].argmax()]
    if gauge is not None:
        sketch.pointer(say("mount.gauge"), ((x0 + x1) / 2, y0 + 3), (10.0, -3.0))
    sketch.pointer(
        say("mount.motif"),
        (tip[0] - 3, tip[1]),
        ((size.half_width - tip[0] + 4) * scale + 3.0, 0.0),
    )
    return sketch.figure(say("mount.plan_alt"), say("mount.plan"))


def outer(card: TheCard, width: float) -> Figure:
    """Return the outer card, inner face up, with the base's place, its tape and what stays bare."""
    size, say, spine = card.card, card.say, card.spine
    left, right = -size.outer.width - spine, size.outer.width
    scale = width / (right - left)
    sketch = Sketch(scale)
    top, foot = -size.border, size.outer.height - size.border
    sketch.area([(left, top), (right, top), (right, foot), (left, foot)], "cover")
    for u in sorted({-spine, 0.0}):
        sketch.line([(u, top), (u, foot)], "valley")
    w, h, bare = size.half_width, size.height, card.bare
    for near, far in ((0.0, w), (-spine - w, -spine)):
        sketch.line([(near, 0), (far, 0), (far, h), (near, h), (near, 0)], "hidden")
    inset = 3.0
    sketch.glue(shapely.box(bare, inset, bare + _STRIP, h - inset))
    sketch.glue(shapely.box(bare + _STRIP + 4, inset, w - inset, inset + _STRIP))
    sketch.glue(shapely.box(bare + _STRIP + 4, h - inset - _STRIP, w - inset, h - inset))
    sketch.glue(
        shapely.box(w - inset - _STRIP, inset + _STRIP + 4, w - inset, h - inset - _STRIP - 4)
    )
    sketch.ball("1", (bare + _STRIP / 2, h / 2))
    sketch.ball("2", (w - inset - _STRIP / 2, h / 2))
    sketch.ball("3", (-spine - w / 2, h / 2))
    sketch.measure((0, foot), (bare, foot), say("cover.bare", bare=say.mm(card.bare)), (0.0, 4.0))
    if spine > 0:
        sketch.measure(
            (-spine, top), (0, top), say("cover.spine_note", spine=say.mm(spine)), (0.0, -4.0)
        )
    return sketch.figure(say("cover.alt"), say("cover.plan"))


def closing_cover(card: TheCard, width: float) -> Figure:
    """Return the closed card on the outer card's right half, its left half coming over."""
    size, say = card.card, card.say
    scale = width / (2 * size.outer.width)
    sketch = Sketch(scale)
    thick = max(card.sheets.parts.plan.closed.thickness, 2.0)
    w = size.outer.width
    sketch.line([(0, 0), (w, 0)], "end-cover")
    sketch.line([(0, 0), (0, -card.spine)] if card.spine else [(0, 0), (0, -0.1)], "end-cover")
    start = np.array([0.0, -card.spine])
    tip = start + _turned(-52.0) * w
    sketch.line([start, tip], "end-cover")
    lift = 1.0 / scale
    sketch.area(
        [
            (1, -lift),
            (size.half_width, -lift),
            (size.half_width, -thick - lift),
            (1, -thick - lift),
        ],
        "shade",
    )
    for y in (-lift, -thick - lift):
        sketch.line([(0.5, y), (size.half_width, y)], "end-base")
    high = tip + np.array([6, -4])
    sketch.swing([tuple(high), (w * 0.1, high[1] - 24), (w * 0.55, high[1] + 18)])
    return sketch.figure(say("cover.end_alt"), say("cover.end"))


def closed(card: TheCard, width: float) -> Figure:
    """Return the closed card from the front, the motif's two halves seen through the cover."""
    size, say, web = card.card, card.say, card.card.web
    scale = width / size.outer.width
    sketch = Sketch(scale)
    top = -size.border
    sketch.area(
        [
            (0, top),
            (size.outer.width, top),
            (size.outer.width, top + size.outer.height),
            (0, top + size.outer.height),
        ],
        "cover",
    )
    sketch.area(
        [(0, 0), (size.half_width, 0), (size.half_width, size.height), (0, size.height)], "base"
    )
    halves = [
        affinity.translate(card.half_motif(1), xoff=web),
        affinity.translate(affinity.scale(card.half_motif(-1), -1, 1, origin=(0, 0)), xoff=web),
    ]
    whole = shapely.union_all(halves)
    sketch.shape(whole, "motif")
    for half in halves:
        for piece in shapely.get_parts(half):
            sketch.line(np.asarray(piece.exterior.coords), "hidden")
    reach = whole.bounds[2]
    inside = say.mm(size.half_width - reach)
    foot = top + size.outer.height
    sketch.measure((0, foot), (reach, foot), say.mm(reach), (0.0, 4.0))
    sketch.measure((reach, foot), (size.half_width, foot), inside, (0.0, 10.0))
    return sketch.figure(say("check.alt"), say("check.plan", inside=inside))
