"""Drawings of the base: its slits by number, and the lower flanges glued behind them."""

import numpy as np
import shapely

from trace2pop.mechanism.keys import lower_flange
from trace2pop.model.card import Beam
from trace2pop.model.guide import Figure
from trace2pop.stages.guide.card import TheCard, hole_places, shown_beam
from trace2pop.stages.guide.flat import draw_base
from trace2pop.stages.guide.sketch import Sketch, fitting

_MIRROR = np.array([[-1.0, 0, 0], [0, 1, 0]])


def slits(card: TheCard, width: float, *, behind: bool) -> Figure:
    """Return the base with its slits numbered; ``behind`` with the lower flanges glued on."""
    scale = width / (2 * card.card.half_width)
    sketch, say = Sketch(scale), card.say
    sketch.frame(_MIRROR if behind else np.eye(2, 3))
    draw_base(sketch, card, behind=behind)
    for beam in card.beams:
        if behind:
            _seated(sketch, card, beam)
        else:
            _pinholes(sketch, card, beam, 0.3)
    _number(sketch, card)
    sketch.word(say("piece.head"), (0, 0), off=(0, -1.6), tone="soft")
    sketch.word(say("piece.foot"), (0, card.card.height), off=(0, 4.0), tone="soft")
    key = "back" if behind else "front"
    return sketch.figure(say(f"slit.{key}_alt"), say(f"slit.{key}"))


def _number(sketch: Sketch, card: TheCard) -> None:
    """Write the numbers of the slits, clear of slits, flanges and each other."""
    boxes = []
    for beam in card.beams:
        ends = [(beam.u + side * beam.flange, v) for side in (-1, 1) for v in (beam.v0, beam.v1)]
        boxes.append(shapely.MultiPoint([sketch.at(end) for end in ends]).envelope)
    crease = shapely.LineString([sketch.at((0, 0)), sketch.at((0, card.card.height))])
    taken = shapely.union_all([*boxes, crease])
    for beam, box in zip(card.beams, boxes, strict=True):
        x0, y0, x1, y1 = box.bounds
        spot = sketch.clear_spot((x0, y0, x1, y1), taken)
        near = (min(max(spot[0], x0), x1), min(max(spot[1], y0), y1))
        sketch.badge(str(card.numbers[beam.part]), spot, near)
        taken = shapely.union(taken, shapely.Point(spot).buffer(2.4))


def _seated(sketch: Sketch, card: TheCard, beam: Beam, hole: float = 0.35) -> None:
    """Draw a beam's lower flanges glued under the base, with their holes."""
    for side in (-1, 1):
        sketch.shape(lower_flange(beam, side), "back")
    sketch.line([(beam.u, beam.v0), (beam.u, beam.v1)], "mountain")
    for down, start, end in hole_places(card.pieces[beam.part], beam, card.card.web):
        for side in (-1, 1):
            u = beam.u + side * down
            sketch.hole([(u, beam.v0 + start), (u, beam.v0 + end)], hole, "hole")
    _pinholes(sketch, card, beam, hole * 0.5)


def _pinholes(sketch: Sketch, card: TheCard, beam: Beam, radius: float) -> None:
    """Draw the base's pinholes beside a beam's slit: away from the crease, else to the right."""
    side = -1 if beam.u < 0 else 1
    for down, start, end in hole_places(card.pieces[beam.part], beam, card.card.web):
        u = beam.u + side * down
        sketch.hole([(u, beam.v0 + start), (u, beam.v0 + end)], radius, "pinhole")


def seated(card: TheCard, room: tuple[float, float]) -> Figure:
    """Return one beam's lower flanges from behind, large: head, foot, holes over pinholes."""
    beam, say = shown_beam(card), card.say
    high = beam.v1 - beam.v0 + beam.shoulder
    scale = fitting((2 * beam.flange + 10, high + 12), (room[0] - 34.0, room[1]), 2.2)
    sketch = Sketch(scale)
    sketch.frame(_MIRROR)
    pad = 5.0
    x0, x1 = beam.u - beam.flange - pad, beam.u + beam.flange + pad
    y0, y1 = beam.v0 - pad, beam.v1 + beam.shoulder + pad
    sketch.area([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], "base-back")
    sketch.slit([(beam.u, beam.slit.v0), (beam.u, beam.slit.v1)])
    _seated(sketch, card, beam, 0.6 * scale)
    edge = (beam.flange + pad) * scale + 4.0
    sketch.pointer(say("slit.folded"), (beam.u, beam.v0 + 0.3), (edge, -3.0))
    places = hole_places(card.pieces[beam.part], beam, card.card.web)
    if places:
        down, along, _ = places[0]
        # On the half of the drawing where the base has its pinholes.
        side = -1 if beam.u < 0 else 1
        reach = edge + side * down * scale
        sketch.pointer(say("slit.over"), (beam.u + side * down, beam.v0 + along), (reach, 1.0))
    if beam.shoulder > 0:
        tip = (beam.u - beam.flange * 0.3, beam.v1 + beam.shoulder - 0.3)
        sketch.pointer(say("slit.step"), tip, (edge - beam.flange * 0.3 * scale, 2.0))
    number = str(card.numbers[beam.part])
    return sketch.figure(say("slit.seated_alt"), say("slit.seated", number=number))
