"""A piece too large for the cutter, made in two halves and joined by hinge strips."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from trace2pop import limits
from trace2pop.errors import SheetError
from trace2pop.geometry import beziers, shapes
from trace2pop.model.card import Beam
from trace2pop.model.outline import Contour, FloatArray, Outline
from trace2pop.model.pieces import Part, Stroke
from trace2pop.stages.parts.drawing import Drawing, scored_run

_LEAST_STRIP, _SHORTEST = 6.0, 10.0
_LEAST_HELD = 0.25
"""Narrowest and shortest strip in mm; least share of a base's crease that strips join."""

_OFF_SLIT = 1.0
_ON_LINE = 1e-6


@dataclass(frozen=True)
class Run:
    """A stretch of a joint that a hinge strip spans: ``v0`` .. ``v1``, ``width`` on each half."""

    v0: float
    v1: float
    width: float


@dataclass(frozen=True)
class Joint:
    """Where a piece is parted: the halves' edges in card coordinates, and what hinges span.

    ``left`` and ``right`` are the u of the two edges (a spine's width apart on the outer card).
    """

    left: float
    right: float
    runs: tuple[Run, ...]

    @property
    def held(self) -> float:
        """The length that strips join."""
        return sum(run.v1 - run.v0 for run in self.runs)


def joint_of_base(height: float, beams: Sequence[Beam]) -> Joint:
    """Return the joint of a base: strips at head and foot, none beside the centre slits.

    There the lower flanges of the centre beam are glued, and a strip under them would raise its
    web above the others, whichever end of the beam comes to lie at the head. Where a side beam
    stands near the crease, the strip is narrower there or ends before it, whichever leaves more.

    Raises:
        SheetError: where the beams leave too little of the joint to strips.
    """
    centre = sorted((beam for beam in beams if beam.u == 0), key=lambda beam: beam.v0)
    starts = [0.0, *(max(beam.slit.v1, _foot(beam)) + _OFF_SLIT for beam in centre)]
    ends = [*(min(beam.slit.v0, _head(beam)) - _OFF_SLIT for beam in centre), height]
    near = [beam for beam in beams if beam.u != 0 and _beside(beam) < limits.HINGE_STRIP.value]
    runs = [run for v0, v1 in zip(starts, ends, strict=True) for run in _strips(v0, v1, near)]
    joint = Joint(0.0, 0.0, tuple(runs))
    if joint.held < _LEAST_HELD * height:
        raise SheetError(
            "the base is larger than the cutter's sheet and can't be joined from two halves: the "
            f"beams beside the crease leave {joint.held:.0f} mm of its {height:.0f} mm for hinge "
            f"strips, they need {_LEAST_HELD * height:.0f}",
            "choose a larger cutter or sheet, or move those beams outwards",
        )
    return joint


def _strips(v0: float, v1: float, near: Sequence[Beam]) -> list[Run]:
    """Return the strips of a stretch: one whole but narrow, or wide ones between near beams."""
    full = limits.HINGE_STRIP.value
    within = sorted(
        (beam for beam in near if _head(beam) < v1 and _foot(beam) > v0), key=lambda beam: beam.v0
    )
    narrow = min((_beside(beam) for beam in within), default=full)
    parted, start = [], v0
    for beam in within:
        parted.append(Run(start, min(_head(beam), beam.slit.v0) - _OFF_SLIT, full))
        start = max(start, _foot(beam) + _OFF_SLIT, beam.slit.v1 + _OFF_SLIT)
    parted.append(Run(start, v1, full))
    parted = [run for run in parted if run.v1 - run.v0 >= _SHORTEST]
    whole = [Run(v0, v1, narrow)] if narrow >= _LEAST_STRIP and v1 - v0 >= _SHORTEST else []
    return max(whole, parted, key=lambda runs: sum((r.v1 - r.v0) * r.width for r in runs))


def _beside(beam: Beam) -> float:
    """Return how wide a strip may be beside a beam."""
    return abs(beam.u) - beam.flange - _OFF_SLIT


def _head(beam: Beam) -> float:
    """Return where a beam turned head to foot begins."""
    return beam.v0 - beam.shoulder


def _foot(beam: Beam) -> float:
    return beam.v1 + beam.shoulder


def in_halves(whole: Part, joint: Joint) -> tuple[Part, ...]:
    """Return the left half, the right half and the hinge strips of ``whole``."""
    assert whole.origin is not None
    to_card = np.array(whole.origin)
    halves = []
    for side, edge, sign in (("left", joint.left, -1), ("right", joint.right, 1)):
        strokes = list(_half(whole, to_card, edge, sign))
        halves.append(_moved(whole, side, strokes, to_card, edge, sign))
    strips = [_strip(whole, joint, run, number) for number, run in enumerate(joint.runs, start=1)]
    return (*halves, *strips)


