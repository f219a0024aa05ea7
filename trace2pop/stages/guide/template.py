"""The placing template: the motif from behind at true size, every part to add in its place."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from trace2pop.model.card import HandPart
from trace2pop.model.guide import Figure
from trace2pop.model.outline import FloatArray
from trace2pop.stages.guide.card import TheCard
from trace2pop.stages.guide.sketch import Sketch

PAGES = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
MARGIN = 8.0
HEAD = 30.0
"""Room on a template's page for its heading, words and ruler."""

_PAD = 6.0
_MIRROR = np.array([[-1.0, 0, 0], [0, 1, 0]])


@dataclass(frozen=True)
class _Cut:
    """A window of the motif, in card coordinates, that goes onto one page."""

    name: str
    box: tuple[float, float, float, float]


def templates(card: TheCard, paper: str) -> tuple[Figure, ...]:
    """Return the pages' drawings: whole where it fits, else in halves, else part by part."""
    if not card.hand:
        return ()
    return tuple(_drawn(card, cut) for cut in _cuts(card, paper))


def room(paper: str, *, turned: bool) -> tuple[float, float]:
    """Return what a template may take of a page, upright or turned."""
    width, height = PAGES[paper]
    if turned:
        width, height = height, width
    return width - 2 * MARGIN, height - 2 * MARGIN - HEAD


def fits(size: tuple[float, float], paper: str) -> bool:
    """Whether a drawing goes onto a page of that paper, upright or turned."""
    return any(
        size[0] <= across and size[1] <= down
        for across, down in (room(paper, turned=False), room(paper, turned=True))
    )


def _cuts(card: TheCard, paper: str) -> Iterator[_Cut]:
    x0, y0, x1, y1 = _extent(card)
    say = card.say
    if fits((x1 - x0, y1 - y0), paper):
        yield _Cut("", (x0, y0, x1, y1))
        return
    halves = (
        (say("template.left"), (x0, y0, 12.0, y1)),
        (say("template.right"), (-12.0, y0, x1, y1)),
    )
    if all(fits((box[2] - box[0], box[3] - box[1]), paper) for _, box in halves):
        for name, box in halves:
            yield _Cut(name, box)
        return
    for part in card.hand:
        a, b, c, d = _around(part).bounds
        box = (a - 15, b - 15, c + 15, d + 15)
        yield _Cut(say("template.around", part=str(part.id)), box)


def _around(part: HandPart) -> shapely.Geometry:
    lines = [part.path, part.overlap, *part.branches]
    return shapely.union_all([shapely.LineString(line) for line in lines if len(line) > 1])


def _extent(card: TheCard) -> tuple[float, float, float, float]:
    shapes = [card.motif, *(_around(part).buffer(_PAD) for part in card.hand)]
    x0, y0, x1, y1 = shapely.union_all(shapes).bounds
    return float(x0) - 1, float(y0) - 1, float(x1) + 1, float(y1) + 1


def _drawn(card: TheCard, cut: _Cut) -> Figure:
    sketch, say = Sketch(), card.say
    sketch.frame(_MIRROR)
    window = shapely.box(*cut.box)
    if cut.name:
        sketch.shape(card.motif.intersection(window), "motif-back")
    else:
        sketch.outline(card.cut.outline, "motif-back")
    for run in shapely.get_parts(
        card.motif.intersection(shapely.LineString([(0, cut.box[1]), (0, cut.box[3])]))
    ):
        if run.length > 0 and cut.box[0] < 0 < cut.box[2]:
            sketch.line(np.asarray(run.coords), "mountain")
    shown = [part for part in card.hand if window.intersects(_around(part))]
    for part in shown:
        for line in (part.path, *part.branches):
            sketch.line(line, "hand", width=max(part.diameter, 0.3))
        if len(part.overlap) > 1:
            sketch.line(part.overlap, "overlap", width=max(part.diameter, 0.3))
    taken: list[FloatArray] = []
    for part in shown:
        place = _clear_spot(card, part, taken)
        taken.append(place)
        sketch.ball(str(part.id), place)
    ids = say.listed([str(part.id) for part in shown])
    return sketch.figure(say("template.alt", parts=ids), cut.name, true_size=True)


def _clear_spot(card: TheCard, part: HandPart, taken: list[FloatArray]) -> FloatArray:
    """Return a place for the part's number beside its middle line, on nothing else."""
    others = shapely.union_all([card.motif, *(_around(one) for one in card.hand)])
    balls = shapely.union_all([shapely.Point(spot) for spot in taken]) if taken else None
    best: FloatArray = part.path[len(part.path) // 2]
    clearest = -np.inf
    for share in (1.0, 0.9, 0.75, 0.6, 0.5):
        index = min(len(part.path) - 1, round(share * (len(part.path) - 1)))
        near = part.path[max(0, index - 3)]
        along = part.path[index] - near
        along = along / max(float(np.linalg.norm(along)), 1e-9)
        ways = [along, np.array([-along[1], along[0]]), np.array([along[1], -along[0]])]
        for way in ways if share == 1.0 else ways[1:]:
            spot = part.path[index] + way * 4.2
            clear = float(others.distance(shapely.Point(spot)))
            if balls is not None:
                clear = min(clear, float(balls.distance(shapely.Point(spot))) - 2.4)
            if clear > clearest + 0.3:
                best, clearest = spot, clear
    return best
