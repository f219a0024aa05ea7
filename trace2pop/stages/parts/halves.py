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

_LEAST_STRIP = 6.0
_OFF_SLIT = 1.0
_ON_LINE = 1e-6


@dataclass(frozen=True)
class Joint:
    """Where a piece is parted: the halves' edges in card coordinates, and what the hinge spans.

    ``left`` and ``right`` are the u of the two edges (a spine's width apart on the outer card).
    ``runs`` are the stretches (v0, v1) that a strip joins; ``strip`` is the width glued to each
    half.
    """

    left: float
    right: float
    runs: tuple[tuple[float, float], ...]
    strip: float


def joint_of_base(height: float, beams: Sequence[Beam]) -> Joint:
    """Return the joint of a base: strips at head and foot, none beside the centre slits.

    There the lower flanges of the centre beam are glued, and a strip under them would raise its
    web above the others.

    Raises:
        SheetError: where the side beams leave no room for a strip.
    """
    start, runs = 0.0, []
    for beam in sorted((beam for beam in beams if beam.u == 0), key=lambda beam: beam.v0):
        runs.append((start, beam.slit.v0 - _OFF_SLIT))
        start = max(beam.slit.v1, beam.v1 + beam.shoulder) + _OFF_SLIT
    runs.append((start, height))
    free = min((abs(beam.u) - beam.flange - 1 for beam in beams if beam.u != 0), default=np.inf)
    strip = min(limits.HINGE_STRIP.value, float(free))
    if strip < _LEAST_STRIP:
        raise SheetError(
            "the base is larger than the cutter's sheet and can't be joined from two halves: the "
            f"beams beside the crease leave {max(strip, 0):.1f} mm for the hinge strip, it needs "
            f"{_LEAST_STRIP:.1f}",
            "choose a larger cutter or sheet, or move those beams outwards",
        )
    return Joint(0.0, 0.0, tuple(runs), strip)


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


def _strip(whole: Part, joint: Joint, run: tuple[float, float], number: int) -> Part:
    drawing = Drawing()
    edges = (joint.left,) if joint.left == joint.right else (joint.left, joint.right)
    ends = scored_run(*run)
    for fold, u in enumerate(edges, start=1):
        if ends:
            drawing.score(f"fold-{fold}", (u, ends[0]), (u, ends[1]), "valley")
    sides = (joint.left - joint.strip, run[0], joint.right + joint.strip, run[1])
    drawing.outline(Outline(shapes.rectangle(*sides)))
    middle = (joint.right + joint.strip * 0.6, (run[0] + run[1]) / 2)
    words = f"{whole.title}: hinge strip, behind both halves"
    drawing.label(words, middle, size=2.6, turn_deg=90.0, room=run[1] - run[0] - 4)
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
