"""What is drawn and what is paper, with coverage below a pixel along the edge."""

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from trace2pop.stages.trace.light import Plane, inverted

Mask = NDArray[np.bool_]

_COLOUR_WEIGHT = 1.5
_LEAST = 5.0
"""Colour difference (CIE Lab) below which paper grain and ink can't be told apart."""

_BAND_PX = 4
_SMOOTH_PX = 0.6
_CORE_PX = 3.5
_HALO = 0.18
"""What a JPEG picture adds round ink reaches at most this share of the ink's contrast."""

_MEAN_PX = 2.0
_NEAR_PX = 12.0
_BAND_ROWS, _AROUND_ROWS = 512, 32


@dataclass(frozen=True, eq=False)
class Ink:
    """The drawn regions: ``mask`` and ``difference`` from paper (Lab units), both (rows, cols)."""

    mask: Mask
    difference: Plane
    low: float
    high: float


def find_ink(
    reflectance: Plane, *, dark: bool = False, levels: tuple[float, float] | None = None
) -> Ink:
    """Return what differs from the ground: seeds that surely do, grown over what joins them.

    On a ``dark`` ground what is lighter counts. ``levels`` are the differences to grow over and to
    seed from, where they are known already.
    """
    difference = paper_difference(inverted(reflectance) if dark else reflectance)
    low, high = levels or _levels(difference)
    return Ink(grown(difference, low, high), difference, low, high)


