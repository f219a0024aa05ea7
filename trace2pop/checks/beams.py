"""Beams rebuilt from their flat pieces: web, fold line and all four flanges, on the card."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import shapely

from trace2pop.checks.contours import TRUE
from trace2pop.checks.drawing import Line
from trace2pop.checks.folder import Folder, Piece
from trace2pop.checks.plan import PlanBeam
from trace2pop.checks.report import Judge
from trace2pop.model.outline import FloatArray

_STRAIGHT = 0.01
_ON_FOLD = 0.05


@dataclass(frozen=True, eq=False)
class BuiltBeam:
    """A beam as its piece folds up, standing where the plan puts it; all in card coordinates.

    ``upper`` and ``lower`` hold the flange towards smaller u, then the one towards larger u;
    ``marks`` the holes of the lower flanges.
    """

    plan: PlanBeam
    length: float
    web: float
    upper: tuple[shapely.Polygon, shapely.Polygon]
    lower: tuple[shapely.Polygon, shapely.Polygon]
    marks: tuple[shapely.Polygon, ...]

    @property
    def flange(self) -> float:
        """The widest flange, fold to edge."""
        edges = [
            abs(float(edge) - self.plan.u)
            for panel in (*self.upper, *self.lower)
            for edge in (panel.bounds[0], panel.bounds[2])
        ]
        return max(edges)


@dataclass(frozen=True)
class _Folds:
    """The folds of a beam's flat piece: heights of the two long ones, place of the middle one."""

    upper: float
    lower: float
    middle: float


def build_beams(folder: Folder, judge: Judge) -> tuple[BuiltBeam, ...]:
    """Return every beam that its piece allows to be built, and judge pieces against the plan."""
    built = []
    for plan in folder.plan.beams:
        piece = folder.pieces.get(plan.part)
        good = piece is not None and not piece.outline.is_empty
        if not judge.holds("beams", plan.part, good, "there is no piece for this beam"):
            continue
        assert piece is not None
        folds = _folds(piece, judge)
        if folds is not None:
            beam = _built(plan, piece, folds)
            numbers = [
                beam.length,
                *(side for panel in beam.upper + beam.lower for side in panel.bounds),
            ]
            text = "its outline doesn't fold up to a web with four flanges"
            if not judge.holds("beams", plan.part, bool(np.isfinite(numbers).all()), text):
                continue
            _as_planned(beam, piece, folds, folder, judge)
            built.append(beam)
    return tuple(built)


def _folds(piece: Piece, judge: Judge) -> _Folds | None:
    """Return the folds found by their direction and sense, None where they make no beam."""
    level = [line for line in piece.folds if _extent(line, 1) < _STRAIGHT]
    upright = [line for line in piece.folds if _extent(line, 0) < _STRAIGHT]
    heights = _places([line.points[0, 1] for line in level])
    middles = _places([line.points[0, 0] for line in upright])
    good = (
        len(heights) == 2
        and len(middles) == 1
        and len(level) + len(upright) == len(piece.folds)
        and bool(level)
        and all(line.fold == "valley" for line in level)
        and all(line.fold == "mountain" for line in upright)
    )
    text = "its outer face up, a beam has two long valley folds and one mountain fold between them"
    if not judge.holds("folds", piece.file, good and piece.part.face_up == "outer", text):
        return None
    folds = _Folds(heights[0], heights[1], middles[0])
    for left in (True, False):
        for height in heights:
            side = [
                line for line in level
                if abs(line.points[0, 1] - height) < _STRAIGHT
                and (line.points[:, 0].mean() < folds.middle) == left
            ]  # fmt: skip
            if not judge.holds("folds", piece.file, bool(side), "a flange has no fold to its web"):
                return None
    return folds


def _extent(line: Line, axis: int) -> float:
    return float(np.ptp(line.points[:, axis]))


def _places(values: Sequence[float]) -> list[float]:
    """Return the different values, near ones taken together."""
    places: list[float] = []
    for value in sorted(values):
        if not places or value - places[-1] > _STRAIGHT:
            places.append(float(value))
    return places


def _built(plan: PlanBeam, piece: Piece, folds: _Folds) -> BuiltBeam:
    """Fold the piece up.

    Seen on its outer face, upper flanges above and the head end at the middle fold, the left half
    faces larger u: its flanges turn that way, the right half's the other way.
    """
    left, _, right, _ = piece.outline.bounds
    far = 1e4
    panels: dict[str, list[shapely.Polygon]] = {"upper": [], "lower": []}
    marks: list[shapely.Polygon] = []
    holes = [shapely.Polygon(line.points) for line in piece.holes]
    for side, (x0, x1) in ((-1, (folds.middle, right)), (1, (left, folds.middle))):
        for name, fold, (y0, y1) in (
            ("upper", folds.upper, (-far, folds.upper)),
            ("lower", folds.lower, (folds.lower, far)),
        ):
            place = partial(_on_card, plan=plan, middle=folds.middle, fold=fold, side=side)
            flat = piece.outline.intersection(shapely.box(x0, y0, x1, y1))
            panels[name].append(shapely.transform(flat, place))
            if name == "lower":
                inside = [hole for hole in holes if flat.contains(hole)]
                marks += [shapely.transform(hole, place) for hole in inside]
    start, end = _web_ends(piece, folds)
    return BuiltBeam(
        plan=plan,
        length=max(end - folds.middle, folds.middle - start),
        web=folds.lower - folds.upper,
        upper=(panels["upper"][0], panels["upper"][1]),
        lower=(panels["lower"][0], panels["lower"][1]),
        marks=tuple(marks),
    )


