"""Drawings in space: a beam being folded, a beam going up through its slit."""

from dataclasses import replace

import numpy as np
import shapely

from trace2pop.mechanism.beam import flange
from trace2pop.mechanism.keys import lower_flange
from trace2pop.model.guide import Figure, Ink
from trace2pop.model.outline import FloatArray
from trace2pop.stages.guide.card import TheCard, hole_places, shown_beam
from trace2pop.stages.guide.sketch import Sketch

_TURN_DEG, _TILT_DEG = 28.0, 32.0


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
        origin = replace(beam, u=0.0, v0=0.0, v1=self.length)
        self.upper = _panel(flange(0.0, 0.0, self.length, beam.flange, beam.taper_deg, 1))
        self.lower = _panel(lower_flange(origin, 1))
        places = hole_places(card.pieces[beam.part], beam, self.web)
        self.holes = np.array(places).reshape(-1, 3)
        self.stepped = beam.shoulder > 0
        self.foot = self.length + beam.shoulder

    def web_at(self, turn: FloatArray) -> FloatArray:
        """Return the web's corners (4, 3); ``turn`` is the direction it runs from the head end."""
        run = np.array([0.0, 1.0, 1.0, 0.0]) * self.length
        high = np.array([0.0, 0.0, 1.0, 1.0]) * self.web
        corners: FloatArray = run[:, None] * turn + high[:, None] * np.array([0.0, 0.0, 1.0])
        return corners

    def flange_at(self, turn: FloatArray, out: FloatArray, *, top: bool) -> FloatArray:
        """Return a flange's corners (n, 3), ``out`` being the direction it stands out in."""
        panel = self.upper if top else self.lower
        base = np.array([0.0, 0.0, self.web if top else 0.0])
        corners: FloatArray = base + panel[:, :1] * turn + panel[:, 1:] * out
        return corners

    def pierce(self, sketch: Sketch, turn: FloatArray, out: FloatArray, move: FloatArray) -> None:
        """Draw the holes of a lower flange."""
        for down, *ends in self.holes:
            run = np.array([along * turn + down * out + move for along in ends])
            sketch.hole(_seen(run), 0.4, "hole")


def _panel(shape: shapely.Polygon) -> FloatArray:
    corners = np.asarray(shape.exterior.coords)[:-1]
    return np.column_stack([corners[:, 1], corners[:, 0]])


_ALONG = np.array([1.0, 0.0, 0.0])
_UP, _DOWN = np.array([0.0, 0.0, 1.0]), np.array([0.0, 0.0, -1.0])
_NEAR, _FAR = np.array([0.0, -1.0, 0.0]), np.array([0.0, 1.0, 0.0])
_STILL = np.zeros(3)


def folding(card: TheCard, width: float) -> tuple[Figure, Figure, Figure]:
    """Return the beam half folded, folded flat, and with its flanges spread."""
    beam, say = Beam3(card), card.say
    scale = min(1.1, width / (1.35 * (beam.length + beam.flange)))
    return (
        _opening(beam, scale).figure(say("fold.seq1_alt"), say("fold.seq1")),
        _flat(card, beam, scale).figure(say("fold.seq2_alt"), say("fold.seq2")),
        _spread(card, beam, scale).figure(say("fold.seq3_alt"), say("fold.seq3")),
    )


def _opening(beam: Beam3, scale: float) -> Sketch:
    sketch = Sketch(scale)
    for sign in (1, -1):
        angle = np.radians(36.0)
        turn = np.array([np.cos(angle), sign * np.sin(angle), 0.0])
        ink: Ink = "back" if sign > 0 else "beam"
        for top, out in ((False, _DOWN), (True, _UP)):
            sketch.area(_seen(beam.flange_at(turn, out, top=top)), ink)
        beam.pierce(sketch, turn, _DOWN, _STILL)
        web = beam.web_at(turn)
        sketch.area(_seen(web), ink)
        for corners in (web[[0, 1]], web[[3, 2]]):
            sketch.line(_seen(corners), "valley")
    sketch.line(_seen(np.array([[0, 0, 0], [0, 0, beam.web]])), "mountain")
    for sign in (1, -1):
        turns = np.radians(np.linspace(34.0, 6.0, 9)) * sign
        arc = np.column_stack([np.cos(turns), np.sin(turns), np.zeros(9)]) * beam.foot * 1.16
        sketch.arrow(_seen(arc + np.array([0.0, 0.0, beam.web / 2])))
    return sketch


def _flat(card: TheCard, beam: Beam3, scale: float) -> Sketch:
    sketch = Sketch(scale)
    faces: tuple[tuple[float, Ink], ...] = ((0.5, "back"), (0.0, "beam"))
    for shift, face in faces:
        move = np.array([0.0, shift, 0.0])
        for top, out in ((False, _DOWN), (True, _UP)):
            sketch.area(_seen(beam.flange_at(_ALONG, out, top=top) + move), face)
        sketch.area(_seen(beam.web_at(_ALONG) + move), face)
    beam.pierce(sketch, _ALONG, _DOWN, _STILL)
    web = beam.web_at(_ALONG)
    for corners in (web[[0, 1]], web[[3, 2]]):
        sketch.line(_seen(corners), "valley")
    _ends(card, beam, sketch, _DOWN)
    return sketch