def _levels(difference: Plane) -> tuple[float, float]:
    """Return the difference drawn parts have at least, and the one that marks them surely."""
    some = difference.ravel()[:: max(1, difference.size // 1_000_000)]
    capped = np.minimum(some, 70).astype(np.uint8)
    split, _ = cv2.threshold(capped, 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    paper = some[some < max(split, 2.0)]
    spread = float(np.percentile(paper, 68)) if len(paper) else 0.0
    high = max(float(split), _LEAST)
    return min(max(_LEAST, 3 * spread), high), high


def grown(difference: Plane, low: float, high: float) -> Mask:
    """Return the regions above ``low`` that somewhere exceed ``high``."""
    count, labels = cv2.connectedComponents((difference > low).astype(np.uint8), connectivity=4)
    keep = np.zeros(count, bool)
    keep[np.unique(labels[difference > high])] = True
    keep[0] = False
    result: Mask = keep[labels]
    return result


def stricter(ink: Ink) -> Mask:
    """Return the drawn regions by a threshold twice as strict, to see whether it matters."""
    return grown(ink.difference, 2 * ink.low, max(2 * ink.low, ink.high))


def paper_difference(reflectance: Plane) -> Plane:
    """Return the colour difference from the paper, (rows, cols), lightness clipped at paper's."""
    lab = np.empty_like(reflectance)
    for wide, within, rows in _bands(len(reflectance)):
        part = cv2.cvtColor(np.clip(reflectance[wide], 0, 1.2), cv2.COLOR_LRGB2Lab)
        lab[rows] = cv2.GaussianBlur(part, (0, 0), 0.8)[within]
    middle = np.median(lab.reshape(-1, 3)[:: max(1, lab[..., 0].size // 400_000)], axis=0)
    # A page that is mostly drawn on has a median that isn't paper; paper itself is white here.
    paper = middle if middle[0] > 95 else np.array([100.0, 0.0, 0.0])
    result: Plane = np.empty(lab.shape[:2], np.float32)
    for _, _, rows in _bands(len(lab)):
        off = lab[rows] - paper.astype(np.float32)
        off[..., 0] = np.minimum(off[..., 0], 0)
        off[..., 1:] *= _COLOUR_WEIGHT
        result[rows] = np.sqrt((off * off).sum(axis=2))
    return result


def coverage(reflectance: Plane, mask: Mask, *, clefts: bool) -> Plane:
    """Return how much of each pixel the drawn region covers, (rows, cols) in 0..1.

    Along the mask's edge a pixel's colour is a mix of paper and of the ink next to it; its place
    between the two, in linear light, is the coverage. Away from the edge the mask decides;
    ``clefts`` lets narrow gaps be opened that it has closed.
    """
    solid = mask.astype(np.uint8)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * _BAND_PX + 1,) * 2)
    outside = cv2.dilate(solid, kernel) == 0
    inside = cv2.erode(solid, kernel) > 0
    share: Plane = np.empty(solid.shape, np.float32)
    for wide, within, rows in _bands(len(solid)):
        to_paper = 1 - _ink_colour(reflectance[wide], solid[wide])[within]
        part = ((1 - reflectance[rows]) * to_paper).sum(axis=2)
        share[rows] = part / np.maximum((to_paper * to_paper).sum(axis=2), 1e-4)
    if clefts:
        inside &= ~_clefts(share, solid)
    result: Plane = np.clip(share, 0, 1)
    result[outside] = 0
    result[inside] = 1
    smooth: Plane = np.asarray(cv2.GaussianBlur(result, (0, 0), _SMOOTH_PX), np.float32)
    return smooth


def _bands(rows: int) -> Iterator[tuple[slice, slice, slice]]:
    """Yield bands of a picture's rows: with their surroundings, their place in those, their rows.

    Working band by band keeps a large picture's working copies small. The surroundings are wider
    than anything looks round a pixel here, so that the result is the same to the last bit.
    """
    for top in range(0, rows, _BAND_ROWS):
        foot, above = min(top + _BAND_ROWS, rows), max(0, top - _AROUND_ROWS)
        wide = slice(above, min(foot + _AROUND_ROWS, rows))
        yield wide, slice(top - above, foot - above), slice(top, foot)


def _clefts(share: Plane, solid: NDArray[np.uint8]) -> Mask:
    """Return where paper shows in gaps too narrow for the mask to have left them open.

    A pale patch shows no ink either, but it is wide, or drawn parts lie all round it.
    """
    pale = ((share < 0.65) & (solid > 0)).astype(np.uint8)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
    wide = cv2.morphologyEx(pale, cv2.MORPH_OPEN, kernel)
    narrow = ((pale > 0) & (wide == 0)).astype(np.uint8)
    count, labels = cv2.connectedComponents(narrow, connectivity=8)
    beyond = cv2.dilate((solid == 0).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    opens = np.zeros(count, bool)
    opens[labels[beyond]] = True
    opens[0] = False
    cleft = opens[labels].astype(np.uint8)
    result: Mask = cv2.dilate(cleft, np.ones((5, 5), np.uint8)) > 0
    return result


def _ink_colour(reflectance: Plane, solid: NDArray[np.uint8]) -> Plane:
    """Return the colour of the ink nearest to each pixel, from pixels that are ink throughout.

    Where a stroke is too thin to have such pixels its middle serves. Nearest, not the mean of all
    around: a pale feeler keeps its own colour up to the dark body it grows from.
    """
    depth = cv2.distanceTransform(solid, cv2.DIST_L2, 5)
    ridge = (depth >= cv2.dilate(depth, np.ones((5, 5), np.uint8)) - 1e-3) & (solid > 0)
    contrast = np.abs(1 - reflectance).sum(axis=2) * solid
    ridge &= contrast > _HALO * cv2.dilate(contrast, np.ones((21, 21), np.uint8))
    ink = (depth > _CORE_PX) | ridge
    if not ink.any():
        return np.zeros_like(reflectance)
    weight = ink.astype(np.float32)
    mass = cv2.GaussianBlur(weight, (0, 0), _MEAN_PX)
    mean = cv2.GaussianBlur(reflectance * weight[..., None], (0, 0), _MEAN_PX)
    known = mean[ink] / mass[ink][:, None]
    # Ink as pale as its paper would divide by nothing.
    near = np.abs(known - 1) < 0.03
    known = np.where(near, np.where(known > 1, 1.03, 0.97), known).astype(np.float32)
    distance, nearest = cv2.distanceTransformWithLabels(
        (~ink).astype(np.uint8), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    order = np.empty(len(known) + 1, np.int64)
    order[nearest[ink]] = np.arange(len(known))
    result: Plane = known[order[nearest]]
    result[distance > _NEAR_PX] = 0
    return result
