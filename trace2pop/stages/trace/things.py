"""The separate things on a page, numbered, and which of them are the motif."""

from dataclasses import dataclass

import cv2
import numpy as np

from trace2pop.errors import TraceError
from trace2pop.stages.trace.ink import Mask

_SPECK_SHARE = 0.002
_LONG_SHARE = 0.05
"""What is longer than this share of the largest thing is no speck: a plume, a feeler."""

_LEAST_SHARE = 0.0005
"""Of the picture: what is smaller is no motif."""

_MOST = 40


@dataclass(frozen=True, eq=False)
class Thing:
    """One thing on the page: its ``mask`` (rows, cols), ``area`` in px and box (x, y, w, h).

    ``cut_off`` tells that it runs into the picture's edge: the table beyond the page, a hand, or a
    motif that isn't all there. ``sides`` counts the edges it touches.
    """

    mask: Mask
    area: int
    box: tuple[int, int, int, int]
    sides: int

    @property
    def cut_off(self) -> bool:
        """Whether the picture's edge cuts it off."""
        return self.sides > 0


def things_on(mask: Mask, rim: int = 0) -> list[Thing]:
    """Return the separate things on the page, largest first, specks left out.

    What comes within ``rim`` px of the picture's edge counts as cut off by it.
    """
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    rows, cols = mask.shape
    order = 1 + np.argsort(-stats[1:, cv2.CC_STAT_AREA], kind="stable")[:_MOST]
    things: list[Thing] = []
    for number in order:
        x, y, width, height, area = (int(value) for value in stats[number])
        long = bool(things) and max(width, height) > _LONG_SHARE * max(things[0].box[2:])
        if things and area < _SPECK_SHARE * things[0].area and not long:
            continue
        edge = rim + 1
        far = (x + width >= cols - edge) + (y + height >= rows - edge)
        sides = (x <= edge) + (y <= edge) + far
        if area > _LEAST_SHARE * mask.size or long:
            things.append(Thing(labels == number, area, (x, y, width, height), sides))
    return things


def numbered(things: list[Thing]) -> list[Thing]:
    """Return things as they are numbered for the maker: whole ones first, largest first."""
    return sorted(things, key=lambda thing: thing.cut_off)


def chosen(things: list[Thing], take: str) -> list[Thing]:
    """Return the things that are the motif: those named by ``take``, else the largest whole one.

    ``things`` is as ``numbered`` returns it.

    Raises:
        TraceError: where there is none, or none of that number.
    """
    if not things:
        raise TraceError(
            "no motif was found: the picture is blank, or the motif as pale as its paper",
            "give a picture of a drawing that is clearly darker or more colourful than its paper",
        )
    if take.strip():
        return _taken(things, take)
    if things[0].cut_off:
        raise TraceError(
            "everything drawn touches the edge of the picture, or a shadow over it does",
            "trace2pop trace shows what was seen (trace.png); take the picture with bare paper all "
            "round the motif and no shadow across it, or say --take 1: it is then closed by a "
            "straight line where the picture ends",
        )
    return things[:1]


def _taken(things: list[Thing], take: str) -> list[Thing]:
    try:
        numbers = sorted({int(word) for word in take.split(",")})
        found = [things[number - 1] for number in numbers if number >= 1]
    except (ValueError, IndexError):
        found = []
    if not found:
        raise TraceError(
            f"--take {take}: on the page {_counted(len(things))}",
            "trace2pop trace shows them numbered (trace.png); the largest whole one is 1",
        )
    return found


def _counted(many: int) -> str:
    return "is one thing" if many == 1 else f"are {many} things"


def together(things: list[Thing]) -> Thing:
    """Return several things as one."""
    if len(things) == 1:
        return things[0]
    mask = np.logical_or.reduce([thing.mask for thing in things])
    ys, xs = np.nonzero(mask)
    box = (int(xs.min()), int(ys.min()), int(np.ptp(xs)) + 1, int(np.ptp(ys)) + 1)
    return Thing(mask, int(mask.sum()), box, max(thing.sides for thing in things))