def _web_ends(piece: Piece, folds: _Folds) -> tuple[float, float]:
    """Return where the web begins and ends: a lower flange may stand out beyond it at the foot."""
    level = (folds.upper + folds.lower) / 2
    left, _, right, _ = piece.outline.bounds
    across = shapely.LineString([(left - 1, level), (right + 1, level)])
    start, _, end, _ = piece.outline.intersection(across).bounds
    return float(start), float(end)


def _on_card(
    points: FloatArray, plan: PlanBeam, middle: float, fold: float, side: int
) -> FloatArray:
    u = plan.u + side * np.abs(points[:, 1] - fold)
    v = plan.v0 + np.abs(points[:, 0] - middle)
    return np.column_stack([u, v])


def _as_planned(beam: BuiltBeam, piece: Piece, folds: _Folds, folder: Folder, judge: Judge) -> None:
    plan, name = beam.plan, beam.plan.part
    left, right = _web_ends(piece, folds)
    _, top, _, bottom = piece.outline.bounds
    halves = abs((right - folds.middle) - (folds.middle - left))
    judge.at_most("beams", name, halves, TRUE, f"its halves differ by {halves:.2f} mm in length")
    length = plan.v1 - plan.v0
    text = f"its fold line is {beam.length:.2f} mm long; the plan says {length:.2f} mm"
    judge.same("beams", name, beam.length, length, TRUE, text)
    web = folder.plan.number("card", "web")
    text = f"its web is {beam.web:.2f} mm between folds; the plan says {web:.2f} mm"
    judge.same("beams", name, beam.web, web, TRUE, text)
    for words, width in (("upper", folds.upper - top), ("lower", bottom - folds.lower)):
        text = f"its {words} flanges are {width:.2f} mm wide; the plan says {plan.flange:.2f} mm"
        judge.same("beams", name, width, plan.flange, TRUE, text)


def check_flanges(
    folder: Folder, beams: Sequence[BuiltBeam], motif: shapely.Geometry, judge: Judge
) -> None:
    """Judge the upper flanges: wholly under the motif's paper, drawn in, on their own half."""
    inset = folder.plan.choice("supports", "inset")
    for beam in beams:
        for panel in beam.upper:
            depth = _depth(panel, motif)
            text = (
                f"an upper flange shows by {-depth:.2f} mm"
                if depth < 0
                else f"an upper flange lies {depth:.2f} mm inside the motif's edge, {inset:.1f} mm "
                "is asked for"
            )
            judge.at_least("flanges-hidden", beam.plan.part, depth + 0.02, inset, text)
    _own_half(beams, judge)
    for layer in ("upper", "lower"):
        _apart(beams, layer, judge)


def _depth(panel: shapely.Polygon, paper: shapely.Geometry) -> float:
    """Return how far a panel lies inside the paper, below 0 how far it sticks out."""
    if paper.covers(panel):
        return float(panel.distance(paper.boundary))
    out = panel.difference(paper)
    return -float(shapely.hausdorff_distance(out, out.intersection(paper.boundary)))


def _own_half(beams: Sequence[BuiltBeam], judge: Judge) -> None:
    for beam in beams:
        u = beam.plan.u
        if abs(u) < _ON_FOLD:
            continue
        side = 1 if u > 0 else -1
        for panel in (*beam.upper, *beam.lower):
            near = min(side * panel.bounds[0], side * panel.bounds[2])
            text = f"a flange reaches {-near:.2f} mm over the crease"
            judge.at_least("flanges-half", beam.plan.part, near, 0.0, text)


def _apart(beams: Sequence[BuiltBeam], layer: str, judge: Judge) -> None:
    for number, beam in enumerate(beams):
        own = beam.upper if layer == "upper" else beam.lower
        for other in beams[number + 1 :]:
            theirs = other.upper if layer == "upper" else other.lower
            shared = max(float(a.intersection(b).area) for a in own for b in theirs)
            where = f"{beam.plan.part} and {other.plan.part}"
            text = f"their {layer} flanges overlap by {shared:.1f} mm2"
            judge.at_most("flanges-apart", where, shared, 1e-3, text)
