"""From what is drawn to the motif: its kind and its closed silhouette."""

import cv2
import numpy as np

from trace2pop.model.artwork import Kind
from trace2pop.stages.trace.ink import Mask
from trace2pop.stages.trace.light import Plane

_LINE_SHARE = 0.6
_LINE_STROKE = 0.035
"""Strokes thinner than this share of the drawing's longer side make a line drawing."""

_COLOUR_CHROMA = 12.0
_COLOUR_SHARE = 0.25
_OTHER_INK = 20.0
"""Colour difference (CIE Lab) of what isn't the same ink, only thinner or thicker."""

_OTHER_SHARE = 0.03
"""Grey art has several inks, and white parts of it belong to it; a silhouette has one."""

_CLOSED = 3.0
"""A line that encloses this many times its own area is closed already."""

_GAIN = 1.08
"""A pen gap counts as closed where closing it encloses this much more."""


def filled(mask: Mask) -> Mask:
    """Return the mask with everything it encloses."""
    padded = np.pad(mask.astype(np.uint8), 1)
    flood = padded.copy()
    cv2.floodFill(flood, None, (0, 0), 1)
    result: Mask = ((flood == 0) | (padded > 0))[1:-1, 1:-1]
    return result


def kind_of(reflectance: Plane, mask: Mask) -> Kind:
    """Return what the picture shows: a line drawing, coloured art or a solid silhouette."""
    whole = filled(mask)
    ys, xs = np.nonzero(mask)
    longest = max(np.ptp(ys), np.ptp(xs)) + 1
    depth = cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 3)
    stroke = 4 * float(depth[mask].mean())
    if mask.sum() < _LINE_SHARE * whole.sum() and stroke < _LINE_STROKE * longest:
        return "line"
    if stroke < 0.5 * _LINE_STROKE * longest:
        return "line"
    core = (depth > 3) if (depth > 3).any() else mask
    smooth = cv2.GaussianBlur(np.clip(reflectance, 0, 1), (0, 0), 1.5)
    lab = cv2.cvtColor(smooth[core].reshape(-1, 1, 3), cv2.COLOR_LRGB2Lab).reshape(-1, 3)
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    if (chroma > _COLOUR_CHROMA).mean() > _COLOUR_SHARE:
        return "colour"
    deep = lab[depth[core] > 6]  # along an edge one ink has many shades
    if 2 * len(deep) < len(lab):
        return "solid"
    other = np.linalg.norm(deep - np.median(deep, axis=0), axis=1) > _OTHER_INK
    return "colour" if other.mean() > _OTHER_SHARE else "solid"


def closed_lines(mask: Mask, gap_px: float) -> tuple[Mask, float]:
    """Return a line drawing filled to the outer side of its line, and the gap closed in px.

    Wider closing is taken only where it encloses clearly more; of what closing adds, only enclosed
    regions and the links that close them are kept.
    """
    best, used = filled(mask), 0.0
    if best.sum() >= _CLOSED * mask.sum():
        return best, used
    for share in (0.15, 0.3, 0.5, 0.75, 1.0):
        width = gap_px * share
        size = 2 * max(1, round(width / 2)) + 1
        kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
        shut = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, kernel) > 0
        whole = filled(shut)
        if whole.sum() < _GAIN * best.sum():
            continue
        best, used = _only_enclosing(mask, shut, whole), width
    return best, used


def _only_enclosing(mask: Mask, shut: Mask, whole: Mask) -> Mask:
    """Return mask and enclosed regions, with those closing pieces that touch an enclosed region."""
    enclosed = whole & ~shut
    pieces = (shut & ~mask).astype(np.uint8)
    _, labels = cv2.connectedComponents(pieces, connectivity=8)
    near = cv2.dilate(enclosed.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    touching = np.unique(labels[near & (pieces > 0)])
    links = np.isin(labels, touching[touching > 0])
    return filled(mask | enclosed | links)


def without_small_holes(mask: Mask, least_px: float) -> Mask:
    """Return the mask with holes below ``least_px`` pixels filled."""
    holes = (filled(mask) & ~mask).astype(np.uint8)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(holes, connectivity=4)
    small = stats[:, cv2.CC_STAT_AREA] < least_px
    small[0] = False
    result: Mask = mask | small[labels]
    return result
