"""Drawings of the guide, from the card's own pieces and poses."""

import numpy as np
import shapely

from trace2pop.geometry import beziers
from trace2pop.mechanism import beam as beam_shapes
from trace2pop.mechanism.linkage import pose
from trace2pop.model.card import CardPlan, HandPart
from trace2pop.model.guide import Figure, Mark, Word
from trace2pop.model.outline import Contour, FloatArray
from trace2pop.model.pieces import Part

_PAD = 4.0


def piece(part: Part, caption: str) -> Figure:
    """Return a flat piece as its sheet shows it: cuts and folds."""
    marks = [
        Mark(stroke.line, stroke.fold or stroke.op, stroke.closed)
        for stroke in part.strokes
        if stroke.op in ("cut", "score")
    ]
    return _framed(caption, marks, [])


def glued_beam(part: Part, web: float, flange: float, caption: str, *, inner: bool) -> Figure:
    """Return a beam seen from one face, with the flanges that get adhesive there hatched.

    Seen from the inner face the piece is turned over from left to right, and folds change sense.
    """
    width, height = part.size
    flip = (
        np.array([[-1.0, 0, width], [0, 1.0, 0]]) if inner else np.array([[1.0, 0, 0], [0, 1, 0]])
    )
    swap = {"mountain": "valley", "valley": "mountain"}
    outer = max((s for s in part.strokes if s.op == "cut"), key=lambda s: _box_area(s.line))
    shape = shapely.Polygon(beziers.flatten(outer.line))
    gap = 1.0
    top, foot = (0.0, flange - gap) if inner else (flange + web + gap, height)
    zone = shape.buffer(-gap).intersection(shapely.box(0, top, width, foot))
    marks = [
        Mark(beziers.transform(_ring(area), flip), "glue", True)
        for area in shapely.get_parts(zone)
        if area.geom_type == "Polygon"
    ]
    for stroke in part.strokes:
        if stroke.op in ("cut", "score"):
            sense = stroke.fold and (swap[stroke.fold] if inner else stroke.fold)
            line = beziers.transform(stroke.line, flip)
            marks.append(Mark(line, sense or stroke.op, stroke.closed))
    return _framed(caption, marks, [])


def _box_area(line: Contour) -> float:
    x0, y0, x1, y1 = beziers.bounds(line)
    return (x1 - x0) * (y1 - y0)


def _ring(area: shapely.Polygon) -> Contour:
    return beziers.straight(np.asarray(area.exterior.coords)[:-1], closed=True)


def base_with_slits(plan: CardPlan, caption: str) -> Figure:
    """Return the base from above with its slits numbered like their beams."""
    card = plan.cut.placed.card
    w, h = card.half_width, card.height
    marks = [
        Mark(beziers.straight([(-w, 0), (w, 0), (w, h), (-w, h)], closed=True), "cut", True),
        Mark(beziers.straight([(0, 0), (0, h)], closed=False), "valley"),
    ]
    words = []
    for beam in plan.beams:
        slit = beziers.straight([(beam.u, beam.slit.v0), (beam.u, beam.slit.v1)], closed=False)
        marks.append(Mark(slit, "slit"))
        words.append(Word(str(beam.id), (beam.u + 6, (beam.v0 + beam.v1) / 2 + 3), 8.0))
    return _framed(caption, marks, words)


def motif_on_beams(plan: CardPlan, caption: str) -> Figure:
    """Return the motif from above with the flanges that carry it."""
    card = plan.cut.placed.card
    w, h = card.half_width, card.height
    marks = [Mark(beziers.straight([(-w, 0), (w, 0), (w, h), (-w, h)], closed=True), "faint", True)]
    marks += [
        Mark(chain, "cut", True) for chain in (plan.cut.outline.outer, *plan.cut.outline.holes)
    ]
    for beam in plan.beams:
        pair = beam_shapes.flange_pair(beam.u, beam.v0, beam.v1, beam.flange, beam.taper_deg)
        marks.append(Mark(_ring(pair), "glue", True))
    marks.append(Mark(beziers.straight([(0, 0), (0, h)], closed=False), "valley"))
    return _framed(caption, marks, [])


def end_view(plan: CardPlan, opening_deg: float, caption: str, *, motif: bool = True) -> Figure:
    """Return the card seen from its foot at an opening: base, beams and motif as lines."""
    card = plan.cut.placed.card
    place = pose(card.web, plan.beams, opening_deg)
    left, _, right, _ = beziers.bounds(plan.cut.outline.outer)
    marks = []
    for half, far in zip(place.base, (-card.half_width, card.half_width), strict=True):
        marks.append(_seen(half.at(np.array([[0.0, 0.0], [far, 0.0]])), "base"))
    if motif:
        for half, far in zip(place.motif, (left, right), strict=True):
            marks.append(_seen(half.at(np.array([[0.0, 0.0], [far, 0.0]])), "motif"))
    for beam, found in zip(plan.beams, place.beams, strict=True):
        marks.append(_seen(found.web.at(np.array([[0.0, 0.0], [card.web, 0.0]])), "beam"))
        for frames in (found.lower, found.upper):
            for frame, side in zip(frames, (-1, 1), strict=True):
                ends = np.array([[beam.u, 0.0], [beam.u + side * beam.flange, 0.0]])
                marks.append(_seen(frame.at(ends), "flange"))
    return _framed(caption, marks, [])


def _seen(points: FloatArray, style: str) -> Mark:
    flat = np.column_stack([points[:, 0], -points[:, 2]])
    return Mark(beziers.straight(flat, closed=False), style)


def template(plan: CardPlan, parts: tuple[HandPart, ...], caption: str) -> Figure:
    """Return the motif from the back at true size with every part to add in its place."""
    flip = np.array([[-1.0, 0, 0], [0, 1, 0]])
    marks = [
        Mark(beziers.transform(chain, flip), "cut", True)
        for chain in (plan.cut.outline.outer, *plan.cut.outline.holes)
    ]
    words = []
    for part in parts:
        marks += [
            Mark(beziers.straight(line * [-1, 1], closed=False), "hand")
            for line in (part.path, *part.branches)
        ]
        marks.append(Mark(beziers.straight(part.overlap * [-1, 1], closed=False), "overlap"))
        u, v = part.path[len(part.path) // 2]
        words.append(Word(str(part.id), (-float(u) + 3.5, float(v) + 1.5), 4.0))
    return _framed(caption, marks, words, true_size=True)


def _framed(
    caption: str, marks: list[Mark], words: list[Word], *, true_size: bool = False
) -> Figure:
    """Return a figure moved to the origin, with a little room all round."""
    boxes = np.array([beziers.bounds(mark.line) for mark in marks])
    spots = np.array([word.at for word in words]).reshape(-1, 2)
    low = np.vstack([boxes[:, :2], spots - 4]).min(axis=0) - _PAD
    high = np.vstack([boxes[:, 2:], spots + 4]).max(axis=0) + _PAD
    move = np.array([[1, 0, -low[0]], [0, 1, -low[1]]])
    moved = tuple(Mark(beziers.transform(m.line, move), m.style, m.closed) for m in marks)
    placed = tuple(
        Word(w.text, (w.at[0] - float(low[0]), w.at[1] - float(low[1])), w.size, w.anchor)
        for w in words
    )
    size = (float(high[0] - low[0]), float(high[1] - low[1]))
    return Figure(caption, size, moved, placed, true_size)
