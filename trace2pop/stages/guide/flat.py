"""Drawings of flat pieces: all of them at a glance, sheets, folds, adhesive, slits."""

from typing import Literal

import numpy as np
import shapely

from trace2pop.geometry import beziers
from trace2pop.limits import GLUE_FOLD_GAP
from trace2pop.model.card import Beam
from trace2pop.model.guide import Figure, Ink
from trace2pop.model.outline import FloatArray
from trace2pop.model.pieces import Part
from trace2pop.stages.guide.card import (
    WIDE,
    TheCard,
    fold_lines,
    glue_area,
    shown_beam,
    signs,
)
from trace2pop.stages.guide.sketch import Sketch, text_width

FACES: dict[str, Ink] = {
    "motif": "motif",
    "base": "base",
    "beam": "beam",
    "outer": "cover",
    "gauge": "gauge",
}
_MIRROR = np.array([[-1.0, 0, 0], [0, 1, 0]])
_GLANCE_ROOM, _GLANCE_STEP = 150.0, 0.92
"""mm down the page that leave room for the legend under it; how scales are tried."""
_TURN: dict[str, Literal["valley", "mountain"]] = {"valley": "mountain", "mountain": "valley"}


def draw_piece(sketch: Sketch, part: Part, ink: Ink, *, turned: bool = False) -> None:
    """Draw a flat piece with its cuts and folds; ``turned`` shows it from its other face."""
    whole = [stroke.line for stroke in part.strokes if stroke.id == "outline"]
    holes = [s.line for s in part.strokes if s.op == "cut" and s.inner and s.closed]
    sketch.contours([*whole, *holes], ink)
    slits = [stroke.line for stroke in part.strokes if stroke.slit and not stroke.closed]
    if slits:
        for line in slits:
            sketch.slit(line[[0, -1], [0, 3]])
    for sense, ends in fold_lines(part):
        seen = _TURN[sense] if turned else sense
        sketch.line(ends, "valley" if seen == "valley" else "mountain")


def piece_title(card: TheCard, part: Part) -> str:
    """Return a piece's name in the guide's language."""
    say, name = card.say, part.name
    if part.role == "beam" and name in card.numbers:
        return say("piece.beam", number=str(card.numbers[name]))
    root, _, rest = name.partition("-")
    if root == "adhesive":
        number, _, end = rest.partition("-")
        return say(f"piece.adhesive_{end}", number=number)
    if root == "island":
        return say("piece.island", number=rest)
    if root not in ("motif", "base", "outer", "gauge", "liner", "envelope"):
        return part.title
    ends = {"left": "half_left", "right": "half_right"}
    extra = [say(f"piece.{ends[rest]}")] if rest in ends else []
    extra += [say("piece.hinge")] if rest.startswith("hinge") else []
    return ", ".join([say(f"piece.{root}"), *extra])


def glance(card: TheCard) -> Figure:
    """Return all pieces at one scale, each with its name and how many there are."""
    scale = _glance_scale(list(card.pieces.values()))
    figure = _at_a_glance(card, scale)
    while figure.size[1] > _GLANCE_ROOM:
        scale *= _GLANCE_STEP
        figure = _at_a_glance(card, scale)
    return figure


def _at_a_glance(card: TheCard, scale: float) -> Figure:
    tallest = max(card.pieces[name].size[1] for name in card.numbers)
    parts = sorted(
        card.pieces.values(),
        key=lambda part: (-(tallest if part.role == "beam" else part.size[1]), part.name),
    )
    sketch = Sketch(scale)
    x = y = row = 0.0
    for part in parts:
        width, height = part.size[0] * scale, part.size[1] * scale
        name = piece_title(card, part)
        if part.quantity > 1:
            name = f"{name}, {card.say('piece.times', count=str(part.quantity))}"
        mark = _mark(card, part)
        wide = max(width, text_width(name, 3.1), text_width(mark, 2.8))
        if x > 0 and x + wide > WIDE:
            x, y, row = 0.0, y + row + 9.0, 0.0
        sketch.frame(move=(x + (wide - width) / 2, y))
        draw_piece(sketch, part, FACES.get(part.role, "paper"))
        sketch.frame(move=(x, y))
        sketch.word(name, (0, 0), off=(wide / 2, height + 4.2), size=3.1)
        if mark:
            sketch.word(mark, (0, 0), off=(wide / 2, height + 8.0), size=2.8, tone="soft")
        x, row = x + wide + 6.0, max(row, height + (3.8 if mark else 0.0))
    return sketch.figure(card.say("piece.alt"))


