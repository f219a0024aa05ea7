"""The base: its slits against the beams, the paper round them, its crease, its marks."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from trace2pop import limits
from trace2pop.checks.beams import BuiltBeam
from trace2pop.checks.contours import TRUE
from trace2pop.checks.drawing import Line
from trace2pop.checks.folder import Folder, Piece
from trace2pop.checks.plan import PlanBeam
from trace2pop.checks.report import Judge

_ON_CREASE = 0.05
_ROUND_OFF = 0.01
_NOTCH = 1.0
_LEAST_HINGED = 0.2
"""Least share of a halved base's crease along which strips fold."""


@dataclass(frozen=True, eq=False)
class Base:
    """The base put together on the card: in one piece, or of two halves and their hinge strips."""

    pieces: tuple[Piece, ...]
    hinges: tuple[Piece, ...]
    paper: shapely.Geometry
    cuts: tuple[Line, ...]
    folds: tuple[Line, ...]

    @property
    def halved(self) -> bool:
        """Whether it is made of two halves, so that its crease is the joint between them."""
        return len(self.pieces) > 1


@dataclass(frozen=True)
class FoundSlit:
    """A slit of the base as it is drawn, in card coordinates; ``u`` is its middle."""

    u: float
    v0: float
    v1: float
    width: float


def read_base(folder: Folder, judge: Judge) -> Base | None:
    """Return the base, None where it can't be put together."""
    named = [folder.pieces.get(name) for name in ("base",)]
    if named == [None]:
        named = [folder.pieces.get(name) for name in ("base-left", "base-right")]
    pieces = tuple(piece for piece in named if piece is not None and not piece.outline.is_empty)
    whole = len(pieces) == len(named) and all(piece.part.origin for piece in pieces)
    if not judge.holds("slits", "base", whole, "there is no base to put the beams in"):
        return None
    hinges = tuple(
        piece for name, piece in folder.pieces.items()
        if name.startswith("base-hinge") and piece.part.origin and not piece.outline.is_empty
    )  # fmt: skip
    paper = shapely.union_all([piece.on_card(piece.outline) for piece in pieces])
    # Where halves meet, a slot is a notch in both: no paper is missed there.
    paper = paper.buffer(_NOTCH, join_style="mitre").buffer(-_NOTCH, join_style="mitre")
    lines = [piece.line_on_card(line) for piece in pieces for line in piece.cuts]
    folds = [piece.line_on_card(line) for piece in (*pieces, *hinges) for line in piece.folds]
    return Base(pieces, hinges, paper, tuple(lines), tuple(folds))


def check_base(folder: Folder, base: Base, beams: Sequence[BuiltBeam], judge: Judge) -> None:
    """Judge the base against the plan and the beams' pieces."""
    slits = _found_slits(base)
    _slits(folder, base, slits, beams, judge)
    _paper_left(folder, judge)
    _crease(folder, base, judge)
    _lower_flanges(folder, base, beams, judge)
    _marks(base, beams, judge)


def _found_slits(base: Base) -> list[FoundSlit]:
    return [
        FoundSlit(float(box[[0, 2]].mean()), float(box[1]), float(box[3]), float(box[2] - box[0]))
        for box in (line.bounds for line in base.cuts if line.kind == "slit")
    ]


def _slits(
    folder: Folder,
    base: Base,
    slits: Sequence[FoundSlit],
    beams: Sequence[BuiltBeam],
    judge: Judge,
) -> None:
    """Each beam has its one slit, at its place, and is able to go through it."""
    # Where the base is parted along the crease, the joint itself lets the centre beam through.
    planned = [beam for beam in folder.plan.beams if not (base.halved and _central(beam))]
    text = f"the base has {len(slits)} slits for {len(planned)} beams"
    judge.holds("slits", "base", len(slits) == len(planned), text)
    left = list(slits)
    for beam in planned:
        if not left:
            break
        slit = min(left, key=lambda one: abs(one.u - beam.u) + abs(one.v0 - beam.slit[0]))
        left.remove(slit)
        off = abs(slit.u - beam.u)
        text = f"its slit lies {off:.2f} mm beside its place"
        judge.at_most("slits", beam.part, off, TRUE, text)
        ends = max(abs(slit.v0 - beam.slit[0]), abs(slit.v1 - beam.slit[1]))
        text = f"its slit ends {ends:.2f} mm from where the plan has it"
        judge.at_most("slits", beam.part, ends, TRUE, text)
        text = f"its slit is {slit.width:.2f} mm wide; the plan says {beam.slit_width:.2f} mm"
        judge.same("slits", beam.part, slit.width, beam.slit_width, TRUE, text)
    by_part = {beam.plan.part: beam for beam in beams}
    clearance = folder.plan.choice("supports", "slit_clearance")
    for beam in planned:
        built = by_part.get(beam.part)
        if built is None:
            continue
        room = beam.slit[1] - beam.slit[0] - built.length
        text = f"its slit is {room:.2f} mm longer than the beam; {clearance:.2f} mm is asked for"
        judge.same("slits", beam.part, room, clearance, 2 * TRUE, text)
        inside = min(beam.v0 - beam.slit[0], beam.slit[1] - beam.v1)
        text = f"the beam stands {-inside:.2f} mm past the end of its slit"
        judge.at_least("slits", beam.part, inside + TRUE, 0.0, text)


def _central(beam: PlanBeam) -> bool:
    return abs(beam.u) < _ON_CREASE


