"""A pen line that runs round the motif without closing: the true motif, most likely."""

from dataclasses import dataclass

import cv2
import numpy as np

from trace2pop.stages.trace.ink import Mask
from trace2pop.stages.trace.locate import Page
from trace2pop.stages.trace.pens import drawn_over, links_over
from trace2pop.stages.trace.regions import filled
from trace2pop.stages.trace.things import Thing

_WITHIN = 0.95
"""Share of the motif that lies within what the line goes round."""

_BARE = 0.5
"""A line that is open covers at most this share of what it goes round."""

_GAPS_MM = (3.0, 4.0, 5.0, 7.0, 10.0)


@dataclass(frozen=True)
class OpenLine:
    """A thing's ``number`` on the page, and the widest gap in mm it has; None where not found."""

    number: int
    gap_mm: float | None


def open_line_round(page: Page, taken: list[Thing]) -> OpenLine | None:
    """Return the open pen line round what was taken, if there is one."""
    motif = np.logical_or.reduce([thing.mask for thing in taken])
    for number, thing in enumerate(page.things, start=1):
        if thing.cut_off or any(thing is one for one in taken) or not _encloses(thing, motif):
            continue
        return OpenLine(number, _gap_of(page, thing, motif))
    return None


def _encloses(thing: Thing, motif: Mask) -> bool:
    hull = _hull(thing)
    if (hull & motif).sum() < _WITHIN * motif.sum():
        return False
    return bool(thing.area < _BARE * hull.sum())


def _hull(thing: Thing) -> Mask:
    ys, xs = np.nonzero(thing.mask)
    points = cv2.convexHull(np.column_stack([xs, ys]).astype(np.int32))
    drawn = np.zeros(thing.mask.shape, np.uint8)
    cv2.fillConvexPoly(drawn, points, 1)
    result: Mask = drawn > 0
    return result


def _gap_of(page: Page, thing: Thing, motif: Mask) -> float | None:
    """Return the widest gap that has to be linked before the line encloses the motif."""
    ink = page.ink.mask & thing.mask
    for wide in _GAPS_MM:
        links = links_over(ink, wide, page.px_per_mm)
        inside = filled(drawn_over(ink, links, page.px_per_mm, (0, 0)))
        if (inside & motif).sum() >= _WITHIN * motif.sum():
            return max(link.gap for link in links)
    return None
