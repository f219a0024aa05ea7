"""The placing template: the motif from behind at true size, every part to add in its place."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.ops import substring

from trace2pop.limits import FORK_OVERLAP
from trace2pop.model.card import HandPart
from trace2pop.model.guide import Figure
from trace2pop.model.outline import FloatArray
from trace2pop.stages.guide import islands
from trace2pop.stages.guide.card import TheCard
from trace2pop.stages.guide.facts import runs
from trace2pop.stages.guide.sketch import Sketch

PAGES = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
MARGIN = 8.0
HEAD = 30.0
"""Room on a template's page for its heading, words and ruler."""

_PAD = 6.0
_ENLARGED, _AROUND = 2.0, 8.0
_HIDDEN = 3.0
"""mm of outline along a glued end from which it is shown enlarged."""
_MIRROR = np.array([[-1.0, 0, 0], [0, 1, 0]])


@dataclass(frozen=True)
class _Cut:
    """A window of the motif, in card coordinates, that goes onto one page."""

    name: str
    box: tuple[float, float, float, float]


def templates(card: TheCard, paper: str) -> tuple[Figure, ...]:
    """Return the pages' drawings: whole where it fits, else in halves, else part by part."""
    if not card.hand and not card.cut.islands:
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
    for island in card.cut.islands:
        a, b, c, d = islands.film(island).bounds
        box = (a - 15, b - 15, c + 15, d + 15)
        yield _Cut(say("template.around_piece", piece=islands.name(card, island)), box)


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
        _part(sketch, part)
    taken: list[FloatArray] = []
    for part in shown:
        for run in runs(part):
            place = _clear_spot(card, run.line, taken)
            taken.append(place)
            sketch.box(run.name, place)
    loose = [one for one in card.cut.islands if window.intersects(islands.film(one))]
    for island in loose:
        islands.draw(sketch, card, island)
    names = [*(str(part.id) for part in shown), *(islands.name(card, one) for one in loose)]
    ids = say.listed(names)
    return sketch.figure(say("template.alt", parts=ids), cut.name, true_size=True)


def _part(sketch: Sketch, part: HandPart) -> None:
    """Draw a part: hollow what stays in sight, black what is glued."""
    width = max(part.diameter, 0.3) * sketch.scale
    for line in (part.path, *part.branches):
        sketch.hollow(line, width=width)
    if len(part.overlap) > 1:
        sketch.line(part.overlap, "overlap", width=min(width, 0.8))
    for branch in part.branches:
        sketch.line(alongside(part, branch), "overlap", width=min(width, 0.8))


def alongside(part: HandPart, branch: FloatArray) -> FloatArray:
    """Return where a branch is glued: beside the main line, from the fork towards the join."""
    main = shapely.LineString(part.path)
    fork = float(main.project(shapely.Point(branch[0])))
    near = max(0.0, fork - FORK_OVERLAP.value)
    run = shapely.get_coordinates(substring(main, near, fork))
    if len(run) < 2:
        run = np.array([branch[0], branch[0] + [0.0, 0.1]])
    along = run[-1] - run[0]
    across = np.array([-along[1], along[0]]) / max(float(np.linalg.norm(along)), 1e-9)
    side = np.sign(float((branch[-1] - run[-1]) @ across)) or 1.0
    beside: FloatArray = run + side * across * max(part.diameter, 0.8) * 1.1
    return beside


def details(card: TheCard, most: int = 4) -> list[Figure]:
    """Return parts whose glued end hides the motif's outline, and one fork, enlarged."""
    hidden = [part for part in card.hand if _hides(card, part)]
    forked = [part for part in card.hand if part.branches][:1]
    found = [_enlarged(card, part, np.asarray(part.join)) for part in hidden[: most - len(forked)]]
    return [*found, *(_enlarged(card, part, part.branches[0][0]) for part in forked)]


def _hides(card: TheCard, part: HandPart) -> bool:
    """Whether the outline runs close along a part's glued end."""
    if len(part.overlap) < 2:
        return False
    band = shapely.LineString(part.overlap).buffer(max(part.diameter, 0.8), cap_style="flat")
    return float(card.motif.boundary.intersection(band).length) > _HIDDEN


def _enlarged(card: TheCard, part: HandPart, middle: FloatArray) -> Figure:
    sketch, say = Sketch(_ENLARGED), card.say
    sketch.frame(_MIRROR)
    window = shapely.Point(middle).buffer(_AROUND, cap_style="square")
    sketch.shape(window, "paper")
    sketch.shape(card.motif.intersection(window), "motif-back")
    kept = [part.path, *part.branches]
    for line in kept:
        for run in shapely.get_parts(shapely.LineString(line).intersection(window)):
            if run.length > 0:
                sketch.hollow(shapely.get_coordinates(run), width=1.6)
    glued = [part.overlap, *(alongside(part, branch) for branch in part.branches)]
    for line in glued:
        for run in shapely.get_parts(shapely.LineString(line).intersection(window)):
            if run.length > 0:
                sketch.line(shapely.get_coordinates(run), "overlap", width=0.8)
    lines = shapely.union_all([shapely.LineString(line) for line in [*kept, *glued]])
    for run in runs(part) if part.branches else ():
        spot = _beside(run.line, middle, lines)
        sketch.box(run.name, spot)
        lines = shapely.union(lines, shapely.Point(spot).buffer(2.0))
    names = [run.name for run in runs(part)]
    caption = say("hand.detail", part=say.listed(names), times=say.number(_ENLARGED))
    return sketch.figure(say("hand.detail_alt", part=str(part.id)), caption)


def _beside(line: FloatArray, middle: FloatArray, lines: shapely.Geometry) -> FloatArray:
    """Return the place for a line's name, a little way from a fork and clear of all lines."""
    whole = shapely.LineString(line)
    fork = float(whole.project(shapely.Point(middle)))
    place = whole.interpolate(min(fork + 6.0, float(whole.length)))
    turns = np.radians(np.arange(0, 360, 15))
    spots = np.array([place.x, place.y]) + 2.4 * np.column_stack([np.cos(turns), np.sin(turns)])
    clear = [float(lines.distance(shapely.Point(spot))) for spot in spots]
    best: FloatArray = spots[int(np.argmax(clear))]
    return best


def _clear_spot(card: TheCard, path: FloatArray, taken: list[FloatArray]) -> FloatArray:
    """Return a place for a name beside its middle line, on nothing else."""
    others = shapely.union_all([card.motif, *(_around(one) for one in card.hand)])
    balls = shapely.union_all([shapely.Point(spot) for spot in taken]) if taken else None
    best: FloatArray = path[len(path) // 2]
    clearest = -np.inf
    for share in (1.0, 0.9, 0.75, 0.6, 0.5):
        index = min(len(path) - 1, round(share * (len(path) - 1)))
        near = path[max(0, index - 3)]
        along = path[index] - near
        along = along / max(float(np.linalg.norm(along)), 1e-9)
        ways = [along, np.array([-along[1], along[0]]), np.array([along[1], -along[0]])]
        for way in ways if share == 1.0 else ways[1:]:
            spot = path[index] + way * 4.2
            clear = float(others.distance(shapely.Point(spot)))
            if balls is not None:
                clear = min(clear, float(balls.distance(shapely.Point(spot))) - 2.6)
            if clear > clearest + 0.3:
                best, clearest = spot, clear
    return best
