"""Drawings in space: a beam being folded, a beam going up through its slit."""

import numpy as np

from trace2pop.mechanism.beam import flange
from trace2pop.model.guide import Figure, Ink
from trace2pop.model.outline import FloatArray
from trace2pop.stages.guide.card import TheCard
from trace2pop.stages.guide.flat import shown_beam
from trace2pop.stages.guide.sketch import Sketch

_TURN_DEG, _TILT_DEG = 28.0, 24.0


def _seen(points: FloatArray) -> FloatArray:
    """Return points (n, 3) of a parallel projection as (x, y) with y down.

    x runs along the beam, y away from the viewer's left, z up.
    """
    a, e = np.radians(_TURN_DEG), np.radians(_TILT_DEG)
    x, y, z = points.T
    across = x * np.cos(a) + y * np.sin(a)
    deep = -x * np.sin(a) + y * np.cos(a)
    result: FloatArray = np.column_stack([across, -z * np.cos(e) - deep * np.sin(e)])
    return result


class Beam3:
    """The beam that stands for all, as panels: along x from its head end, z up from the fold."""

    def __init__(self, card: TheCard) -> None:
        beam = shown_beam(card)
        self.length = beam.v1 - beam.v0
        self.web, self.flange = card.card.web, beam.flange
        trapezoid = flange(0.0, 0.0, self.length, beam.flange, beam.taper_deg, 1)
        corners = np.asarray(trapezoid.exterior.coords)[:-1]
        self.panel = np.column_stack([corners[:, 1], corners[:, 0]])

    def web_at(self, turn: FloatArray) -> FloatArray:
        """Return the web's corners (4, 3); ``turn`` is the direction it runs from the head end."""
        run = np.array([0.0, 1.0, 1.0, 0.0]) * self.length
        high = np.array([0.0, 0.0, 1.0, 1.0]) * self.web
        corners: FloatArray = run[:, None] * turn + high[:, None] * np.array([0.0, 0.0, 1.0])
        return corners

    def flange_at(self, turn: FloatArray, out: FloatArray, *, top: bool) -> FloatArray:
        """Return a flange's corners (n, 3), ``out`` being the direction it stands out in."""
        base = np.array([0.0, 0.0, self.web if top else 0.0])
        corners: FloatArray = base + self.panel[:, :1] * turn + self.panel[:, 1:] * out
        return corners


_ALONG = np.array([1.0, 0.0, 0.0])
_UP, _DOWN = np.array([0.0, 0.0, 1.0]), np.array([0.0, 0.0, -1.0])
_NEAR, _FAR = np.array([0.0, -1.0, 0.0]), np.array([0.0, 1.0, 0.0])


def folding(card: TheCard, width: float) -> tuple[Figure, Figure, Figure]:
    """Return the beam half folded, folded flat, and with its flanges spread."""
    beam, say = Beam3(card), card.say
    scale = min(1.1, width / (1.35 * (beam.length + beam.flange)))
    return (
        _opening(beam, scale).figure(say("fold.seq1_alt"), say("fold.seq1")),
        _flat(beam, scale).figure(say("fold.seq2_alt"), say("fold.seq2")),
        spread(card, beam, scale).figure(say("fold.seq3_alt"), say("fold.seq3")),
    )


def _opening(beam: Beam3, scale: float) -> Sketch:
    sketch = Sketch(scale)
    for sign in (1, -1):
        angle = np.radians(26.0)
        turn = np.array([np.cos(angle), sign * np.sin(angle), 0.0])
        ink: Ink = "back" if sign > 0 else "beam"
        for top, out in ((False, _DOWN), (True, _UP)):
            sketch.area(_seen(beam.flange_at(turn, out, top=top)), ink)
        web = beam.web_at(turn)
        sketch.area(_seen(web), ink)
        for corners in (web[[0, 1]], web[[3, 2]]):
            sketch.line(_seen(corners), "valley")
    sketch.line(_seen(np.array([[0, 0, 0], [0, 0, beam.web]])), "mountain")
    for sign in (1, -1):
        turns = np.radians(np.linspace(27.0, 5.0, 9)) * sign
        arc = np.column_stack([np.cos(turns), np.sin(turns), np.zeros(9)]) * beam.length * 1.16
        sketch.arrow(_seen(arc + np.array([0.0, 0.0, beam.web / 2])))
    return sketch


def _flat(beam: Beam3, scale: float) -> Sketch:
    sketch = Sketch(scale)
    for shift, ink in ((0.5, "back"), (0.0, "beam")):
        move = np.array([0.0, shift, 0.0])
        for top, out in ((False, _DOWN), (True, _UP)):
            face: Ink = "beam" if ink == "beam" else "back"
            sketch.area(_seen(beam.flange_at(_ALONG, out, top=top) + move), face)
        sketch.area(_seen(beam.web_at(_ALONG) + move), "beam" if ink == "beam" else "back")
    web = beam.web_at(_ALONG)
    for corners in (web[[0, 1]], web[[3, 2]]):
        sketch.line(_seen(corners), "valley")
    return sketch


