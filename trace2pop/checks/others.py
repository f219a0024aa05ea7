"""The pieces round the card: outer card, white mock-up, placing gauge."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import affinity

from trace2pop.checks.base import Base
from trace2pop.checks.beams import BuiltBeam
from trace2pop.checks.contours import TRUE
from trace2pop.checks.folder import Folder, Piece
from trace2pop.checks.layout import matched
from trace2pop.checks.report import Judge

_SHORT = 12.0
"""How much shorter than its piece a fold may be marked: both ends stay clear of the edge."""

_STOP = 0.05
_OUT_OF_SIGHT = 1.0
"""How far works lie from a window, so that a card put on a little askew doesn't show them."""


def check_others(
    folder: Folder,
    base: Base | None,
    motif: Piece | None,
    beams: Sequence[BuiltBeam],
    judge: Judge,
) -> None:
    """Judge what lies round base, beams and motif."""
    _outer(folder, judge)
    if base is not None:
        _window(folder, base, beams, judge)
        _mockup_base(folder, base, judge)
    _mockup_layer(folder, judge)
    if motif is not None:
        _gauge(folder, motif, judge)


def _family(folder: Folder, name: str) -> list[Piece]:
    """Return a piece, or its halves and hinge strips where it was made in two."""
    return [
        piece
        for key, piece in folder.pieces.items()
        if (key == name or key.startswith(f"{name}-"))
        and piece.part.origin
        and not piece.outline.is_empty
    ]


def _covers(pieces: list[Piece]) -> list[Piece]:
    return [piece for piece in pieces if "-hinge" not in piece.part.name]


def _outer(folder: Folder, judge: Judge) -> None:
    """Judge the outer card: two covers as planned, folds between them, a border all round."""
    pieces = _family(folder, "outer")
    if not judge.holds("outer", "outer", bool(_covers(pieces)), "there is no outer card"):
        return
    width = folder.plan.number("card", "outer", "width")
    height = folder.plan.number("card", "outer", "height")
    border = folder.plan.number("card", "border")
    folds = [piece.line_on_card(line) for piece in pieces for line in piece.folds]
    if not judge.holds("outer", "outer", bool(folds), "no fold is marked between its covers"):
        return
    boxes = np.array([piece.on_card(piece.outline).bounds for piece in _covers(pieces)])
    left, top = boxes[:, :2].min(axis=0)
    right, bottom = boxes[:, 2:].max(axis=0)
    places = np.concatenate([line.points[:, 0] for line in folds])
    along = np.concatenate([line.points[:, 1] for line in folds])
    strays = np.minimum(np.abs(places - places.min()), np.abs(places - places.max())).max()
    for text, measured, wanted in (
        ("its fold lies {0:.2f} mm beside the base's crease", float(places.max()), 0.0),
        ("its folds stray {0:.2f} mm from their lines", float(strays), 0.0),
        ("its back is {0:.2f} mm wide, {1:.2f} mm are planned", float(right), width),
        ("its front is {0:.2f} mm wide, {1:.2f} mm are planned", float(places.min() - left), width),
        (
            "it begins at {0:.2f} mm from the base's head, {1:.2f} mm are planned",
            float(top),
            -border,
        ),
        ("it is {0:.2f} mm high, {1:.2f} mm are planned", float(bottom - top), height),
    ):
        judge.same("outer", "outer", measured, wanted, 2 * TRUE, text.format(measured, wanted))
    bare = height - float(np.ptp(along))
    text = f"{bare:.1f} mm of its fold isn't marked"
    judge.at_most("outer", "outer", bare, _SHORT, text)
    wrong = [
        line.name
        for piece in pieces
        for line in piece.folds
        if line.fold != ("valley" if piece.part.face_up == "inner" else "mountain")
    ]
    judge.holds("folds", "outer", not wrong, "the outer card's folds must be valleys inside")


def _window(folder: Folder, base: Base, beams: Sequence[BuiltBeam], judge: Judge) -> None:
    """Judge a window in the outer card: behind it lies the base's plain back, and no works."""
    pieces = _covers(_family(folder, "outer"))
    lines = [(piece, line) for piece in pieces for line in piece.holes]
    if not lines:
        return
    folds = [piece.line_on_card(line) for piece in _family(folder, "outer") for line in piece.folds]
    spine = -min((float(line.points[:, 0].min()) for line in folds), default=0.0)
    slits = [line.shape for line in base.cuts if line.kind == "slit"]
    works = [panel for beam in beams for panel in beam.lower] + slits
    for piece, line in lines:
        hole = shapely.Polygon(piece.line_on_card(line).points)
        # Closed, the front lies on the base's left half, which begins where the spine does.
        behind = shapely.transform(hole, lambda points: points + np.array([spine, 0.0]))
        out = float(behind.difference(base.paper).area)
        text = f"{out:.1f} mm2 of the window have no base behind them"
        judge.at_most("window", piece.file, out, 1e-3, text)
        room = min((float(behind.distance(work)) for work in works), default=np.inf)
        text = f"a flange or slit lies {room:.1f} mm beside the window: the works would show"
        judge.at_least("window", piece.file, min(room, 1e3), _OUT_OF_SIGHT, text)