def _paper_left(folder: Folder, judge: Judge) -> None:
    """Slits weaken the base like hinges: enough paper stays round and between them."""
    height, half = folder.plan.number("card", "height"), folder.plan.number("card", "half_width")
    least = max(limits.SLIT_EDGE.value, limits.SLIT_EDGE_SHARE.value * height)
    most = limits.SLIT_LINE_SHARE.value * height
    lines: dict[float, float] = {}
    for beam in folder.plan.beams:
        v0, v1 = beam.slit
        ends = min(v0, height - v1)
        text = f"its slit leaves {ends:.1f} mm of paper at head or foot; {least:.1f} mm are needed"
        judge.at_least("slit-paper", beam.part, ends + _ROUND_OFF, least, text)
        side = half - abs(beam.u)
        text = f"its slit lies {side:.1f} mm from the fore edge"
        judge.at_least("slit-paper", beam.part, side + _ROUND_OFF, limits.SLIT_SIDE.value, text)
        key = next((u for u in lines if abs(u - beam.u) < limits.SLIT_APART.value), beam.u)
        lines[key] = lines.get(key, 0.0) + v1 - v0
    for u, total in lines.items():
        text = f"slits on this line take {total:.1f} mm of the base; {most:.1f} mm is the most"
        judge.at_most("slit-paper", f"u {u:+.1f} mm", total - _ROUND_OFF, most, text)


def _crease(folder: Folder, base: Base, judge: Judge) -> None:
    """Judge the base's fold: on u = 0 from head to foot, but for the slits there, a valley."""
    height = folder.plan.number("card", "height")
    down = {"front": "valley", "inner": "valley"}
    runs, off, wrong = [], 0.0, 0
    for piece in (*base.pieces, *base.hinges):
        sense = down.get(piece.part.face_up, "mountain")
        for line in map(piece.line_on_card, piece.folds):
            off = max(off, float(np.abs(line.points[:, 0]).max()))
            wrong += line.fold != sense
            runs.append((float(line.points[:, 1].min()), float(line.points[:, 1].max())))
    judge.at_most(
        "crease", "base", off, TRUE, f"the base's crease lies {off:.2f} mm off its middle"
    )
    judge.holds("folds", "base", not wrong, "the base's crease must be a valley on its front")
    slits = [beam.slit for beam in folder.plan.beams if _central(beam)]
    over = sum(max(0.0, min(v1, s1) - max(v0, s0)) for v0, v1 in runs for s0, s1 in slits)
    judge.at_most(
        "crease", "base", over, TRUE, f"{over:.2f} mm of the crease is scored over a slit"
    )
    if base.halved:  # parted along the crease: only its strips fold
        held = sum(v1 - v0 for v0, v1 in runs)
        text = f"hinge strips join {held:.0f} mm of the base's {height:.0f} mm: too little to hold"
        judge.at_least("crease", "base", held, _LEAST_HINGED * height, text)
        return
    marked = shapely.union_all([shapely.box(0, v0, 1, v1).buffer(2.5) for v0, v1 in runs])
    slit = shapely.union_all([shapely.box(0, v0, 1, v1) for v0, v1 in slits])
    bare = shapely.box(0.4, 0, 0.6, height).difference(marked).difference(slit)
    missing = float(bare.area / 0.2)
    most = 4.0 + 4.0 * len(slits)
    text = f"{missing:.1f} mm of the base's crease isn't marked, so it won't fold true"
    judge.at_most("crease", "base", missing, most, text)


def _lower_flanges(folder: Folder, base: Base, beams: Sequence[BuiltBeam], judge: Judge) -> None:
    """Lower flanges are glued under their own half of the base, clear of all other slits."""
    slits = {
        beam.part: shapely.LineString([(beam.u, beam.slit[0]), (beam.u, beam.slit[1])])
        for beam in folder.plan.beams
    }
    hinges = [piece.on_card(piece.outline) for piece in base.hinges]
    for beam in beams:
        for panel in beam.lower:
            out = float(panel.difference(base.paper.buffer(TRUE)).area)
            text = f"{out:.1f} mm2 of a lower flange has no base above it"
            judge.at_most("flanges-base", beam.plan.part, out, 1e-3, text)
            strip = sum(float(panel.intersection(one).area) for one in hinges)
            text = "a lower flange is glued where the base's hinge strip already is"
            judge.at_most("flanges-base", beam.plan.part, strip, 1e-3, text)
            for part, slit in slits.items():
                if part != beam.plan.part and panel.intersects(slit):
                    text = f"a lower flange lies across the slit of {part}"
                    judge.holds("flanges-base", beam.plan.part, False, text)


def _marks(base: Base, beams: Sequence[BuiltBeam], judge: Judge) -> None:
    """Judge the cut marks: a pinhole over a lower flange lies over a hole of that flange.

    Marks tell on the paper which beam goes where.
    """
    holes = [shapely.Polygon(line.points) for piece in base.pieces
             for line in map(piece.line_on_card, piece.holes)]  # fmt: skip
    for beam in beams:
        under = [hole for hole in holes if any(panel.contains(hole) for panel in beam.lower)]
        places = [mark.centroid for mark in beam.marks]
        lost = sum(not any(hole.centroid.distance(one) < 0.1 for one in places) for hole in under)
        text = f"{lost} of {len(under)} pinholes beside its slit meet no hole of its lower flange"
        judge.at_most("marks", beam.plan.part, float(lost), 0.0, text)
