"""Regions so pale that no threshold finds them, but that differ from the paper all the same."""

import cv2
import numpy as np

from trace2pop.stages.trace.ink import Mask
from trace2pop.stages.trace.light import Plane
from trace2pop.stages.trace.regions import filled

_SMOOTH_MM = 0.4
_LEAST = 1.2
"""Colour difference (CIE Lab) of smoothed paper that grain doesn't reach."""

_SPREADS = 5.0
_MOUTH_MM = 8.0
"""A bay with a mouth narrower than this may be pale art whose line has a gap."""

_BAY = 0.5
_BAY_SPREADS = 8.0
_HALO_MM = 0.8
_STEP = 0.5
_LEAST_MM2 = 4.0


def faint_region(reflectance: Plane, whole: Mask, px_per_mm: float) -> Mask:
    """Return faint regions (rows, cols) next to the motif ``whole`` that end in an edge.

    A shadow left in the light is faint too, but fades out; pale art has an edge.
    """
    shrink = max(1, int(px_per_mm / 4))
    size = max(1, whole.shape[1] // shrink), max(1, whole.shape[0] // shrink)
    small = np.asarray(cv2.resize(reflectance, size, interpolation=cv2.INTER_AREA), np.float32)
    solid = cv2.resize(whole.astype(np.uint8), small.shape[1::-1], interpolation=cv2.INTER_NEAREST)
    density = px_per_mm / shrink
    faint = _faint(small, solid > 0, density)
    grown = cv2.resize(faint.astype(np.uint8), whole.shape[::-1], interpolation=cv2.INTER_NEAREST)
    result: Mask = grown > 0
    return result


def _faint(small: Plane, solid: Mask, density: float) -> Mask:
    lab = cv2.cvtColor(np.clip(small, 0, 1), cv2.COLOR_LRGB2Lab)
    halo = _dilated(solid, _HALO_MM * density)
    paper = ~halo
    if paper.sum() < 100:
        return np.zeros_like(solid)
    weight = paper.astype(np.float32)
    sigma = _SMOOTH_MM * density
    mass = np.maximum(cv2.GaussianBlur(weight, (0, 0), sigma), 1e-3)[..., None]
    smooth = cv2.GaussianBlur(lab * weight[..., None], (0, 0), sigma) / mass
    smooth -= np.median(smooth[paper], axis=0)
    smooth[..., 0] = np.minimum(smooth[..., 0], 0)
    off = np.sqrt((smooth * smooth).sum(axis=2))
    usual = float(np.median(off[paper]))
    spread = 1.48 * float(np.median(np.abs(off[paper] - usual)))
    level = max(_LEAST, usual + _SPREADS * spread)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(
        ((off > level) & paper).astype(np.uint8), connectivity=4
    )
    touching = np.unique(labels[_dilated(halo, 1.5) & (labels > 0)])
    keep = np.zeros(len(stats), bool)
    for number in touching:
        large = stats[number, cv2.CC_STAT_AREA] > _LEAST_MM2 * density**2
        keep[number] = large and _ends_in_an_edge(labels == number, off, paper, density)
    result: Mask = keep[labels] | _pale_bays(off, solid, paper, density, spread)
    return result


def _pale_bays(off: Plane, solid: Mask, paper: Mask, density: float, spread: float) -> Mask:
    """Return bays of the motif that are not quite as white as the paper.

    Paper seen between two limbs is paper; a pale body within a line that has a gap is not.
    """
    radius = _MOUTH_MM / 2 * density
    wide = round(radius) + 1
    shut = _dilated(np.pad(solid, wide), radius)
    inner = (filled(shut) & ~shut)[wide:-wide, wide:-wide]
    count, labels = cv2.connectedComponents(inner.astype(np.uint8), connectivity=4)
    level = max(_BAY, _BAY_SPREADS * spread)
    result = np.zeros_like(solid)
    for number in range(1, count):
        bay = _dilated(labels == number, radius) & paper
        if bay.any() and float(np.percentile(off[bay], 90)) > level:
            result |= bay
    return result


def _ends_in_an_edge(blob: Mask, off: Plane, paper: Mask, density: float) -> bool:
    """Whether the difference falls off within about a millimetre of a blob's rim."""
    outer = _dilated(blob, 0.7 * density) & ~_dilated(blob, 0.3 * density) & paper
    inner = blob & ~_eroded(blob, 0.8 * density)
    if not outer.any() or not inner.any():
        return False
    inside, beyond = float(np.median(off[inner])), float(np.median(off[outer]))
    return inside - beyond > _STEP * inside


def _dilated(mask: Mask, radius_px: float) -> Mask:
    size = 2 * max(1, round(radius_px)) + 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    result: Mask = cv2.dilate(mask.astype(np.uint8), kernel) > 0
    return result


def _eroded(mask: Mask, radius_px: float) -> Mask:
    result: Mask = ~_dilated(~mask, radius_px)
    return result
