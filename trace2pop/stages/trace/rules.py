"""Ruled and squared paper: its printed lines told from what is drawn on it."""

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from trace2pop.stages.trace.ink import Ink

_SPAN_MM = 12.0
"""A straight run at least this long may be a rule."""

_THICK_MM = 0.9
_ACROSS = 0.6
"""Share of the picture a rule crosses."""

_LEAST = 3
_INKED = 1.6
"""What differs from paper this much more than the rules do is drawn over them."""


def without_rules(ink: Ink, px_per_mm: float) -> Ink:
    """Return the ink without long thin parallel lines that cross the page."""
    rules = np.zeros(ink.mask.shape, bool)
    solid = ink.mask.astype(np.uint8)
    for horizontal in (True, False):
        found = _rules(solid if horizontal else np.ascontiguousarray(solid.T), px_per_mm)
        rules |= found if horizontal else found.T
    if not rules.any():
        return ink
    usual = float(np.median(ink.difference[rules]))
    wide = cv2.dilate(rules.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    mask = ink.mask & ~(wide & (ink.difference < _INKED * usual))
    return replace(ink, mask=mask)


def _rules(solid: NDArray[np.uint8], px_per_mm: float) -> NDArray[np.bool_]:
    """Return the pixels of level rules: straight, thin, across most of the page, at least three."""
    nothing = np.zeros(solid.shape, bool)
    thick = max(2, round(_THICK_MM * px_per_mm))
    wide = cv2.morphologyEx(solid, cv2.MORPH_OPEN, np.ones((thick + 1, 1), np.uint8))
    thin = ((solid > 0) & (wide == 0)).astype(np.uint8)
    run = np.ones((1, max(5, round(_SPAN_MM * px_per_mm / 4))), np.uint8)
    runs = cv2.morphologyEx(thin, cv2.MORPH_OPEN, run)
    # A rule hidden behind the drawing, or a little tilted, comes in several runs.
    joined = cv2.morphologyEx(runs, cv2.MORPH_CLOSE, np.ones((3, 9), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
    if count <= _LEAST:
        return nothing
    long = stats[:, cv2.CC_STAT_WIDTH] > 2 * stats[:, cv2.CC_STAT_HEIGHT] + run.shape[1]
    long[0] = False
    covered: dict[int, int] = {}
    for number in np.flatnonzero(long):
        row = round((stats[number, cv2.CC_STAT_TOP] + stats[number, cv2.CC_STAT_HEIGHT] / 2)
                    / (1.5 * thick))  # fmt: skip
        covered[row] = covered.get(row, 0) + int(stats[number, cv2.CC_STAT_WIDTH])
    full = [row for row, width in covered.items() if width > _ACROSS * solid.shape[1]]
    if len(full) < _LEAST:
        return nothing
    result: NDArray[np.bool_] = long[labels] & (runs > 0)
    return result
