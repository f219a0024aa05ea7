"""The white mock-up: a ruled base, and a ruled trial layer the size of the window."""

from collections.abc import Sequence
from dataclasses import replace

from trace2pop import limits
from trace2pop.geometry import shapes
from trace2pop.model.card import Beam, Card, Slit
from trace2pop.model.outline import Outline
from trace2pop.model.pieces import Part
from trace2pop.model.settings import SupportSettings
from trace2pop.model.stock import Stock
from trace2pop.stages.parts.base import base_drawing
from trace2pop.stages.parts.drawing import Drawing, scored_run
from trace2pop.stages.parts.halves import Joint, Run
from trace2pop.units import MM_PER_INCH

_INDENT = 3.0
_TEXT = 2.4


def trial_beams(card: Card, settings: SupportSettings, paper: float) -> tuple[Beam, ...]:
    """Return a beam on the crease and one on either half, to try a card before it has a motif.

    They are a third of the card long, in the middle along the crease; the side ones stand halfway
    out in the window. ``paper`` is the beams' thickness: a slot as wide as two of it.
    """
    flange, gap = min(settings.flanges), settings.slit_clearance / 2
    length, middle = card.height / 3, card.height / 2
    v0, v1 = middle - length / 2, middle + length / 2
    slit = Slit(v0 - gap, v1 + gap, 2 * paper)
    return tuple(
        Beam(n, f"beam-{n}", u, v0, v1, flange, settings.taper, slit)
        for n, u in enumerate((0.0, -card.reach / 2, card.reach / 2), start=1)
    )


def mockup_base(
    card: Card, beams: Sequence[Beam], stock: Stock, ruling: str, strip: float, grain_deg: float
) -> Part:
    """Return the base in white, ruled parallel to the crease and labelled with the distance d."""
    drawing = base_drawing(card, beams, 0.0, strip)
    for number, d in enumerate(_distances(card.half_width - _INDENT, ruling), start=1):
        for side, u in (("left", -d), ("right", d)):
            drawing.note(f"d-{side}-{number}", [(u, _INDENT), (u, card.height - _INDENT)])
            if _labelled(number):
                drawing.label(f"{d:.4g}", (u, _INDENT - 0.6), size=_TEXT)
                drawing.label(f"{d:.4g}", (u, card.height - 0.8), size=_TEXT)
    _between_lines(drawing, "mock-up base: d in mm from the crease", card.height / 2, ruling)
    part = drawing.part(
        "mockup-base", "mock-up base", "mockup", stock, on_card=True, grain_deg=grain_deg
    )
    return replace(part, set="mockup")


def mockup_layer(card: Card, stock: Stock, ruling: str, grain_deg: float) -> Part:
    """Return the trial layer: labelled d at the head and d + w at the foot."""
    reach, top, bottom = card.reach, card.margin, card.height - card.margin
    drawing = Drawing()
    run = scored_run(top, bottom)
    if run:
        drawing.score("crease", (0.0, run[0]), (0.0, run[1]), "valley")
    for number, d in enumerate(_distances(reach - _INDENT, ruling), start=1):
        for side, u in (("left", -d), ("right", d)):
            drawing.note(f"d-{side}-{number}", [(u, top + _INDENT), (u, bottom - _INDENT)])
            if _labelled(number):
                drawing.label(f"{d:.4g}", (u, top + _INDENT - 0.6), size=_TEXT)
                drawing.label(f"{d + card.web:.4g}", (u, bottom - 0.8), size=_TEXT)
    drawing.outline(Outline(shapes.rectangle(-reach, top, reach, bottom)))
    text = f"at the head: d from the crease, open; at the foot: d + w (w = {card.web:.4g}), closed"
    _between_lines(drawing, text, (top + bottom) / 2, ruling)
    part = drawing.part(
        "mockup-layer", "trial layer", "mockup", stock, on_card=True, grain_deg=grain_deg
    )
    return replace(part, set="mockup")


def layer_joint(card: Card) -> Joint:
    """Return where a trial layer too large for the cutter is parted: along its crease."""
    run = Run(card.margin, card.height - card.margin, limits.HINGE_STRIP.value)
    return Joint(0.0, 0.0, (run,))


def _distances(limit: float, ruling: str) -> list[float]:
    step = 5.0 if ruling == "5mm" else MM_PER_INCH / 4
    return [number * step for number in range(1, int(limit / step) + 1)]


def _between_lines(drawing: Drawing, text: str, v: float, ruling: str) -> None:
    """Write along the ruling, between its first two lines right of the crease."""
    first, second = _distances(20.0, ruling)[:2]
    drawing.label(text, ((first + second) / 2 - 0.9, v), size=2.8, turn_deg=90.0)


def _labelled(number: int) -> bool:
    return number % 2 == 0
