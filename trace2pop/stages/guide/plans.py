"""Plans of the card: the motif going on, the outer card, the closed card."""

import numpy as np
import shapely
from shapely import affinity

from trace2pop.geometry import beziers
from trace2pop.limits import GAUGE_FENCE
from trace2pop.mechanism.beam import flange_pair
from trace2pop.model.card import Beam
from trace2pop.model.guide import Figure
from trace2pop.model.outline import Contour, FloatArray
from trace2pop.stages.guide.card import TheCard
from trace2pop.stages.guide.endview import _turned
from trace2pop.stages.guide.flat import motif_glue
from trace2pop.stages.guide.sketch import Sketch

_LIP = 8.0
_WINDOW_CLEAR = 4.0
_BY_THE_GAUGE = 2.0
_ALIKE = 0.3
_MEETS = 0.15
"""mm to the gauge within which the motif's outline touches it."""
STRIP_INSET = 3.0
"""Tape on the base's back from its edges, mm."""


def placing(card: TheCard, height: float) -> Figure:
    """Return the right half of the base: beams laid outward, gauge hooked on, folded motif."""
    size, say, web = card.card, card.say, card.card.web
    scale = height / (size.height + _LIP)
    sketch = Sketch(scale)
    w, h = size.half_width, size.height
    sketch.area([(-14, 0), (w, 0), (w, h), (-14, h)], "base")
    sketch.line([(0, 0), (0, h)], "valley")
    for beam in card.beams:
        if beam.u < 0:
            continue
        _laid(sketch, card, beam)
        number = str(card.numbers[beam.part])
        sketch.ball(number, (beam.u + web * 0.45, (beam.v0 + beam.v1) / 2))
    place = gauge_outline(card)
    if place is not None:
        sketch.contours([place], "gauge")
        x0, y0, x1, _ = beziers.bounds(place)
        sketch.line([(x0, 0), (x1, 0)], "mountain")
        sketch.pointer(say("mount.gauge"), ((x0 + x1) / 2, y0 + 3), (10.0, -3.0))
    left = affinity.translate(affinity.scale(card.half_motif(-1), -1, 1, origin=(0, 0)), xoff=web)
    for ring in _rings(left):
        sketch.line(ring, "hidden")
    rings = _rings(affinity.translate(card.half_motif(1), xoff=web))
    for ring in rings:
        sketch.line(ring, "cut", width=0.5)
    folded_parts(sketch, card)
    rim = np.concatenate(rings)
    tip = rim[rim[:, 0].argmax()]
    sketch.pointer(say("mount.motif"), (tip[0] - 3, tip[1]), ((w - tip[0] + 4) * scale + 3.0, 0.0))
    other = np.concatenate(_rings(left))
    end = other[(other[:, 0] - 0.2 * other[:, 1]).argmax()]
    drop = 7.0 if end[1] >= tip[1] else -7.0
    sketch.pointer(say("mount.other"), end, ((w - end[0] + 4) * scale + 3.0, drop))
    return sketch.figure(say("mount.plan_alt"), say("mount.plan"))


def folded_parts(sketch: Sketch, card: TheCard) -> None:
    """Draw the parts added by hand as they lie on the right half, the left half's too."""
    web = card.card.web
    for part in card.hand:
        for line in (part.path, *part.branches):
            sketch.hollow(_folded(line, web), width=part.diameter * sketch.scale)


def _folded(line: FloatArray, web: float) -> FloatArray:
    return np.column_stack([np.abs(line[:, 0]) + web, line[:, 1]])


def by_the_gauge(card: TheCard) -> bool:
    """Whether parts added by hand lie on the gauge, or near it, while the motif is set down."""
    place = gauge_outline(card)
    if place is None:
        return False
    gauge = shapely.Polygon(beziers.flatten(place)).buffer(_BY_THE_GAUGE)
    lines = [line for part in card.hand for line in (part.path, *part.branches)]
    return any(gauge.intersects(shapely.LineString(_folded(line, card.card.web))) for line in lines)