def spread(card: TheCard, beam: Beam3, scale: float) -> Sketch:
    """Return the beam standing, its flanges at right angles to both sides."""
    sketch = Sketch(scale)
    sketch.area(_seen(beam.flange_at(_ALONG, _FAR, top=False)), "beam")
    sketch.area(_seen(beam.flange_at(_ALONG, _NEAR, top=False)), "beam")
    sketch.area(_seen(beam.web_at(_ALONG)), "beam")
    sketch.area(_seen(beam.flange_at(_ALONG, _FAR, top=True)), "back")
    sketch.area(_seen(beam.flange_at(_ALONG, _NEAR, top=True)), "back")
    say = card.say
    end = beam.length
    for text, corner in (
        (say("fold.upper"), [end - beam.flange, beam.flange * 0.6, beam.web]),
        (say("fold.web"), [end, 0, beam.web / 2]),
        (say("fold.lower"), [end - beam.flange, beam.flange * 0.6, 0]),
    ):
        place = _seen(np.array([corner]))[0]
        shift = 5.0 if text == say("fold.web") else 8.0
        sketch.pointer(text, place, (shift, 0.0))
    return sketch


def through_slit(card: TheCard, width: float) -> Figure:
    """Return a patch of the base with a beam, folded flat, coming up through its slit."""
    beam, say = Beam3(card), card.say
    margin, deep = 12.0, 16.0
    scale = min(1.0, width / (1.3 * (beam.length + 2 * margin)))
    sketch = Sketch(scale)
    raised = -beam.web * 0.45
    lift = np.array([0.0, 0.0, raised])
    hidden = [
        beam.flange_at(_ALONG, _DOWN, top=False) + lift,
        beam.web_at(_ALONG) + lift,
        beam.flange_at(_ALONG, _UP, top=True) + lift,
    ]
    patch = np.array(
        [
            [-margin, -deep, 0],
            [beam.length + margin, -deep, 0],
            [beam.length + margin, deep, 0],
            [-margin, deep, 0.0],
        ]
    )
    # What hangs below the near edge of the patch is in sight, the rest behind it.
    sketch.area(_seen(hidden[0]), "beam")
    sketch.area(_seen(patch), "base")
    sketch.line(_seen(np.array([[-0.5, 0, 0], [beam.length + 0.5, 0, 0.0]])), "slit")
    sketch.area(_seen(_above(hidden[1])), "beam")
    top = hidden[2]
    sketch.area(_seen(top), "beam")
    sketch.line(_seen(top[[0, -1]]), "valley")
    for part in (hidden[0], _below(hidden[1])):
        corners = _seen(part)
        sketch.line(np.vstack([corners, corners[:1]]), "hidden")
    x = beam.length / 2
    high = raised + beam.web + beam.flange
    sketch.arrow(_seen(np.array([[x, 0, high + 3.0], [x, 0, high + 17.0]])))
    end = _seen(np.array([[beam.length + margin, 0, 0.0]]))[0]
    sketch.pointer(say("slit.base"), end - np.array([3.0, 0]), (7.0, 4.0))
    return sketch.figure(say("slit.up_alt"), say("slit.up"))


def _above(web: FloatArray) -> FloatArray:
    clipped = web.copy()
    clipped[:, 2] = np.maximum(clipped[:, 2], 0.0)
    return clipped


def _below(web: FloatArray) -> FloatArray:
    clipped = web.copy()
    clipped[:, 2] = np.minimum(clipped[:, 2], 0.0)
    return clipped


def glued_end(card: TheCard, *, base: bool) -> Figure:
    """Return a beam from its end, spread, its tapes marked; ``base`` with the base over them."""
    say = card.say
    beam = Beam3(card)
    scale = min(1.0, 34.0 / (beam.web + 8))
    sketch = Sketch(scale)
    web, wide, gap = beam.web, beam.flange, 0.45 / scale
    tape = 0.9 / scale
    for sign in (-1, 1):
        x = sign * gap
        for y in (0.0, -web):
            sketch.line(np.array([[x, y], [sign * (gap + wide), y]]), "end-beam")
        sketch.line(np.array([[x, 0.0], [x, -web]]), "end-beam")
        for y in (0.0, -web):
            ends = np.array([[sign * (gap + 1.2), y - tape], [sign * (gap + wide - 1), y - tape]])
            sketch.line(ends, "end-glue" if y == 0.0 or not base else "end-liner")
        if base:
            y = -2 * tape
            sketch.line(np.array([[sign * (gap + 0.6), y], [sign * wide * 2.6, y]]), "end-base")
    key = "slit.end" if base else "glue.end"
    sketch.pointer(say("fold.upper"), (gap + wide, -web), (5.0, -1.5))
    sketch.pointer(say("fold.lower"), (gap + wide, 0.0), (5.0, 4.0 if base else 1.5))
    if base:
        sketch.word(say("slit.base"), (wide * 2.6, -2 * tape), off=(1.5, 1.0), anchor="start")
    return sketch.figure(say(f"{key}_alt"), say(key))
