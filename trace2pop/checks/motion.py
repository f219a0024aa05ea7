"""The card put together and closed: what shows, what collides, whether the plan says so."""

from collections.abc import Sequence

import numpy as np
import shapely

from trace2pop.checks.base import Base
from trace2pop.checks.beams import BuiltBeam
from trace2pop.checks.contours import TRUE
from trace2pop.checks.folder import Folder, Piece
from trace2pop.checks.plan import PlanHand
from trace2pop.checks.report import Judge
from trace2pop.limits import HAND_SLACK
from trace2pop.mechanism.closing import FlatBeam, FlatCard, Papers, closing
from trace2pop.model.outline import FloatArray

_ROUND_OFF = 0.01
_JOIN = 0.5
_TAPE = 0.5


def motif_piece(folder: Folder, judge: Judge) -> Piece | None:
    """Return the motif's piece, None where there is none that lies on the card."""
    piece = folder.pieces.get("motif")
    good = piece is not None and not piece.outline.is_empty and piece.part.origin is not None
    judge.holds("plan", "motif", good, "there is no motif to hide the beams")
    return piece if good else None


def check_motif(folder: Folder, piece: Piece, judge: Judge) -> None:
    """Judge the motif's crease and the places of parts added by hand."""
    paper, outline = piece.on_card(piece.paper), piece.on_card(piece.outline)
    lines = [piece.line_on_card(line) for line in piece.folds]
    off = max((float(np.abs(line.points[:, 0]).max()) for line in lines), default=np.inf)
    text = (
        f"the motif's crease lies {off:.2f} mm beside the base's" if lines else "it has no crease"
    )
    judge.at_most("crease", "motif", min(off, 1e4), TRUE, text)
    sense = "valley" if piece.part.face_up == "front" else "mountain"
    good = all(line.fold == sense for line in lines)
    judge.holds("folds", "motif", good, "the motif's crease must be a valley on its front")
    for hand in folder.plan.hand:
        if hand.behind is not None:
            _hidden_wire(hand, hand.behind, paper, judge)
            continue
        off = float(paper.boundary.distance(shapely.Point(hand.join)))
        text = f"it joins the motif {off:.2f} mm from its edge"
        judge.at_most("hand-parts", f"hand-added part {hand.id}", off, _JOIN, text)
        _hand_lengths(hand, judge)
    for name, island in _islands(folder).items():
        on, out = island.intersection(paper), island.difference(outline)
        off = float(on.area + out.area)
        text = f"{off:.1f} mm2 of it don't lie in a hole of the motif"
        judge.at_most("hand-parts", name, off, _ROUND_OFF, text)


def _hidden_wire(hand: PlanHand, line: FloatArray, paper: shapely.Geometry, judge: Judge) -> None:
    """Judge that a wire behind the motif doesn't show, doesn't cross the crease, is long enough."""
    where = f"hand-added part {hand.id}"
    run = shapely.LineString(line)
    out = float(run.buffer(hand.diameter / 2).difference(paper).area)
    text = f"{out:.2f} mm2 of it show beside the motif's paper"
    judge.at_most("hand-parts", where, out, _ROUND_OFF, text)
    sides = np.sign(line[:, 0])
    judge.holds("hand-parts", where, bool((sides == sides[0]).all()), "it lies across the crease")
    off = abs(hand.cut_length - float(run.length))
    text = f"its length is {off:.2f} mm off its line's"
    judge.at_most("hand-parts", where, off, _JOIN, text)


def _islands(folder: Folder) -> dict[str, shapely.Geometry]:
    """Return the paper of the pieces that lie in the motif's holes, in card coordinates."""
    return {
        name: piece.on_card(piece.paper)
        for name, piece in folder.pieces.items()
        if name.startswith("island-") and piece.part.origin and not piece.outline.is_empty
    }


def _hand_lengths(hand: PlanHand, judge: Judge) -> None:
    """Judge what the maker will cut: the visible length is the middle line's, from the join on."""
    where = f"hand-added part {hand.id}"
    line = shapely.LineString(hand.lines[0])
    off = float(shapely.Point(hand.join).distance(shapely.Point(line.coords[0])))
    text = f"its middle line begins {off:.2f} mm from where it joins"
    judge.at_most("hand-parts", where, off, _JOIN, text)
    text = f"it is said to be {hand.length:.1f} mm long; its middle line is {line.length:.1f} mm"
    judge.same("hand-parts", where, hand.length, line.length, _JOIN, text)
    text = f"it is cut to {hand.cut_length:.1f} mm, shorter than what shows"
    judge.at_least("hand-parts", where, hand.cut_length, hand.length, text)


def check_motion(
    folder: Folder, base: Base, motif: Piece, beams: Sequence[BuiltBeam], judge: Judge
) -> None:
    """Close the card from flat open to shut and judge what happens."""
    plan = folder.plan
    bends = plan.choices.get(("fragile", "bends")) is True
    paper = shapely.union_all([motif.on_card(motif.paper), *_islands(folder).values()])
    counted = () if bends else plan.hand
    _reach(folder, base, paper, "paper", 0.0, beams, judge)
    if counted:
        hand = shapely.union_all([_strand(part, part.diameter) for part in counted])
        _reach(folder, base, hand, "hand-added parts", HAND_SLACK.value, beams, judge)
    if not beams:
        return
    whole = shapely.union_all([paper, *(_strand(part, 2 * _ROUND_OFF) for part in counted)])
    card = FlatCard(
        base=base.paper,
        motif=whole,
        beams=tuple(_flat(beam) for beam in beams),
        papers=Papers(
            plan.number("stock", "base", "thickness"),
            plan.number("stock", "motif", "thickness"),
            plan.number("stock", "beam", "thickness"),
            0.0,
        ),
        margin=plan.number("card", "margin") - _ROUND_OFF,
    )
    result = closing(card)
    judge.holds("moving", "180 to 0 degrees", not result.faults, "; ".join(
        f"{fault.kind} of {fault.where}: {fault.measured:.2f}, at most {fault.limit:.2f}"
        for fault in result.faults[:3]
    ))  # fmt: skip


