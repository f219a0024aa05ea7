"""Drawings of flat pieces: all of them at a glance, sheets, folds, adhesive, slits."""

from typing import Literal

import numpy as np
import shapely

from trace2pop.geometry import beziers
from trace2pop.limits import GLUE_FOLD_GAP
from trace2pop.mechanism.keys import lower_flange
from trace2pop.mechanism.sheet import to_sheet
from trace2pop.model.card import Beam
from trace2pop.model.guide import Figure, Ink
from trace2pop.model.outline import FloatArray
from trace2pop.model.pieces import Part, Sheet
from trace2pop.stages.guide.card import WIDE, TheCard, fold_lines, glue_area, hole_count
from trace2pop.stages.guide.sketch import Sketch, fitting

_FACES: dict[str, Ink] = {
    "motif": "motif",
    "base": "base",
    "beam": "beam",
    "outer": "cover",
    "gauge": "gauge",
}
_MIRROR = np.array([[-1.0, 0, 0], [0, 1, 0]])
_TURN: dict[str, Literal["valley", "mountain"]] = {"valley": "mountain", "mountain": "valley"}


def draw_piece(sketch: Sketch, part: Part, ink: Ink, *, turned: bool = False) -> None:
    """Draw a flat piece with its cuts and folds; ``turned`` shows it from its other face."""
    whole = [stroke.line for stroke in part.strokes if stroke.id == "outline"]
    holes = [s.line for s in part.strokes if s.op == "cut" and s.inner and s.closed]
    sketch.contours([*whole, *holes], ink)
    slits = [stroke.line for stroke in part.strokes if stroke.slit and not stroke.closed]
    if slits:
        sketch.contours(slits, "slit", closed=False)
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
    if root not in ("motif", "base", "outer", "gauge", "liner", "envelope"):
        return part.title
    ends = {"left": "half_left", "right": "half_right"}
    extra = [say(f"piece.{ends[rest]}")] if rest in ends else []
    extra += [say("piece.hinge")] if rest.startswith("hinge") else []
    return ", ".join([say(f"piece.{root}"), *extra])


def glance(card: TheCard) -> Figure:
    """Return all pieces at one scale, each with its name and how many there are."""
    parts = sorted(card.pieces.values(), key=lambda part: -part.size[1])
    scale = _glance_scale(parts)
    sketch = Sketch(scale)
    x = y = row = 0.0
    for part in parts:
        width, height = part.size[0] * scale, part.size[1] * scale
        name = piece_title(card, part)
        if part.quantity > 1:
            name = f"{name}, {card.say('piece.times', count=str(part.quantity))}"
        wide = max(width, len(name) * 1.45)
        if x > 0 and x + wide > WIDE:
            x, y, row = 0.0, y + row + 9.0, 0.0
        sketch.frame(move=(x + (wide - width) / 2, y))
        draw_piece(sketch, part, _FACES.get(part.role, "paper"))
        sketch.frame(move=(x, y))
        sketch.word(name, (0, 0), off=(wide / 2, height + 4.2), size=3.1)
        x, row = x + wide + 6.0, max(row, height)
    return sketch.figure(card.say("piece.alt"))


def _glance_scale(parts: list[Part]) -> float:
    """Return the scale at which the two widest pieces share a row."""
    widest = sorted(part.size[0] for part in parts)[-2:]
    return min(0.42, (WIDE - 8.0) / sum(widest))


def sheet_figures(card: TheCard) -> list[Figure]:
    """Return the sheets of the card, not the mock-up's, small, their pieces named."""
    sheets = [s for s in card.sheets.sheets if any(p.part in card.pieces for p in s.placements)]
    columns = 3 if len(sheets) > 2 else 2
    room = (WIDE - 5.0 * (columns - 1)) / columns - 2.0
    return [_sheet(card, sheet, room) for sheet in sheets]


def _sheet(card: TheCard, sheet: Sheet, room: float) -> Figure:
    scale = fitting((sheet.width, sheet.height), (room, 62.0))
    sketch = Sketch(scale)
    sketch.area([(0, 0), (sheet.width, 0), (sheet.width, sheet.height), (0, sheet.height)], "paper")
    names = []
    for item in sheet.placements:
        part = card.pieces[item.part]
        matrix = to_sheet(part, item)
        sketch.frame(matrix)
        draw_piece(sketch, part, _FACES.get(part.role, "paper"))
        names.append((part, matrix @ np.array([*np.array(part.size) / 2, 1.0])))
    sketch.frame()
    for part, middle in names:
        number = card.numbers.get(part.name)
        if number is not None:
            sketch.ball(str(number), middle)
    say = card.say
    title = sheet.stock.title
    return sketch.figure(
        say("cut.sheet_alt", name=sheet.name), say("cut.sheet", name=sheet.name, title=title)
    )


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
    base = Sketch(scale)
    _base(base, card)
    outer = Sketch(scale)
    x, y, width, height = _outer_box(card)
    outer.area([(x, y), (x + width, y), (x + width, y + height), (x, y + height)], "cover")
    for u in {0.0, -card.spine}:
        outer.line([(u, y), (u, y + height)], "valley")
    return (
        motif.figure(say("crease.motif_alt"), say("crease.motif")),
        base.figure(say("crease.base_alt"), say("crease.base")),
        outer.figure(say("crease.outer_alt"), say("crease.outer")),
    )


