"""The base card with its crease, slits and marks, and the same ruled for the white mock-up."""

from collections.abc import Sequence

from trace2pop import limits
from trace2pop.geometry import shapes
from trace2pop.mechanism.marks import mark_side, marks_of, numbers
from trace2pop.model.card import Beam, Card, Slit
from trace2pop.model.outline import Contour, Outline
from trace2pop.model.pieces import Part
from trace2pop.model.stock import Stock
from trace2pop.stages.parts.drawing import Drawing


def base_part(
    card: Card,
    beams: Sequence[Beam],
    stock: Stock,
    corner_radius: float,
    strip: float,
    grain_deg: float,
) -> Part:
    """Return the base, front up. ``strip`` is the narrowest one that the cutter leaves whole."""
    drawing = base_drawing(card, beams, corner_radius, strip)
    foot = card.height - 6.0
    drawing.label("base, front", (-card.half_width + 8, foot), anchor="start")
    drawing.label("head", (-card.half_width + 5, 6.5), anchor="start", size=2.6)
    drawing.grain((card.half_width - 10, card.height - 14), grain_deg, 12.0)
    return drawing.part("base", "base card", "base", stock, on_card=True, grain_deg=grain_deg)


def base_drawing(card: Card, beams: Sequence[Beam], corner_radius: float, strip: float) -> Drawing:
    """Return outline, crease, slits and marks of a base in card coordinates."""
    drawing, marks = Drawing(), numbers(beams)
    centre = [beam.slit for beam in beams if beam.u == 0]
    for number, (start, end) in enumerate(crease_runs(card.height, centre), start=1):
        drawing.score(f"crease-{number}", (0.0, start), (0.0, end), "valley")
    for beam in beams:
        _slit(drawing, beam, marks[beam.part], strip)
    drawing.outline(Outline(_sheet(card, corner_radius)))
    return drawing


def crease_runs(height: float, slits: Sequence[Slit]) -> list[tuple[float, float]]:
    """Return the stretches of the base's crease to score: clear of the edges, outside the slits."""
    start, runs = 0.0, []
    for slit in sorted(slits, key=lambda slit: slit.v0):
        runs.append((start, slit.v0))
        start = slit.v1
    runs.append((start, height))
    edge = limits.SCORE_EDGE.value
    clear = [(max(v0, edge), min(v1, height - edge)) for v0, v1 in runs]
    return [(v0, v1) for v0, v1 in clear if v1 - v0 > edge]


def _slit(drawing: Drawing, beam: Beam, count: int, strip: float) -> None:
    slit, half = beam.slit, beam.slit.width / 2
    if slit.width > 0:
        slot = shapes.rectangle(beam.u - half, slit.v0, beam.u + half, slit.v1)
        drawing.hole(f"slit-{beam.id}", slot, slit=True)
    else:
        drawing.slit(f"slit-{beam.id}", (beam.u, slit.v0), (beam.u, slit.v1))
    side = mark_side(beam)
    for number, mark in enumerate(marks_of(beam, count, strip), start=1):
        pin, place = mark.pinhole, (beam.u + side * mark.down, beam.v0 + mark.along)
        hole = shapes.capsule(place, pin.length, pin.width, upright=True)
        drawing.hole(f"slit-{beam.id}-mark-{number}", hole)
    drawing.label(str(count), (beam.u - side * 4.0, (slit.v0 + slit.v1) / 2 + 1.5), size=4.0)


def _sheet(card: Card, radius: float) -> Contour:
    """Return the base's outline: the head's left corner is clipped, so that the head is known."""
    w, h = card.half_width, card.height
    clip = max(limits.HEAD_MARK.value, radius)
    corners = [(-w, 0.0), (w, 0.0), (w, h), (-w, h)]
    return shapes.cornered(corners, [clip, radius, radius, radius], clipped=(0,))