def _laid(sketch: Sketch, card: TheCard, beam: Beam) -> None:
    """Draw a beam of the right half, or the one on the crease, laid outward."""
    web = card.card.web
    near, far = beam.u, beam.u + web
    sketch.area([(near, beam.v0), (far, beam.v0), (far, beam.v1), (near, beam.v1)], "beam")
    pair = flange_pair(far, beam.v0, beam.v1, beam.flange, beam.taper_deg)
    sketch.shape(pair, "beam")
    for corners in motif_glue(beam, web):
        area = shapely.Polygon(corners)
        if beam.u > 0 or area.centroid.x > web:
            sketch.glue(area)


def gauge_outline(card: TheCard) -> Contour | None:
    """Return the gauge's outline where it hooks on the right half of the base."""
    part = card.pieces.get("gauge")
    if part is None:
        return None
    outline = next(stroke.line for stroke in part.strokes if stroke.id == "outline")
    left, top, _, _ = beziers.bounds(outline)
    moved: Contour = outline + np.array([card.gauge_left - left, -_LIP - top])
    return moved


def _rings(shape: shapely.Geometry) -> list[FloatArray]:
    return [
        np.asarray(piece.exterior.coords)
        for piece in shapely.get_parts(shape)
        if piece.geom_type == "Polygon" and not piece.is_empty
    ]


def notch(card: TheCard, room: float) -> Figure | None:
    """Return the gauge's notch, large: the two edges of it that the folded motif touches."""
    place = gauge_outline(card)
    if place is None:
        return None
    web, say = card.card.web, card.say
    right = affinity.translate(card.half_motif(1), xoff=web)
    stop = beziers.bounds(place)[3] - GAUGE_FENCE.value
    box = shapely.box(web - 13.0, stop - 13.0, web + 15.0, stop + 14.0)
    scale = min(2.0, (room - 36.0) / 28.0)
    sketch = Sketch(scale)
    sketch.shape(box, "base")
    for beam in card.beams:
        if beam.u == 0:
            sketch.shape(shapely.box(0, beam.v0, web, beam.v1).intersection(box), "beam")
            pair = flange_pair(web, beam.v0, beam.v1, beam.flange, beam.taper_deg)
            sketch.shape(pair.intersection(box), "beam")
    gauge = shapely.Polygon(beziers.flatten(place, 0.02))
    sketch.shape(gauge.intersection(box), "gauge")
    left = affinity.translate(affinity.scale(card.half_motif(-1), -1, 1, origin=(0, 0)), xoff=web)
    both = shapely.union(right, left)
    sketch.shape(both.intersection(box), "motif")
    for ring in _rings(left):
        for run in shapely.get_parts(shapely.LineString(ring).intersection(box)):
            if run.length > 0:
                sketch.line(shapely.get_coordinates(run), "hidden")
    head, foot = box.bounds[1], box.bounds[3]
    sketch.line([(web, head), (web, foot)], "hidden")
    sketch.arrow([(web + 5.2, stop + 4.2), (web + 0.6, stop + 4.2)])
    tops = _tops(both, gauge, web)
    if tops is not None:
        x, y = tops
        sketch.arrow([(x, y + 8.0), (x, y + 0.5)])
    edge = 15.0 * scale + 3.0
    if tops is not None:
        off = ((15.0 - tops[0] + web) * scale + 3.0, -4.0)
        word = _half_that_meets(right, left, gauge, web)
        sketch.pointer(say(f"mount.{word}"), (tops[0], tops[1] - 0.2), off)
    sketch.pointer(say("mount.notch_side"), (web, stop + 2.0), (edge, 6.0))
    sketch.pointer(say("mount.notch_line"), (web, foot - 1.0), (edge, -1.0))
    return sketch.figure(say("mount.notch_alt"), say("mount.notch"))


def _half_that_meets(
    right: shapely.Geometry, left: shapely.Geometry, gauge: shapely.Polygon, web: float
) -> str:
    """Return the phrase that names the half whose outline comes up into the notch."""
    tops = [_tops(half, gauge, web) for half in (right, left)]
    high = [np.inf if top is None else float(top[1]) for top in tops]
    if abs(high[0] - high[1]) < _ALIKE:
        return "notch_up"
    return "notch_up_right" if high[0] < high[1] else "notch_up_left"


