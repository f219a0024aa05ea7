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
    an end or a corner. The dashes are stretched a little to come out even.
    """
    start, end = stroke.line[0, 0], stroke.line[-1, 3]
    whole = float(np.linalg.norm(end - start))
    along = (end - start) / whole
    first = max(0.0, settings.dash_edge - limits.SCORE_EDGE.value)
    run = whole - 2 * first
    if run <= 0:
        return
    count = max(1, round((run + settings.tie) / (settings.dash + settings.tie)))
    dash = (run - (count - 1) * settings.tie) / count
    for number in range(count):
        at = start + along * (first + number * (dash + settings.tie))
        line = beziers.straight([at, at + along * dash], closed=False)
        yield replace(stroke, id=f"{stroke.id}.{number + 1}", line=line, dash=True)