def _strand(hand: PlanHand, thickness: float) -> shapely.Geometry:
    """Return a hand-added part seen from the front: its middle lines, ``thickness`` wide."""
    lines = [shapely.LineString(line) for line in hand.lines if len(line) > 1]
    return shapely.union_all([line.buffer(thickness / 2, cap_style="flat") for line in lines])


def _flat(beam: BuiltBeam) -> FlatBeam:
    plan = beam.plan
    v1 = plan.v0 + beam.length
    u = 0.0 if abs(plan.u) < TRUE else plan.u
    return FlatBeam(plan.part, u, plan.v0, v1, beam.web, beam.flange, plan.taper_deg)


def _reach(
    folder: Folder,
    base: Base,
    shape: shapely.Geometry,
    name: str,
    slack: float,
    beams: Sequence[BuiltBeam],
    judge: Judge,
) -> None:
    """Judge the closing law itself: distance from the crease plus web stays inside the margin."""
    margin = folder.plan.number("card", "margin") - slack
    left, head, right, foot = shape.bounds
    low, top, high, bottom = base.paper.bounds
    web = max((beam.web for beam in beams), default=folder.plan.number("card", "web"))
    for side, reach, half in (("left", -left, -low), ("right", right, high)):
        over = reach + web - (half - margin)
        text = f"closed, it lies {over:.2f} mm past what the base hides on this side"
        judge.at_most(
            "closing", f"{name}, {side} half", reach + web - _ROUND_OFF, half - margin, text
        )
    for end, inside in (("head", head - top), ("foot", bottom - foot)):
        text = f"it comes within {inside:.2f} mm of the base's {end}; {margin:.1f} mm is asked for"
        judge.at_least("closing", f"{name}, {end}", inside + _ROUND_OFF, margin, text)


def check_numbers(folder: Folder, base: Base, motif: Piece, judge: Judge) -> None:
    """Judge what card.json says against what the pieces measure."""
    plan = folder.plan
    low, _, high, bottom = base.paper.bounds
    half, height = plan.number("card", "half_width"), plan.number("card", "height")
    web, margin = plan.number("card", "web"), plan.number("card", "margin")
    outline = motif.on_card(motif.outline)
    left, head, right, foot = outline.bounds
    hand = [
        (line[:, 0].min() - part.diameter / 2, line[:, 0].max() + part.diameter / 2)
        for part in plan.hand
        for line in part.lines
    ]
    reaches = {
        "width": right - left,
        "height": foot - head,
        "reach_left": -left,
        "reach_right": right,
        "reach_left_with_hand": max([-left, *(-low for low, _ in hand)]),
        "reach_right_with_hand": max([right, *(high for _, high in hand)]),
    }
    measured = [
        (f"motif.{key}", plan.number("motif", key), value) for key, value in reaches.items()
    ]
    measured += [
        ("card.half_width", half, high),
        ("card.half_width", half, -low),
        ("card.height", height, bottom),
        ("window.width", plan.number("window", "width"), 2 * (half - web - margin)),
        ("window.height", plan.number("window", "height"), height - 2 * margin),
        (
            "card.border",
            plan.number("card", "border"),
            plan.number("card", "outer", "width") - half,
        ),
        ("closed.limit", plan.number("closed", "limit"), half - margin),
    ]
    for name, said, found in measured:
        text = f"{name} is {said:.2f}; the pieces measure {found:.2f} mm"
        judge.same("numbers", "card.json", said, found, 2 * TRUE, text)
    _closed_reach(folder, reaches, web, judge)
    rise = web - plan.number("card", "rise") - plan.number("stock", "base", "thickness")
    text = f"rise and base are {abs(rise):.2f} mm off the web, more than tape accounts for"
    judge.same("numbers", "card.json", rise, 0.0, _TAPE, text)
    _sag(folder, outline, judge)


def _sag(folder: Folder, outline: shapely.Geometry, judge: Judge) -> None:
    sag, limit = folder.plan.number("sag", "max"), folder.plan.number("sag", "limit")
    text = f"the motif sags {sag:.2f} mm by the plan, {limit:.2f} mm is the limit"
    judge.at_most("numbers", "card.json", sag, limit, text)
    off = float(outline.distance(shapely.Point(folder.plan.root["sag"]["at"].pair())))
    text = f"sag.at lies {off:.1f} mm off the motif"
    judge.at_most("numbers", "card.json", off, _JOIN, text)


def _closed_reach(folder: Folder, reaches: dict[str, float], web: float, judge: Judge) -> None:
    """``closed.reach`` is that of the paper, or of the hand-added parts too: either is true."""
    said = folder.plan.number("closed", "reach")
    paper = max(reaches["reach_left"], reaches["reach_right"]) + web
    hand = max(reaches["reach_left_with_hand"], reaches["reach_right_with_hand"]) + web
    found = min((paper, hand), key=lambda value: abs(value - said))
    text = f"closed.reach is {said:.2f}; the pieces measure {found:.2f} mm"
    judge.same("numbers", "card.json", said, found, 2 * TRUE, text)