def _tops(both: shapely.Geometry, gauge: shapely.Polygon, web: float) -> FloatArray | None:
    """Return where the folded motif's outline comes up highest against the gauge, (2,)."""
    met = both.intersection(gauge.buffer(_MEETS))
    for near, far in ((3.0, 9.0), (0.5, 20.0)):
        points = shapely.get_coordinates(
            met.intersection(shapely.box(web + near, 0, web + far, 1e4))
        )
        if len(points):
            top: FloatArray = points[points[:, 1].argmin()]
            return top
    return None


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
    for letter, box in zip("ABCD", frame_strips(card), strict=True):
        sketch.glue(shapely.box(*box))
        sketch.tag(letter, ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2))
    sketch.shape(card.window, "paper")
    if card.window.is_empty:
        sketch.word(say("cover.front_half"), (-spine - w / 2, h / 2), size=2.8)
    sketch.word(say("piece.head"), ((left + right) / 2 - w / 2, top), off=(0, -1.6), tone="soft")
    sketch.measure((0, foot), (bare, foot), say("cover.bare", bare=say.mm(bare)), (0.0, 4.0))
    if spine > 0:
        sketch.measure(
            (-spine, top), (0, top), say("cover.spine_note", spine=say.mm(spine)), (0.0, -4.0)
        )
    return sketch.figure(say("cover.alt"), say("cover.plan"))


def frame_strips(card: TheCard) -> tuple[tuple[float, float, float, float], ...]:
    """Return four strips of tape on a half of the base: by the spine, head, foot, open edge.

    Boxes on the open right half; the closed card's upper half takes the same.
    """
    tape, bare = card.frame_tape, card.bare
    w, h = card.card.half_width, card.card.height
    inset = STRIP_INSET
    near, far = bare + tape + 2.0, w - inset
    return (
        (bare, inset, bare + tape, h - inset),
        (near, inset, far, inset + tape),
        (near, h - inset - tape, far, h - inset),
        (far - tape, inset + tape + 2.0, far, h - inset - tape - 2.0),
    )


def lid(card: TheCard, width: float) -> Figure:
    """Return the closed card on the outer card, its upper half taped."""
    size, say = card.card, card.say
    scale = width / size.outer.width
    sketch = Sketch(scale)
    top = -size.border
    cover = shapely.box(0, top, size.outer.width, top + size.outer.height)
    sketch.shape(cover, "cover")
    sketch.shape(shapely.box(0, 0, size.half_width, size.height), "base-back")
    window = shapely.transform(card.window, lambda xy: xy * [-1, 1] - [card.spine, 0])
    for box in frame_strips(card):
        sketch.glue(shapely.box(*box).difference(window.buffer(_WINDOW_CLEAR)))
    for ring in _rings(window):
        sketch.line(ring, "hidden")
    sketch.word(say("piece.head"), (size.half_width / 2, top), off=(0, -1.6), tone="soft")
    foot = top + size.outer.height
    bare = say.mm(card.bare)
    sketch.measure((0, foot), (card.bare, foot), say("cover.bare", bare=bare), (0.0, 4.0))
    return sketch.figure(say("cover.lid_alt"), say("cover.lid"))


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
    foot = top + size.outer.height
    sketch.shape(shapely.box(0, top, size.outer.width, foot), "cover")
    sketch.shape(shapely.box(0, 0, size.half_width, size.height), "base")
    halves = [
        affinity.translate(card.half_motif(1), xoff=web),
        affinity.translate(affinity.scale(card.half_motif(-1), -1, 1, origin=(0, 0)), xoff=web),
    ]
    sketch.shape(shapely.union_all(halves), "motif")
    for half in halves:
        for ring in _rings(half):
            sketch.line(ring, "hidden")
    folded_parts(sketch, card)
    reach = min(card.reach, size.half_width)
    spare = say.mm(size.half_width - reach)
    sketch.word(say("piece.head"), (size.half_width / 2, top), off=(0, -1.6), tone="soft")
    sketch.measure((0, foot), (reach, foot), say.mm(reach), (0.0, 4.0))
    sketch.measure((reach, foot), (size.half_width, foot), spare, (0.0, 10.0))
    _, high, _, low = card.whole.bounds
    edge = size.outer.width
    for start, end in ((0.0, high), (low, size.height)):
        if end > start:
            sketch.measure((edge, start), (edge, end), say.mm(end - start), (4.0, 0.0))
    return sketch.figure(say("check.alt"), say("check.plan", inside=spare))
