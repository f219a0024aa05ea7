"""How much a drawing may hold: counted before anything is worked out, so that no file takes long.

Each bound is far above what a motif needs and far below what would fill the memory.
"""

import re
from collections.abc import Sequence
from xml.etree import ElementTree

import numpy as np
import shapely

from trace2pop.errors import PictureError
from trace2pop.geometry import beziers
from trace2pop.model.outline import Contour
from trace2pop.stages.capture.svg_tree import local

MOST_SHAPES = 50_000
"""Elements drawn, each use counted: what nested uses multiply to ends here."""

DEEPEST = 100
MOST_SEGMENTS = 100_000
_MOST_POINTS = 2_000_000
_MOST_STEPS = 400_000
"""Steps along lines that are painted with a width."""

_MOST_CROSSINGS = 100_000
_SAMPLE = 1000
_MOST_RULES = 5_000_000
"""Style rules looked at, over all elements."""

_COMMAND = re.compile(r"([MmZzLlHhVvCcSsQqTtAa])([^MmZzLlHhVvCcSsQqTtAa]*)")
_NUMBER = re.compile(r"\d+\.?\d*|\.\d+")
_TAKES = {"m": 2, "l": 2, "h": 1, "v": 1, "c": 6, "s": 4, "q": 4, "t": 2, "a": 7}
_SIMPLER = "simplify the drawing, or save it as PNG"


class Tally:
    """What one pass through the drawing ``name`` has met so far."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._shapes = self._segments = self._rules = self._steps = 0

    def element(self, depth: int) -> None:
        """Count an element that is drawn.

        Raises:
            PictureError: as all of these do, where it is one too many or nested too deep.
        """
        self._shapes += 1
        if self._shapes > MOST_SHAPES or depth > DEEPEST:
            raise self._too_much(f"draws more than {MOST_SHAPES} things or nests them too deep")

    def outline(self, element: ElementTree.Element) -> None:
        """Count the segments of a path or polygon, from its text."""
        data = element.get("d") if local(element) == "path" else element.get("points")
        self._segments += segment_count(data or "")
        if self._segments > MOST_SEGMENTS:
            raise self._too_much(f"has outlines of more than {MOST_SEGMENTS} segments")

    def rules(self, count: int) -> None:
        """Count style rules that are looked at for an element."""
        self._rules += count
        if self._rules > _MOST_RULES:
            raise self._too_much("has too many style rules for its shapes")

    def line(self, steps: int) -> None:
        """Count the steps in which a line's sides are followed."""
        self._steps += steps
        if self._steps > _MOST_STEPS:
            raise self._too_much("draws lines too long or too tangled to be followed")

    def crossings(self, chains: Sequence[Contour]) -> None:
        """Refuse chains that cross themselves and each other too often to be united."""
        points = sum(len(beziers.sampling(chain)[0]) for chain in chains)
        if points > _MOST_POINTS:
            raise self._too_much(f"has outlines of more than {_MOST_POINTS} points")
        if _crossings([beziers.flatten(chain) for chain in chains]) > _MOST_CROSSINGS:
            raise self._too_much("has lines that cross each other too often")

    def _too_much(self, what: str) -> PictureError:
        return PictureError(f"{self._name} {what}", _SIMPLER)


def segment_count(data: str) -> int:
    """Return how many segments path data or a list of points draws, from its letters and numbers.

    Path data: SVG 2 (W3C), section 9.3; a letter may stand for several segments.
    """
    if not _COMMAND.match(data.lstrip()):
        return sum(1 for _ in _NUMBER.finditer(data)) // 2
    return sum(
        max(1, sum(1 for _ in _NUMBER.finditer(numbers)) // _TAKES.get(letter.lower(), 1))
        for letter, numbers in _COMMAND.findall(data)
    )


def _crossings(lines: Sequence[np.ndarray]) -> float:
    """Return about how many pairs of steps of ``lines`` meet beyond those that follow each other.

    Counted for steps spread evenly over all of them and carried over to the rest.
    """
    steps = [np.stack([line[:-1], line[1:]], axis=1) for line in lines if len(line) > 1]
    if not steps:
        return 0.0
    pairs = shapely.linestrings(np.concatenate(steps))
    asked = pairs[:: max(1, len(pairs) // _SAMPLE)]
    tree = shapely.STRtree(pairs)
    met = 0
    for first in range(0, len(asked), 50):  # a few at a time: what they meet is bounded too
        met += tree.query(asked[first : first + 50], "intersects").shape[1]
        if met * len(pairs) / len(asked) > 20 * _MOST_CROSSINGS + 6 * len(pairs):
            break
    return (met - 3 * len(asked)) * len(pairs) / len(asked) / 2
