"""The order of cutting: piece by piece, scores before inner cuts before the outline, short ways.

Pieces, and the strokes of one kind in a piece, are ordered by the nearest next one and improved by
2-opt (Croes, "A Method for Solving Traveling-Salesman Problems", Operations Research 6, 1958);
where each stroke begins is then chosen for the whole sheet at once, by dynamic programming.
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

_MOST_STARTS = 32
_PASSES = 20


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
    runs = _runs(sheet, parts)
    outlines = [next(run for run in piece if run.stroke.id == "outline") for piece in runs]
    middles = np.array([run.entry.mean(axis=0) for run in outlines])
    order = _short_order(middles, middles, np.zeros(2))
    sequence: list[Run] = []
    here = np.zeros(2)
    for number, index in enumerate(order):
        for rank in range(3):
            block = [run for run in runs[index] if _rank(run.stroke) == rank]
            sequence += _block([replace(run, placement=number) for run in block], here)
            if block:
                here = sequence[-1].exit[0]
    chosen, travel = _choose(sequence)
    steps = tuple(
        Step(run.placement, run.stroke.id, run.starts[pick], not run.stroke.closed and pick == 1)
        for run, pick in zip(sequence, chosen, strict=True)
    )
    placements = tuple(sheet.placements[index] for index in order)
    return replace(sheet, placements=placements, steps=steps, work=_work(sequence, travel, speed))


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


def _block(runs: list[Run], here: FloatArray) -> list[Run]:
    """Return runs of one kind and piece in a short order from ``here``."""
    if len(runs) < 2:
        return runs
    near = [run.entry if run.stroke.closed else run.entry[:1] for run in runs]
    first = np.array([points.mean(axis=0) for points in near])
    far = [run.exit if run.stroke.closed else run.exit[:1] for run in runs]
    last = np.array([points.mean(axis=0) for points in far])
    return [runs[index] for index in _short_order(first, last, here)]


def _short_order(first: FloatArray, last: FloatArray, here: FloatArray) -> list[int]:
    """Return a short order of lines from ``first`` to ``last`` (n, 2).

    The way begins at ``here`` and may end anywhere; lines may be run either way.
    """
    ends = np.stack([first, last], axis=1)
    path: list[tuple[int, int]] = []
    left, place = list(range(len(first))), here
    while left:
        gaps = np.linalg.norm(ends[left] - place, axis=2)
        pick, end = divmod(int(gaps.argmin()), 2)
        path.append((left.pop(pick), end))
        place = ends[path[-1][0], 1 - end]
    for _ in range(_PASSES):
        if not _two_opt(path, ends, here):
            break
    return [index for index, _ in path]


def _two_opt(path: list[tuple[int, int]], ends: FloatArray, here: FloatArray) -> bool:
    """Turn round stretches of ``path`` where that shortens it; say whether any was."""
    better = False
    for i in range(len(path)):
        before = ends[path[i - 1][0], 1 - path[i - 1][1]] if i else here
        for j in range(i, len(path)):
            into, out = ends[path[i]], ends[path[j][0], 1 - path[j][1]]
            gain = np.linalg.norm(before - into) - np.linalg.norm(before - out)
            if j + 1 < len(path):
                after = ends[path[j + 1]]
                gain += np.linalg.norm(out - after) - np.linalg.norm(into - after)
            if gain > 1e-9:
                path[i : j + 1] = [(index, 1 - end) for index, end in reversed(path[i : j + 1])]
                better = True
    return better


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
