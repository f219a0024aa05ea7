"""The line types of the guide's drawings, each with its meaning."""

import shapely

from trace2pop.model.guide import Figure, Ink
from trace2pop.stages.guide.phrases import Phrases
from trace2pop.stages.guide.sketch import Sketch

_LINES: tuple[tuple[str, Ink], ...] = (
    ("cut", "cut"),
    ("slit", "slit"),
    ("valley", "valley"),
    ("mountain", "mountain"),
    ("glue", "glue"),
    ("hidden", "hidden"),
    ("hand", "hand"),
)
_ROW, _RUN, _COLUMN = 6.0, 16.0, 88.0


def legend(say: Phrases) -> Figure:
    """Return a sample of every line type with its words, in two columns."""
    sketch = Sketch()
    rows = (len(_LINES) + 2) // 2
    for index, (name, ink) in enumerate((*_LINES, ("ball", "ball"))):
        column, row = divmod(index, rows)
        x, y = column * _COLUMN, row * _ROW
        if name == "ball":
            sketch.ball("1", (x + _RUN / 2, y))
        elif name == "glue":
            sketch.glue(shapely.box(x, y - 1.6, x + _RUN, y + 1.6))
        else:
            sketch.line([(x, y), (x + _RUN, y)], ink)
        sketch.word(say(f"legend.{name}"), (x + _RUN + 3, y + 1.1), anchor="start", size=3.3)
    return sketch.figure(say("legend.alt"))
