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
    ("hidden", "hidden"),
    ("hole", "hole"),
    ("pinhole", "pinhole"),
    ("ball", "ball"),
    ("glue", "glue"),
    ("bare", "end-glue"),
    ("liner", "end-liner"),
    ("face", "back"),
    ("hand", "hand"),
    ("glued", "overlap"),
    ("box", "box"),
    ("tag", "tag"),
)
_ROW, _RUN, _COLUMN = 6.0, 16.0, 88.0


def legend(say: Phrases) -> Figure:
    """Return a sample of every line type with its words, in two columns."""
    sketch = Sketch()
    rows = (len(_LINES) + 1) // 2
    for index, (name, ink) in enumerate(_LINES):
        column, row = divmod(index, rows)
        x, y = column * _COLUMN, row * _ROW
        _sample(sketch, name, ink, (x, y))
        sketch.word(say(f"legend.{name}"), (x + _RUN + 3, y + 1.1), anchor="start", size=3.3)
    return sketch.figure(say("legend.alt"))


def _sample(sketch: Sketch, name: str, ink: Ink, at: tuple[float, float]) -> None:
    x, y = at
    middle = (x + _RUN / 2, y)
    ends = [(x, y), (x + _RUN, y)]
    match name:
        case "ball":
            sketch.ball("1", middle)
        case "box":
            sketch.box("1", middle)
        case "tag":
            sketch.tag("A", middle)
        case "hole" | "pinhole":
            sketch.dot(middle, 0.8 if name == "hole" else 0.4, ink)
        case "glue":
            sketch.glue(shapely.box(x, y - 1.6, x + _RUN, y + 1.6))
        case "face":
            half = shapely.box(x, y - 1.6, x + _RUN / 2, y + 1.6)
            sketch.shape(half, "beam")
            sketch.shape(shapely.box(x + _RUN / 2, y - 1.6, x + _RUN, y + 1.6), "back")
        case "bare" | "liner":
            sketch.strip([(x + 3, y), (x + _RUN - 3, y)], ink, off=(0.0, 0.01), thick=1.0)
        case "slit":
            sketch.slit(ends)
        case "hand":
            sketch.hollow(ends, width=1.1)
        case _:
            sketch.line(ends, ink)