def _mark(card: TheCard, part: Part) -> str:
    """Return in words what tells a piece's right way up, empty where nothing does."""
    if part.role == "beam" and signs(part):
        return _marked(card, part, "piece.mark_beam")
    marked = {"base": "base", "base-left": "base", "gauge": "gauge"}.get(part.name)
    return card.say(f"piece.mark_{marked}") if marked else ""


def _marked(card: TheCard, part: Part, key: str) -> str:
    """Return in words what a beam's lower flanges carry: so many holes, or slots and holes."""
    counts = [str(sign) for sign in signs(part)]
    if len(counts) == sum(signs(part)):
        return card.say(key, holes=str(len(counts)))
    return card.say(f"{key}_slots", sum=" + ".join(counts))


def _glance_scale(parts: list[Part]) -> float:
    """Return the scale at which the two widest pieces share a row."""
    widest = sorted(part.size[0] for part in parts)[-2:]
    return min(0.42, (WIDE - 8.0) / sum(widest))


def creased(card: TheCard) -> tuple[Figure, ...]:
    """Return motif, base and outer card with their valley folds, at one scale."""
    scale = (WIDE - 12.0) / 3 / _outer_box(card)[2]
    say = card.say
    motif = Sketch(scale)
    motif.outline(card.cut.outline, "motif")
    _, top, _, foot = card.motif.bounds
    spans = card.motif.intersection(shapely.LineString([(0, top - 1), (0, foot + 1)]))
    for run in shapely.get_parts(spans):
        if run.length > 1:
            motif.line(np.asarray(run.coords), "valley")
    for place in card.narrow:
        motif.dot(place, 2.6, "ring")
    base = Sketch(scale)
    draw_base(base, card)
    outer = Sketch(scale)
    x, y, width, height = _outer_box(card)
    outer.area([(x, y), (x + width, y), (x + width, y + height), (x, y + height)], "cover")
    head = say("piece.head")
    outer.word(head, (x + width / 4, y), off=(0, -1.6), tone="soft")
    base.word(head, (-card.card.half_width / 2, 0), off=(0, -1.6), tone="soft")
    for u in {0.0, -card.spine}:
        outer.line([(u, y), (u, y + height)], "valley")
    return (
        motif.figure(
            say("crease.motif_alt"), say("crease.motif_narrow" if card.narrow else "crease.motif")
        ),
        base.figure(say("crease.base_alt"), say("crease.base")),
        outer.figure(say("crease.outer_alt"), say("crease.outer")),
    )


def _outer_box(card: TheCard) -> tuple[float, float, float, float]:
    outer = card.card.outer
    left = -outer.width - card.spine
    return left, -card.card.border, outer.width - left, outer.height


def draw_base(sketch: Sketch, card: TheCard, *, behind: bool = False) -> None:
    """Draw the base with its crease and slits, from the front or from ``behind``."""
    w, h, clip = card.card.half_width, card.card.height, 2.0
    corners = [(-w + clip, 0), (w, 0), (w, h), (-w, h), (-w, clip)]
    sketch.area(corners, "base-back" if behind else "base")
    start = 0.0
    for slit in sorted((b.slit for b in card.beams if b.u == 0), key=lambda slit: slit.v0):
        sketch.line([(0, start), (0, slit.v0)], "mountain" if behind else "valley")
        start = slit.v1
    sketch.line([(0, start), (0, h)], "mountain" if behind else "valley")
    for beam in card.beams:
        sketch.slit([(beam.u, beam.slit.v0), (beam.u, beam.slit.v1)])