def _ends(card: TheCard, beam: Beam3, sketch: Sketch, out: FloatArray) -> None:
    """Name the folded edge, which is the head, and the step, which is the foot."""
    say = card.say
    head = _seen(np.array([[0.0, 0.0, beam.web * 0.45]]))[0]
    sketch.pointer(say("fold.head"), head, (-5.0, -1.0))
    if beam.stepped:
        step = _seen((np.array([beam.foot - 0.2, 0.0, 0.0]) + out * beam.flange * 0.2)[None])[0]
        sketch.pointer(say("fold.foot"), step, (5.0, 2.5))


def _spread(card: TheCard, beam: Beam3, scale: float) -> Sketch:
    """Return the beam standing, its flanges at right angles to both sides."""
    sketch, say = Sketch(scale), card.say
    sketch.area(_seen(beam.flange_at(_ALONG, _FAR, top=False)), "beam")
    sketch.area(_seen(beam.flange_at(_ALONG, _NEAR, top=False)), "beam")
    beam.pierce(sketch, _ALONG, _NEAR, _STILL)
    sketch.area(_seen(beam.web_at(_ALONG)), "beam")
    sketch.area(_seen(beam.flange_at(_ALONG, _FAR, top=True)), "back")
    sketch.area(_seen(beam.flange_at(_ALONG, _NEAR, top=True)), "back")
    length, out = beam.length, beam.flange
    for key, corner, drop in (
        ("upper", [length * 0.8, out * 0.5, beam.web], -2.0),
        ("web", [length * 0.85, 0, beam.web * 0.4], 0.0),
        ("lower", [length * 0.72, -out * 0.55, 0], 3.5),
    ):
        place = _seen(np.array([corner]))[0]
        edge = _seen(np.array([[beam.foot, out, 0.0]]))[0][0]
        sketch.pointer(say(f"fold.{key}"), place, ((edge - place[0]) * scale + 4.0, drop))
    head = _seen(np.array([[0.0, 0.0, beam.web * 0.45]]))[0]
    sketch.pointer(say("fold.head"), head, (-5.0, -1.0))
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
    corner = _seen(np.array([[beam.length + margin - 3.0, deep - 3.0, 0.0]]))[0]
    sketch.pointer(say("slit.base"), corner, (5.0, -4.0))
    for down, *ends in beam.holes:
        run = np.array([[along, -down, 0.0] for along in ends])
        sketch.hole(_seen(run), 0.3, "pinhole")
    beam.pierce(sketch, _ALONG, _DOWN, lift)
    fold = _seen(np.array([[0.0, 0.0, (raised + beam.web) * 0.6]]))[0]
    sketch.pointer(say("fold.head"), fold, (-6.0, -4.0))
    if beam.stepped:
        step = _seen(np.array([[beam.foot - 0.2, 0.0, raised - beam.flange * 0.2]]))[0]
        sketch.pointer(say("fold.foot"), step, (8.0, 3.0))
    return sketch.figure(say("slit.up_alt"), say("slit.up"))


def _above(web: FloatArray) -> FloatArray:
    clipped = web.copy()
    clipped[:, 2] = np.maximum(clipped[:, 2], 0.0)
    return clipped


def _below(web: FloatArray) -> FloatArray:
    clipped = web.copy()
    clipped[:, 2] = np.minimum(clipped[:, 2], 0.0)
    return clipped


def glued_end(card: TheCard, *, base: bool, largest: float = 1.0) -> Figure:
    """Return a beam from its end, spread, its tapes marked; ``base`` with the base over them."""
    say = card.say
    beam = Beam3(card)
    scale = min(1.0, 34.0 / (beam.web + 8)) * largest
    sketch = Sketch(scale)
    web, wide, gap = beam.web, beam.flange, 0.45 / scale
    for sign in (-1, 1):
        x = sign * gap
        for y in (0.0, -web):
            sketch.line(np.array([[x, y], [sign * (gap + wide), y]]), "end-beam")
        sketch.line(np.array([[x, 0.0], [x, -web]]), "end-beam")
        for y in (0.0, -web):
            ends = np.array([[sign * (gap + 1.2), y], [sign * (gap + wide - 1), y]])
            ink: Ink = "end-glue" if y == 0.0 and base else "end-liner"
            sketch.strip(ends, ink, off=(0.0, -0.35), thick=1.0)
        if base:
            y = -1.85 / scale
            sketch.line(np.array([[sign * (gap + 0.6), y], [sign * wide * 2.0, y]]), "end-base")
    key = "slit.end" if base else "glue.end"
    sketch.pointer(say("fold.upper"), (gap + wide, -web), (5.0, -1.5))
    sketch.pointer(say("fold.lower"), (gap + wide, 0.0), (5.0, 4.0 if base else 1.5))
    if base:
        sketch.word(say("slit.base"), (wide * 2.0, -1.85 / scale), off=(1.5, 1.0), anchor="start")
    return sketch.figure(say(f"{key}_alt"), say(key))
