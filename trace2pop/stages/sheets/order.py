"""The order of cutting: piece by piece, scores before inner cuts before the outline, short ways.

Pieces, and the strokes of one kind in a piece, are put in a short order; where each stroke begins
is then chosen for the whole sheet at once, by dynamic programming.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from trace2pop import limits
from trace2pop.geometry import beziers, chains
from trace2pop.mechanism.sheet import to_sheet
from trace2pop.model.outline import Contour, FloatArray
from trace2pop.model.pieces import Part, Sheet, Step, Stroke, Work
from trace2pop.stages.sheets.tour import line_order, piece_order

_MOST_STARTS = 32


@dataclass(frozen=True, eq=False)
class Run:
    """A stroke on the sheet: where the tool may begin (n, 2), and where it then ends (n, 2)."""

    placement: int
    stroke: Stroke
    line: Contour
    starts: tuple[float, ...]
    entry: FloatArray
    exit: FloatArray


def ordered(sheet: Sheet, parts: dict[str, Part], speed: float) -> Sheet:
    """Return the sheet with its placements in cutting order, every step, and what they take."""
    pieces = _runs(sheet, parts)
    order = _pieces_in_order(pieces)
    sequence: list[Run] = []
    here = np.zeros(2)
    for number, index in enumerate(order):
        following = pieces[order[number + 1]] if number + 1 < len(order) else []
        for rank in range(3):
            block = [run for run in pieces[index] if _rank(run.stroke) == rank]
            ahead = _first_entries(
                [r for r in pieces[index] if _rank(r.stroke) > rank] or following
            )
            ends = np.array([_ends(run) for run in block]).reshape(-1, 2, 2)
            chosen = line_order(ends, here, ahead)
            sequence += [replace(block[n], placement=number) for n in chosen]
            if block:
                here = sequence[-1].exit[0]
    chosen, travel = _choose(sequence)
    steps = tuple(
        Step(run.placement, run.stroke.id, run.starts[pick], not run.stroke.closed and pick == 1)
        for run, pick in zip(sequence, chosen, strict=True)
    )
    placements = tuple(sheet.placements[index] for index in order)
    return replace(sheet, placements=placements, steps=steps, work=_work(sequence, travel, speed))


def _pieces_in_order(pieces: list[list[Run]]) -> list[int]:
    """Return a short order: a piece is left on its outline, entered at what comes first in it."""
    entries = [_first_entries(runs) for runs in pieces]
    leave = [next(run.exit for run in runs if _rank(run.stroke) == 2) for runs in pieces]
    between = np.array([[_gap(way_out, way_in) for way_in in entries] for way_out in leave])
    start = np.array([_gap(np.zeros((1, 2)), way_in) for way_in in entries])
    return piece_order(between, start)


def _first_entries(runs: Sequence[Run]) -> FloatArray:
    """Return where the tool may come down on the runs of the lowest rank."""
    lowest = min((_rank(run.stroke) for run in runs), default=0)
    points = [run.entry for run in runs if _rank(run.stroke) == lowest]
    return np.concatenate(points) if points else np.empty((0, 2))


def _gap(first: FloatArray, second: FloatArray) -> float:
    return float(np.linalg.norm(first[:, None] - second[None], axis=2).min())


def _ends(run: Run) -> FloatArray:
    """Return a run's two ends; for a closed one its middle, twice."""
    if not run.stroke.closed:
        return run.entry
    middle = run.entry.mean(axis=0)
    return np.stack([middle, middle])


def _rank(stroke: Stroke) -> int:
    return 0 if stroke.op == "score" else 1 if stroke.inner else 2


def _runs(sheet: Sheet, parts: dict[str, Part]) -> list[list[Run]]:
    """Return the runs of each placement, in the sheet's coordinates."""
    found = []
    for index, item in enumerate(sheet.placements):
        part = parts[item.part]
        matrix = to_sheet(part, item)
        strokes = [stroke for stroke in part.strokes if stroke.op in ("score", "cut")]
        found.append(
            [_run(index, stroke, beziers.transform(stroke.line, matrix)) for stroke in strokes]
        )
    return found


def _run(placement: int, stroke: Stroke, line: Contour) -> Run:
    ends = np.array([line[0, 0], line[-1, 3]])
    if not stroke.closed:
        return Run(placement, stroke, line, (0.0, 0.0), ends, ends[::-1])
    where = chains.starts(line)
    where = where[:: max(1, -(-len(where) // _MOST_STARTS))]
    index = np.array([int(start) for start in where])
    points = beziers.evaluate(line[index], np.array(where) - index)
    return Run(placement, stroke, line, tuple(where), points, points)


def _choose(sequence: Sequence[Run]) -> tuple[list[int], float]:
    """Return where each run begins, so that the way between them all is shortest; and that way."""
    here = np.zeros((1, 2))
    cost = np.zeros(1)
    back: list[NDArray[np.intp]] = []
    for run in sequence:
        ways = cost[:, None] + np.linalg.norm(here[:, None] - run.entry[None], axis=2)
        back.append(ways.argmin(axis=0))
        cost, here = ways.min(axis=0), run.exit
    if not sequence:
        return [], 0.0
    pick = int(cost.argmin())
    picks = [pick]
    for links in back[:0:-1]:
        pick = int(links[pick])
        picks.append(pick)
    return picks[::-1], float(cost.min())


def _work(sequence: Sequence[Run], travel: float, speed: float) -> Work:
    cut = sum(chains.length(run.line) for run in sequence if run.stroke.op == "cut")
    score = sum(chains.length(run.line) for run in sequence if run.stroke.op == "score")
    lifts = len(sequence)
    seconds = (cut + score) / speed
    seconds += travel / limits.TRAVEL_SPEED.value + lifts * limits.LIFT_TIME.value
    return Work(cut, score, travel, lifts, seconds)
