"""Pieces made on request: adhesive shapes, a panel to write on, an envelope."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import shapely

from trace2pop import data, limits
from trace2pop.geometry import beziers, shapes
from trace2pop.mechanism.beam import flange
from trace2pop.mechanism.mail import envelope_to_make
from trace2pop.mechanism.marks import Mark, marks_of, numbers
from trace2pop.model.card import Beam, Card
from trace2pop.model.finding import Finding
from trace2pop.model.outline import Outline
from trace2pop.model.pieces import Part
from trace2pop.model.stock import Stock
from trace2pop.stages.parts.drawing import Drawing, scored_run

_LEAST_TAPE, _LEAST_SHARE = 1.5, 0.25
"""Narrowest strip of adhesive in mm; least share of a flange that it covers."""

_WIDER, _TRIED = 0.5, 16
"""Steps in mm, and how many, in which a wider flange is looked for that has room."""

_LINER_INSET = 6.0
_SIDE_FLAP, _BACK, _CLOSING, _FLAP_SLOPE = 18.0, 0.62, 0.45, 12.0
"""Envelope: glue flaps in mm; back panel and closing flap as shares of the front's height."""


def adhesive_parts(beams: Sequence[Beam], strip: float) -> tuple[list[Part], list[Finding]]:
    """Return the adhesive of each kind of beam, for an upper and a lower flange, smaller than it.

    It stays ``limits.GLUE_FOLD_GAP`` off the fold and ``limits.GLUE_EDGE_GAP`` inside the edges;
    lower shapes leave the marks open. Beams too small for it have none, which is found.
    """
    stock = data.stocks()["adhesive-sheet"]
    counts = Counter(beam.part for beam in beams)
    made: list[Part] = []
    found = []
    for part, number in numbers(beams).items():
        beam = next(one for one in beams if one.part == part)
        tapes = _tapes(beam, number, strip)
        if not tapes:
            found.append(_by_hand(beam, number, strip))
        for name, shape in tapes.items():
            drawing = Drawing()
            drawing.outline(beziers.from_polygon(shape))
            title = f"adhesive, {name} flanges of I-beam {number}"
            piece = drawing.part(f"adhesive-{number}-{name}", title, "beam", stock)
            made.append(replace(piece, quantity=2 * counts[part]))
    return made, found


def _tapes(beam: Beam, number: int, strip: float) -> dict[str, shapely.Polygon]:
    """Return the adhesive of an upper and of a lower flange; neither where one is too small."""
    upper, lower = _tape(beam, []), _tape(beam, marks_of(beam, number, strip))
    return {"upper": upper, "lower": lower} if upper and lower else {}


def _by_hand(beam: Beam, number: int, strip: float) -> Finding:
    """Tell of a beam without shapes, and from which width of flange it would have them."""
    widths = (beam.flange + step * _WIDER for step in range(1, _TRIED))
    wider = (replace(beam, flange=width) for width in widths)
    enough = next((one.flange for one in wider if _tapes(one, number, strip)), None)
    length = beam.v1 - beam.v0
    advice = (
        f"flanges {beam.flange:.1f} mm wide and {length:.1f} mm long are too small for adhesive "
        "cut to shape: tape them by hand"
    )
    if enough is not None:
        advice += f"; {enough:.1f} mm wide ones would have it (--flanges {enough:.1f}mm)"
    title = f"I-beam {number}"
    return Finding("no-adhesive-shape", "warning", title, beam.flange, enough, advice)


def _tape(beam: Beam, marks: Sequence[Mark]) -> shapely.Polygon | None:
    """Return the adhesive of one flange: x from its fold, y from the head end, corner at 0 0.

    None where that would be too little to hold.
    """
    length = beam.v1 - beam.v0
    panel = flange(0.0, 0.0, length, beam.flange, beam.taper_deg, side=1)
    inner = panel.buffer(-limits.GLUE_EDGE_GAP.value, join_style="mitre")
    off_fold = shapely.box(limits.GLUE_FOLD_GAP.value, 0, beam.flange, length)
    free = inner.intersection(off_fold).difference(_round_marks(beam, marks))
    narrowest = _LEAST_TAPE / 2
    sound = free.buffer(-narrowest, join_style="mitre").buffer(narrowest, join_style="mitre")
    pieces = shapely.get_parts(sound.intersection(free))
    tape = max(pieces, key=lambda piece: float(piece.area), default=shapely.Polygon())
    if tape.area < _LEAST_SHARE * panel.area or tape.geom_type != "Polygon":
        return None
    return shapely.Polygon(tape.exterior)


def _round_marks(beam: Beam, marks: Sequence[Mark]) -> shapely.Polygon:
    """Return what stays open for the marks: from the head end and the fold as far as they reach.

    Where too narrow a strip would be left beside them, the whole width.
    """
    if not marks:
        return shapely.Polygon()
    clear = limits.GLUE_EDGE_GAP.value
    across = max(mark.down + mark.width / 2 for mark in marks) + clear
    along = max(mark.along + mark.length / 2 for mark in marks) + clear
    if beam.flange - across < 2 * _LEAST_TAPE:
        across = beam.flange
    return shapely.box(0, 0, across, along)


def liner_part(card: Card, stock: Stock, grain_deg: float) -> Part:
    """Return a panel to write on: the back of the outer card, smaller by a border all round."""
    width = card.outer.width - 2 * _LINER_INSET
    height = card.outer.height - 2 * _LINER_INSET
    drawing = Drawing()
    drawing.outline(Outline(shapes.rectangle(0, 0, width, height)))
    drawing.label("writing panel, for the back", (width / 2, height - 5))
    drawing.grain((width - 8, height - 14), grain_deg, 12.0)
    return drawing.part("liner", "writing panel", "outer", stock, grain_deg=grain_deg)


def envelope_part(card: Card, thickness: float, stock: Stock, grain_deg: float) -> Part:
    """Return an envelope, inner face up: front, two glue flaps, back below, closing flap above."""
    width, height = envelope_to_make(card.outer.width, card.outer.height, thickness)
    flap, back, closing = _SIDE_FLAP, _BACK * height, _CLOSING * height
    slope = _FLAP_SLOPE
    outline = [
        (0.0, 0.0), (slope, -closing), (width - slope, -closing), (width, 0.0),
        (width + flap, slope), (width + flap, height - slope), (width, height),
        (width - 2, height + back), (2.0, height + back), (0.0, height),
        (-flap, height - slope), (-flap, slope),
    ]  # fmt: skip
    drawing = Drawing()
    for name, y in (("closing", 0.0), ("back", height)):
        run = scored_run(0.0, width)
        if run:
            drawing.score(f"fold-{name}", (run[0], y), (run[1], y), "valley")
    for name, x in (("left", 0.0), ("right", width)):
        run = scored_run(0.0, height)
        if run:
            drawing.score(f"fold-{name}", (x, run[0]), (x, run[1]), "valley")
    drawing.outline(Outline(beziers.straight(outline, closed=True)))
    middle = width / 2
    drawing.label("envelope, inner face: front", (middle, height / 2), size=4.0)
    drawing.label("fold in, glue the back on it", (-flap / 2 + 1, height / 2), turn_deg=90.0)
    drawing.label("fold in, glue the back on it", (width + flap / 2 + 1, height / 2), turn_deg=90.0)
    drawing.label("back: fold up after the side flaps", (middle, height + back / 2))
    drawing.label("closing flap", (middle, -closing / 2))
    drawing.grain((width - 12, height - 16), grain_deg, 12.0)
    return drawing.part(
        "envelope", "envelope", "outer", stock, face_up="inner", grain_deg=grain_deg
    )
