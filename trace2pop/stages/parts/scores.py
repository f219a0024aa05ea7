"""How folds are marked: with a scoring tool, by a dashed cut, or in pencil only.

A blade's half-cut is not offered: it belongs on a fold's convex side, and a beam has folds of both
senses, worked from one face.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from trace2pop import limits
from trace2pop.geometry import beziers
from trace2pop.model.pieces import Part, Stroke
from trace2pop.model.settings import PieceSettings

_SHORT = 0.3
"""Length of a mountain's short dashes, as a share of the long ones."""


def with_scores(part: Part, settings: PieceSettings) -> Part:
    """Return the piece with its folds marked as the maker chose."""
    if settings.scores == "tool":
        return part
    strokes: list[Stroke] = []
    for stroke in part.strokes:
        if stroke.op != "score":
            strokes.append(stroke)
        elif settings.scores == "pencil":
            strokes.append(replace(stroke, op="note"))
        else:
            strokes += _dashes(stroke, settings)
    return replace(part, strokes=tuple(strokes))


def _dashes(stroke: Stroke, settings: PieceSettings) -> Iterator[Stroke]:
    """Yield the dashes of a straight fold.

    Whole paper stays at both ends, then the run begins and ends with a dash, so that no tie lies at
    an end or a corner. The dashes are stretched a little to come out even. A mountain has a short
    dash between two long ones, as its drawn line has, so that the sense shows on the cut paper.
    """
    start, end = stroke.line[0, 0], stroke.line[-1, 3]
    whole = float(np.linalg.norm(end - start))
    along = (end - start) / whole
    first = max(0.0, settings.dash_edge - limits.SCORE_EDGE.value)
    # A run too short for that still gets one dash: unmarked it wouldn't fold there.
    first = min(first, max(0.0, (whole - settings.dash) / 2))
    run = whole - 2 * first
    tie = settings.tie
    short = settings.dash * _SHORT if stroke.fold == "mountain" else 0.0
    between = tie + short + tie if short else tie
    count = max(1, round((run + between) / (settings.dash + between)))
    dash = (run - (count - 1) * between) / count
    cuts = [(number * (dash + between), dash) for number in range(count)]
    if short:
        cuts += [(at + dash + tie, short) for at, _ in cuts[:-1]]
    for number, (at, length) in enumerate(sorted(cuts), start=1):
        begin = start + along * (first + at)
        line = beziers.straight([begin, begin + along * length], closed=False)
        yield replace(stroke, id=f"{stroke.id}.{number}", line=line, dash=True)