def _mockup_base(folder: Folder, base: Base, judge: Judge) -> None:
    """Judge the white base: what is tried on it must be what is made."""
    pieces = _family(folder, "mockup-base")
    if len(_covers(pieces)) != len(base.pieces):
        return  # its stock has other sheets, so it is parted otherwise
    lines = [piece.line_on_card(line) for piece in pieces for line in piece.lines]
    same = [line for line in lines if line.kind == "slit" or line.op != "cut"]
    wanted = [line for line in base.cuts if line.kind == "slit"] + list(base.folds)
    faults = matched(wanted, same)
    judge.holds("mock-up", "mockup-base", not faults, "; ".join(faults[:3]))


def _mockup_layer(folder: Folder, judge: Judge) -> None:
    """Judge the trial layer: as large as the window, its crease over the base's."""
    pieces = _family(folder, "mockup-layer")
    if not pieces:
        return
    plan = folder.plan
    width, height = plan.number("window", "width"), plan.number("window", "height")
    margin = plan.number("card", "margin")
    boxes = np.array([piece.on_card(piece.outline).bounds for piece in _covers(pieces)])
    found = [*boxes[:, :2].min(axis=0), *boxes[:, 2:].max(axis=0)]
    wanted = [-width / 2, margin, width / 2, margin + height]
    off = float(np.abs(np.subtract(found, wanted)).max())
    text = f"an edge of the trial layer lies {off:.2f} mm from the window's"
    judge.at_most("mock-up", "mockup-layer", off, 2 * TRUE, text)
    folds = [piece.line_on_card(line) for piece in pieces for line in piece.folds]
    off = max((float(np.abs(line.points[:, 0]).max()) for line in folds), default=0.0)
    text = f"the trial layer's crease lies {off:.2f} mm beside the base's"
    judge.at_most("mock-up", "mockup-layer", off, TRUE, text)


def _gauge(folder: Folder, motif: Piece, judge: Judge) -> None:
    """Judge the gauge: from its lip to where the motif stops is the motif's place on the base."""
    piece = folder.pieces.get("gauge")
    if piece is None or piece.outline.is_empty:
        return
    lips = [float(line.points[:, 1].mean()) for line in piece.folds]
    if not judge.holds("gauge", "gauge", bool(lips), "it has no lip to fold over the base's head"):
        return
    corners = shapely.get_coordinates(piece.outline)
    stops = [line.bounds[1] for line in _creased(motif)]
    if not stops:
        return
    off, stop = min((float(np.abs(corners[:, 1] - lips[0] - v).min()), v) for v in stops)
    text = f"its stop is {off:.2f} mm from where the motif's crease begins"
    judge.at_most("gauge", "gauge", off, _STOP, text)
    # Its lowest edge ends where the motif's crease lies.
    low = corners[corners[:, 1] > corners[:, 1].max() - 0.01]
    web = folder.plan.number("card", "web")
    placed = affinity.translate(piece.outline, web - low[:, 0].max(), -lips[0])
    over = [placed.intersection(paper).buffer(-_STOP).area for paper in _layers(motif, web)]
    text = f"it lies over {sum(over):.1f} mm2 of the motif as it lies folded, crease at its bar"
    judge.at_most("gauge", "gauge", float(sum(over)), _STOP, text)
    stopped = shapely.Point(web, stop).distance(placed)
    text = f"its bar is {stopped:.2f} mm from the head end of the motif's crease"
    judge.at_most("gauge", "gauge", float(stopped), 2 * _STOP, text)


def _creased(motif: Piece) -> list[shapely.Geometry]:
    """Return the stretches of u = 0 on the motif's paper that carry a fold, holes filled."""
    paper = motif.on_card(motif.outline)
    _, head, _, foot = paper.bounds
    crease = paper.intersection(shapely.LineString([(0, head - 1), (0, foot + 1)]))
    folds = [motif.line_on_card(line).points for line in motif.folds]
    middles = [shapely.Point(0, points[:, 1].mean()) for points in folds]
    return [
        stretch
        for stretch in shapely.get_parts(crease)
        if any(stretch.distance(middle) < TRUE for middle in middles)
    ]


def _layers(motif: Piece, web: float) -> list[shapely.Geometry]:
    """Return the motif's paper as it lies folded: what is beyond an unscored crossing, flat too."""
    paper = motif.on_card(motif.outline)
    folds = shapely.union_all(_creased(motif)).buffer(TRUE)
    layers = []
    for side in (-1, 1):
        half = paper.intersection(shapely.box(min(0, side * 1e4), -1e4, max(0, side * 1e4), 1e4))
        for part in shapely.get_parts(half):
            turned = affinity.scale(part, side, origin=(0, 0))
            layers.append(affinity.translate(turned, web))
            if not part.intersects(folds):
                layers.append(affinity.translate(affinity.scale(turned, -1, origin=(0, 0)), web))
    return layers
