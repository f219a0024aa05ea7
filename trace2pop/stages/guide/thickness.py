"""How thick the closed card is, place by place, as a drawing with its key."""

import numpy as np
import shapely

from trace2pop.model.guide import Figure, Ink
from trace2pop.stages.guide.card import TheCard
from trace2pop.stages.guide.sketch import Sketch

_INKS: tuple[Ink, ...] = ("stack-1", "stack-2", "stack-3", "stack-4", "stack-5")
_ROW = 5.0
_KEY = (len(_INKS) + 1) * _ROW
"""mm of the page at the drawing's foot that its key takes."""


def map_of(card: TheCard, width: float) -> Figure | None:
    """Return the map of the closed card in five classes, its thickest place named."""
    closed, size, say = card.sheets.parts.plan.closed, card.card, card.say
    if not closed.areas:
        return None
    scale = (width - 26.0) / size.outer.width
    sketch = Sketch(scale)
    low = min(area.thickness for area in closed.areas)
    edges = np.linspace(low, closed.thickness, len(_INKS) + 1)
    kinds = [int(np.clip(np.searchsorted(edges, a.thickness), 1, 5)) - 1 for a in closed.areas]
    for number, ink in enumerate(_INKS):
        same = [
            shapely.Polygon(area.outer, area.holes)
            for area, kind in zip(closed.areas, kinds, strict=True)
            if kind == number
        ]
        # Areas that only touch at a corner become one as well.
        whole = shapely.union_all(same).buffer(0.01, join_style="mitre")
        sketch.shape(whole.simplify(0.1), ink)
    top = -size.border
    sketch.shape(shapely.box(0, top, size.outer.width, top + size.outer.height).exterior, "cut")
    _key(sketch, card, edges)
    word = say("check.thickest", thickness=say.mm(closed.thickness))
    across = (size.outer.width - closed.at[0]) * scale + 4.0
    above_key = (size.outer.height - size.border) * scale - _KEY
    sketch.pointer(word, closed.at, (across, min(0.0, above_key - closed.at[1] * scale)))
    return sketch.figure(say("check.stack_alt"), say("check.stack"))


def _key(sketch: Sketch, card: TheCard, edges: np.ndarray) -> None:
    size, say, k = card.card, card.say, sketch.scale
    x, foot = size.outer.width + 4.0 / k, size.outer.height - size.border
    for number, ink in enumerate(_INKS):
        y = foot - (number + 1) * _ROW / k
        sketch.shape(shapely.box(x, y, x + 6.0 / k, y + 4.0 / k), ink)
        text = f"{say.number(float(edges[number]))}\N{EN DASH}{say.mm(float(edges[number + 1]))}"
        sketch.word(text, (x + 6.0 / k, y + 4.0 / k), off=(1.5, -0.9), anchor="start")