def beam_figures(card: TheCard) -> list[Figure]:
    """Return each beam flat, outer face up, at one scale."""
    parts = [card.pieces[name] for name in card.numbers]
    longest = max(part.size[0] for part in parts)
    columns = 4 if longest < 50 else 3 if longest < 90 else 2
    scale = min(0.8, ((WIDE - 8.0 * (columns - 1)) / columns - 14.0) / longest)
    return [_flat_beam(card, part, scale) for part in parts]


def _flat_beam(card: TheCard, part: Part, scale: float) -> Figure:
    sketch, say = Sketch(scale), card.say
    draw_piece(sketch, part, "beam")
    number = card.numbers[part.name]
    sketch.ball(str(number), (0, part.size[1] / 2), off=(-4.0, 0.0))
    words = _marked(card, part, "fold.holes") if signs(part) else say("fold.no_holes")
    beam = next(beam for beam in card.beams if beam.part == part.name)
    length = say.mm(beam.v1 - beam.v0)
    return sketch.figure(
        say("fold.flat_alt", number=str(number)),
        say("fold.flat", number=str(number), holes=words, length=length),
    )


def adhesive(card: TheCard) -> tuple[Figure, Figure]:
    """Return a beam from its outer and from its inner face, its adhesive marked."""
    beam = shown_beam(card)
    part, say = card.pieces[beam.part], card.say
    scale = min(1.0, (WIDE * 0.36 - 26.0) / part.size[0])
    figures = []
    for inner in (False, True):
        sketch = Sketch(scale)
        sketch.frame(np.array([[-1.0, 0, part.size[0]], [0, 1, 0]]) if inner else np.eye(2, 3))
        draw_piece(sketch, part, "back" if inner else "beam", turned=inner)
        areas = _flange_areas(part, beam, card.card.web, upper=inner)
        for area in areas:
            sketch.glue(area)
        web, width = card.card.web, part.size[0]
        upper = (0.0 if inner else width, beam.flange / 2)
        lower = (0.0 if inner else width, beam.flange * 1.5 + web)
        sketch.word(say("fold.upper"), upper, off=(1.5, 1.0), anchor="start", bold=inner)
        sketch.word(say("fold.lower"), lower, off=(1.5, 1.0), anchor="start", bold=not inner)
        sketch.word(
            say("fold.web"),
            (upper[0], beam.flange + web / 2),
            off=(1.5, 1.0),
            anchor="start",
            tone="soft",
        )
        key = "inner" if inner else "outer"
        face = say(f"glue.face_{key}")
        size = min(2.8, (part.size[0] / 2 * scale - 3.0) / (1.3 * text_width(face, 1.0)))
        place = (part.size[0] * (0.25 if beam.shoulder == 0 else 0.27), beam.flange + web / 2)
        sketch.word(face, place, off=(0.0, 1.0), size=size, bold=True)
        number = str(card.numbers[beam.part])
        figures.append(sketch.figure(say(f"glue.{key}_alt"), say(f"glue.{key}", number=number)))
    return figures[0], figures[1]


def _flange_areas(part: Part, beam: Beam, web: float, *, upper: bool) -> list[shapely.Geometry]:
    outline = next(stroke.line for stroke in part.strokes if stroke.id == "outline")
    gap = GLUE_FOLD_GAP.value
    holes = [
        shapely.Polygon(beziers.flatten(stroke.line, 0.05)).buffer(0.3)
        for stroke in part.strokes
        if stroke.id.startswith("mark-")
    ]
    length, high = part.size[0] / 2, part.size[1]
    y = (-1.0, beam.flange - gap) if upper else (beam.flange + web + gap, high + 1)
    whole = shapely.Polygon(beziers.flatten(outline)).buffer(-gap, join_style="mitre")
    rows = [shapely.box(x, y[0], x + length, y[1]) for x in (0.0, length)]
    return [whole.intersection(row).difference(shapely.union_all(holes)) for row in rows]


def motif_glue(beam: Beam, shift: float) -> list[FloatArray]:
    """Return the corners of a beam's adhesive on the right half, moved ``shift`` outwards."""
    areas = [glue_area(beam, beam.u + shift, side) for side in (-1, 1)]
    return [np.asarray(area.exterior.coords)[:-1] for area in areas if not area.is_empty]