def _half(whole: Part, to_card: FloatArray, edge: float, sign: int) -> Iterable[Stroke]:
    """Yield what lies on one side of the joint, in card coordinates."""
    outline = next(stroke for stroke in whole.strokes if stroke.id == "outline")
    notches = []
    for stroke in whole.strokes:
        line = stroke.line + to_card
        low, high = (float(bound) for bound in np.sort(beziers.bounds(line)[::2]) * sign)
        if stroke is outline:
            continue
        if (
            min(low, high) >= edge * sign - _ON_LINE
            and abs(low - high) + abs(low - edge * sign) > 1e-3
        ):
            yield replace(stroke, line=line)
        elif stroke.slit and stroke.closed and min(low, high) < edge * sign < max(low, high):
            notches.append(beziers.bounds(line))
    yield replace(outline, line=_clipped(outline.line + to_card, edge, sign, notches))


def _clipped(
    contour: Contour, edge: float, sign: int, notches: list[tuple[float, float, float, float]]
) -> Contour:
    """Return the part of a closed outline beyond ``u = edge``, closed along that edge.

    The outline crosses the edge twice, with straight segments. Slots on the edge become notches.
    """
    inside = [bool(sign * (segment[[0, 3], 0].mean() - edge) > 0) for segment in contour]
    crossing = [
        bool((segment[0, 0] - edge) * (segment[3, 0] - edge) < -_ON_LINE) for segment in contour
    ]
    chain: list[Contour] = []
    for segment, kept, crossed in zip(contour, inside, crossing, strict=True):
        if crossed:
            share = (edge - segment[0, 0]) / (segment[3, 0] - segment[0, 0])
            cut = segment[0] + share * (segment[3] - segment[0])
            leaves = sign * (segment[3, 0] - edge) < 0
            ends = [segment[0], cut] if leaves else [cut, segment[3]]
            chain.append(beziers.straight(ends, closed=False))
        elif kept:
            chain.append(segment[None])
    # The chain may begin anywhere; its one break is where the contour left the half.
    breaks = [
        n for n in range(len(chain)) if np.abs(chain[n][0, 0] - chain[n - 1][-1, 3]).max() > 1e-9
    ]
    first = breaks[0] if breaks else 0
    ordered = [*chain[first:], *chain[:first]]
    start, end = ordered[-1][-1, 3], ordered[0][0, 0]
    points = [start, *_notch_points(notches, edge, sign, downwards=bool(end[1] > start[1])), end]
    return np.concatenate([*ordered, beziers.straight(points, closed=False)])


def _notch_points(
    notches: list[tuple[float, float, float, float]], edge: float, sign: int, *, downwards: bool
) -> list[FloatArray]:
    points = []
    for left, top, right, bottom in sorted(notches, key=lambda box: box[1]):
        deep = right if sign > 0 else left
        points += [(edge, top), (deep, top), (deep, bottom), (edge, bottom)]
    ordered = points if downwards else points[::-1]
    return [np.array(point) for point in ordered]


def _moved(
    whole: Part, side: str, strokes: list[Stroke], to_card: FloatArray, edge: float, sign: int
) -> Part:
    outline = next(stroke for stroke in strokes if stroke.id == "outline")
    left, top, right, bottom = beziers.bounds(outline.line)
    corner = np.array([left, top])
    labels = []
    for label in whole.labels:
        at = np.array(label.at) + to_card
        if sign * (at[0] - edge) > 0:
            labels.append(replace(label, at=(float(at[0] - left), float(at[1] - top))))
    return replace(
        whole,
        name=f"{whole.name}-{side}",
        title=f"{whole.title}, {side} half",
        size=(right - left, bottom - top),
        strokes=tuple(replace(stroke, line=stroke.line - corner) for stroke in strokes),
        labels=tuple(labels),
        origin=(left, top),
    )


def _strip(whole: Part, joint: Joint, run: Run, number: int) -> Part:
    drawing = Drawing()
    edges = (joint.left,) if joint.left == joint.right else (joint.left, joint.right)
    ends = scored_run(run.v0, run.v1)
    for fold, u in enumerate(edges, start=1):
        if ends:
            drawing.score(f"fold-{fold}", (u, ends[0]), (u, ends[1]), "valley")
    sides = (joint.left - run.width, run.v0, joint.right + run.width, run.v1)
    drawing.outline(Outline(shapes.rectangle(*sides)))
    middle = (joint.right + run.width * 0.6, (run.v0 + run.v1) / 2)
    words = f"{whole.title}: hinge strip, behind both halves"
    drawing.label(words, middle, size=2.6, turn_deg=90.0, room=run.v1 - run.v0 - 4)
    part = drawing.part(
        f"{whole.name}-hinge" + (f"-{number}" if len(joint.runs) > 1 else ""),
        f"{whole.title}, hinge strip" + (f" {number}" if len(joint.runs) > 1 else ""),
        whole.role,
        whole.stock,
        on_card=True,
        face_up=whole.face_up,
        grain_deg=whole.grain_deg,
    )
    return replace(part, set=whole.set)
