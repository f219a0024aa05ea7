"""The card seen from its foot while it is being put together."""

from dataclasses import dataclass, field

import numpy as np

from trace2pop.model.guide import Figure, Ink
from trace2pop.model.outline import FloatArray
from trace2pop.stages.guide.card import WIDE, TheCard
from trace2pop.stages.guide.sketch import Sketch

_OUTWARD_DEG = 70.0
"""How far a beam laid outward leans in the drawings: flat, but for the eye."""
_LIFT = 0.75
"""Page mm between lines that touch in the paper."""
_TAPE = 1.0
"""Height of a tape in page mm."""


@dataclass(frozen=True)
class View:
    """What a drawing shows: opening, lean of each half's webs from upright, what is on.

    ``tilt_deg`` turns the card so that its right half lies on the table (half of 180 - opening).
    ``motif`` are the angles of the motif's halves above their base half, None where it is absent.
    ``bare`` names the halves whose liners are off; ``liners`` whether the others are drawn.
    """

    opening_deg: float = 180.0
    lean_left: float = 0.0
    lean_right: float = 0.0
    lean_centre: float = 0.0
    lying: bool = False
    motif: tuple[float | None, float | None] = (None, None)
    bare: tuple[int, ...] = ()
    liners: tuple[int, ...] = ()
    cover: bool = field(default=False)


def _turned(angle_deg: float) -> FloatArray:
    """Return the unit vector at ``angle_deg`` from upright, clockwise, as (x right, y down)."""
    a = np.radians(angle_deg)
    return np.array([np.sin(a), -np.cos(a)])


class EndView:
    """Draws one view into a sketch: spine at (0, 0), y down."""

    def __init__(self, sketch: Sketch, card: TheCard, view: View) -> None:
        self.sketch, self.card, self.view = sketch, card, view
        self.turn = 90.0 - view.opening_deg / 2 if view.lying else 0.0
        half = view.opening_deg / 2
        self.along = {side: _turned(side * half + self.turn) for side in (-1, 1)}
        self.lift = _LIFT / sketch.scale

    def web(self, u: float) -> FloatArray:
        """Return the vector from fold to fold of a beam at ``u``."""
        view = self.view
        lean = view.lean_centre if u == 0 else view.lean_right if u > 0 else -view.lean_left
        return self.card.card.web * _turned(lean + self.turn)

    def up(self, side: int) -> FloatArray:
        """Return the unit vector out of the upper face of one half."""
        along = self.along[side]
        return side * np.array([along[1], -along[0]])

    def draw(self) -> None:
        """Draw base, beams and motif, what is behind first."""
        card, view = self.card, self.view
        for side in (-1, 1):
            ends = np.array([[0, 0], self.along[side] * card.card.half_width])
            self.sketch.line(ends, "end-base")
        for beam in card.beams:
            self._beam(beam.u, beam.flange)
        left, _, right, _ = card.motif.bounds
        for side, reach, angle in ((-1, -left, view.motif[0]), (1, right, view.motif[1])):
            if angle is None:
                continue
            foot = self.web(0.0)
            direction = _turned(self._angle(side) - side * angle)
            self.sketch.line(np.array([foot, foot + direction * reach]), "end-motif")

    def _angle(self, side: int) -> float:
        return side * self.view.opening_deg / 2 + self.turn

    def _beam(self, u: float, flange: float) -> None:
        sides = (-1, 1) if u == 0 else (int(np.sign(u)),) * 2
        foot = self.along[sides[1]] * abs(u)
        top = foot + self.web(u)
        taped = any(side in (*self.view.bare, *self.view.liners) for side in sides)
        drop = self.lift * (1.7 if taped else 1.0)
        self.sketch.line(np.array([foot, top]), "end-beam")
        for way, side in zip((-1, 1), sides, strict=True):
            outward = self.along[side] * (side * way if u != 0 else 1)
            under = -self.up(side)
            low = np.array([foot, foot + outward * flange]) + under * self.lift
            high = np.array([top, top + outward * flange]) + under * drop
            self.sketch.line(low, "end-beam")
            self.sketch.line(high, "end-beam")
            ink: Ink | None = None
            if side in self.view.bare:
                ink = "end-glue"
            elif side in self.view.liners:
                ink = "end-liner"
            if ink:
                ends = np.array([high[0] + outward * 1.0, high[1] - outward])
                x, y = self.up(side)
                self.sketch.strip(ends, ink, off=(0.3 * x, 0.3 * y), thick=_TAPE)


def scale_for(card: TheCard, width: float) -> float:
    """Return the scale at which the open base is ``width`` on the page."""
    return width / (2 * card.card.half_width)


def outward(card: TheCard) -> Figure:
    """Return the base open, side beams laid outward."""
    sketch = Sketch(scale_for(card, WIDE * 0.6))
    EndView(sketch, card, View(lean_left=_OUTWARD_DEG, lean_right=_OUTWARD_DEG)).draw()
    for sign in (-1, 1):
        beams = [b for b in card.beams if b.u * sign > 0]
        if beams:
            u = sum(b.u for b in beams) / len(beams)
            web = card.card.web
            sketch.swing(
                [(u, -web * 1.5), (u + sign * web, -web * 1.6), (u + sign * web * 1.5, -web * 0.6)]
            )
    return sketch.figure(card.say("lay.alt"), card.say("lay.caption"))


def nearly_closed(card: TheCard) -> Figure:
    """Return the base almost closed with the beams inside."""
    sketch = Sketch(scale_for(card, WIDE * 0.6))
    EndView(sketch, card, View(26.0, lying=True)).draw()
    return sketch.figure(card.say("lay.closed_alt"), card.say("lay.closed"))


def mounting(card: TheCard) -> tuple[Figure, ...]:
    """Return the four views of putting the motif on."""
    say = card.say
    folded = View(
        lean_left=_OUTWARD_DEG,
        lean_right=_OUTWARD_DEG,
        lean_centre=_OUTWARD_DEG,
        motif=(180.0 - 12.0, 0.0),
        bare=(1,),
        liners=(-1,),
    )
    closing = View(34.0, lying=True, motif=(0.0, 0.0))
    half_on = View(lean_left=_OUTWARD_DEG, motif=(180.0 - 12.0, 0.0), bare=(-1,))
    done = View(motif=(0.0, 0.0))
    views = {"down": folded, "close": closing, "left": half_on, "done": done}
    return tuple(
        _mounting(card, view, say(f"mount.{key}_alt"), say(f"mount.{key}", rise=card.rise))
        for key, view in views.items()
    )


def _mounting(card: TheCard, view: View, alt: str, caption: str) -> Figure:
    sketch = Sketch(scale_for(card, (WIDE - 5.0) / 2 - 3.0))
    EndView(sketch, card, view).draw()
    if view.lying:
        tip = _turned(-17.0 + 73.0) * card.card.half_width * 1.04
        curve = [tip + np.array(step) for step in ((-10, -26), (12, -16), (9, 6))]
        sketch.swing([(float(x), float(y)) for x, y in curve])
    elif view.bare == (-1,):
        left, web = card.motif.bounds[0], card.card.web
        sketch.swing([(left * 0.55, -web * 1.5), (0.0, -web * 4.6), (-left * 0.6, -web * 2.6)])
    return sketch.figure(alt, caption)