def _outer_box(card: TheCard) -> tuple[float, float, float, float]:
    outer = card.card.outer
    left = -outer.width - card.spine
    return left, -card.card.border, outer.width - left, outer.height


def _base(sketch: Sketch, card: TheCard, *, behind: bool = False) -> None:
    w, h, clip = card.card.half_width, card.card.height, 2.0
    corners = [(-w + clip, 0), (w, 0), (w, h), (-w, h), (-w, clip)]
    sketch.area(corners, "base-back" if behind else "base")
    start = 0.0
    for slit in sorted((b.slit for b in card.beams if b.u == 0), key=lambda slit: slit.v0):
        sketch.line([(0, start), (0, slit.v0)], "mountain" if behind else "valley")
        start = slit.v1
    sketch.line([(0, start), (0, h)], "mountain" if behind else "valley")
    for beam in card.beams:
        sketch.line([(beam.u, beam.slit.v0), (beam.u, beam.slit.v1)], "slit")


def slits(card: TheCard, width: float, *, behind: bool) -> Figure:
    """Return the base with its slits numbered; ``behind`` with the lower flanges glued on."""
    scale = width / (2 * card.card.half_width)
    sketch, say = Sketch(scale), card.say
    sketch.frame(_MIRROR if behind else np.eye(2, 3))
    _base(sketch, card, behind=behind)
    for beam in card.beams:
        number, middle = str(card.numbers[beam.part]), (beam.v0 + beam.v1) / 2
        away = -1 if beam.u < 0 else 1
        if behind:
            for side in (-1, 1):
                sketch.shape(lower_flange(beam, side), "beam")
            sketch.line([(beam.u, beam.v0), (beam.u, beam.v1)], "mountain")
            sketch.ball(number, (beam.u + away * beam.flange, middle), off=(-away * 3.6, 0.0))
        else:
            sketch.ball(number, (beam.u, middle), off=(away * 4.0, 0.0))
    sketch.word(say("piece.head"), (0, 0), off=(0, -1.6), tone="soft")
    sketch.word(say("piece.foot"), (0, card.card.height), off=(0, 4.0), tone="soft")
    key = "back" if behind else "front"
    return sketch.figure(say(f"slit.{key}_alt"), say(f"slit.{key}"))


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
    number, holes = card.numbers[part.name], hole_count(part)
    sketch.ball(str(number), (0, part.size[1] / 2), off=(-4.0, 0.0))
    many = {0: say("fold.no_holes"), 1: say("fold.hole")}
    words = many.get(holes, say("fold.holes", count=str(holes)))
    beam = next(beam for beam in card.beams if beam.part == part.name)
    length = say.mm(beam.v1 - beam.v0)
    return sketch.figure(
        say("fold.flat_alt", number=str(number)),
        say("fold.flat", number=str(number), holes=words, length=length),
    )


def adhesive(card: TheCard) -> tuple[Figure, Figure]:
    """Return a beam from its outer and from its inner face, its adhesive marked."""
    beam = _shown(card)
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
        figures.append(sketch.figure(say(f"glue.{key}_alt"), say(f"glue.{key}")))
    return figures[0], figures[1]


def _shown(card: TheCard) -> Beam:
    """Return the beam that drawings for all of them show: one beside the crease, if there is."""
    beside = [beam for beam in card.beams if beam.u != 0]
    return max(beside or card.beams, key=lambda beam: (beam.flange, beam.v1 - beam.v0))


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


def shown_beam(card: TheCard) -> Beam:
    """Return the beam that stands for all of them."""
    return _shown(card)


def motif_glue(beam: Beam, shift: float) -> list[FloatArray]:
    """Return the corners of a beam's adhesive on the right half, moved ``shift`` outwards."""
    areas = [glue_area(beam, beam.u + shift, side) for side in (-1, 1)]
    return [np.asarray(area.exterior.coords)[:-1] for area in areas if not area.is_empty]
