"""An I-beam as a flat piece: two octagons joined along one end."""

import math
from collections.abc import Sequence

from trace2pop.errors import SupportError
from trace2pop.geometry import beziers, shapes
from trace2pop.mechanism.marks import Mark, marks_of
from trace2pop.model.card import Beam, Card
from trace2pop.model.outline import Outline
from trace2pop.model.pieces import Part
from trace2pop.model.stock import Stock
from trace2pop.stages.parts.drawing import Drawing, scored_run

_LEAST_EDGE = 2.0


def beam_part(
    beam: Beam, number: int, card: Card, stock: Stock, strip: float, grain_deg: float
) -> Part:
    """Return the beam marked with its ``number``, outer face up, upper flanges at the top.

    x runs from the foot end of one half over the middle fold (the head end) to the foot end of the
    other; the web lies between the two horizontal fold lines, ``card.web`` apart. A shoulder stands
    out at both foot ends, below the lower fold line.

    Raises:
        SupportError: where the flange ends are too flat for the beam's length.
    """
    length, web, flange = beam.v1 - beam.v0, card.web, beam.flange
    inset = flange / math.tan(math.radians(beam.taper_deg))
    if length - 2 * inset < _LEAST_EDGE:
        raise SupportError(
            f"{beam.part} is {length:.1f} mm long, but the sloped ends of its {flange:.1f} mm "
            f"flanges alone take {2 * inset:.1f} mm",
            "choose narrower flanges (--flanges) or steeper flange ends (--taper)",
        )
    upper, lower, foot = flange, flange + web, 2 * flange + web
    half = [(length, upper), (length - inset, 0.0), (inset, 0.0), (0.0, upper), (0.0, lower)]
    if beam.shoulder > 0:
        half += [(-beam.shoulder, lower), (-beam.shoulder, lower + flange / 2)]
    half += [(inset, foot), (length - inset, foot), (length, lower)]
    mirrored = [(2 * length - x, y) for x, y in reversed(half)]
    drawing = Drawing()
    _scores(drawing, length, upper, lower)
    _marks(drawing, marks_of(beam, number, strip), length, lower)
    drawing.outline(Outline(beziers.straight(half + mirrored[1:-1], closed=True)))
    _labels(drawing, number, length, upper, lower)
    drawing.grain((length / 2, upper + web * 0.62), grain_deg, min(8.0, web * 0.3))
    return drawing.part(
        beam.part, f"I-beam {number}", "beam", stock, face_up="outer", grain_deg=grain_deg
    )


def _scores(drawing: Drawing, length: float, upper: float, lower: float) -> None:
    for side, offset in (("left", 0.0), ("right", length)):
        for name, y in (("upper", upper), ("lower", lower)):
            run = scored_run(offset, offset + length)
            if run:
                drawing.score(f"fold-{name}-{side}", (run[0], y), (run[1], y), "valley")
    run = scored_run(upper, lower)
    if run:
        drawing.score("fold-middle", (length, run[0]), (length, run[1]), "mountain")


def _marks(drawing: Drawing, marks: Sequence[Mark], length: float, lower: float) -> None:
    for number, mark in enumerate(marks, start=1):
        for side, x in (("left", length - mark.along), ("right", length + mark.along)):
            place = (x, lower + mark.down)
            hole = shapes.capsule(place, mark.length, mark.width, upright=False)
            drawing.hole(f"mark-{side}-{number}", hole)


def _labels(drawing: Drawing, number: int, length: float, upper: float, lower: float) -> None:
    """Write in the web, where there is room, which flange is glued on which face."""
    web = lower - upper
    small, room = min(2.2, web / 5), length - 3
    for x in (length / 2, 1.5 * length):
        drawing.label("above: glue other face", (x, upper + 1.5 * small), size=small, room=room)
        drawing.label("below: glue this face", (x, lower - 0.7 * small), size=small, room=room)
    middle = (upper + lower) / 2
    size = min(6.0, web / 3)
    drawing.label(str(number), (1.5 * length, middle + 0.35 * size), size=size)
    drawing.label("outer face", (length / 2, middle), size=min(3.0, web / 6), room=room)
