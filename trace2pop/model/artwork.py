"""The picture, upright and to scale, and the motif traced from it."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from trace2pop.model.finding import Finding
from trace2pop.model.outline import FloatArray, Outline

ScaleSource = Literal["none", "dpi", "length", "page", "frame", "vector"]
Kind = Literal["solid", "line", "colour", "alpha", "printed", "vector"]


@dataclass(frozen=True)
class Scale:
    """Where the drawn size is known from.

    ``mm_per_px`` is of the source picture and None where unknown, as is ``uncertainty`` (relative,
    one sigma).
    """

    source: ScaleSource
    mm_per_px: float | None
    uncertainty: float | None


@dataclass(frozen=True, eq=False)
class Artwork:
    """A picture upright, rectified and to scale.

    ``rgb`` (rows, cols, 3) uint8 sRGB; ``alpha`` (rows, cols) uint8 or None. ``px_per_mm`` turns
    pixel into drawn mm: x_mm = (col + 0.5) / px_per_mm, y_mm = (row + 0.5) / px_per_mm, so that the
    array covers (0, 0) .. (cols, rows) / px_per_mm. Where ``scale.source`` is "none" the drawn mm
    are nominal (the longer side of the picture counts as 200 mm).
    ``to_source`` (3, 3) maps artwork pixel-edge coordinates (col + 0.5, row + 0.5) to those of the
    upright source picture. ``page`` is the sheet of paper's corner polygon (n, 2) in drawn mm where
    one was found. ``vectors`` holds the outlines of a picture that was a vector already.
    ``size_px`` (cols, rows) is the array's, whatever is given.
    """

    name: str
    rgb: NDArray[np.uint8]
    alpha: NDArray[np.uint8] | None
    px_per_mm: float
    scale: Scale
    to_source: FloatArray
    source_size_px: tuple[int, int]
    page: FloatArray | None = None
    vectors: tuple[Outline, ...] = ()
    findings: tuple[Finding, ...] = ()
    size_px: tuple[int, int] = (0, 0)

    def __post_init__(self) -> None:
        rows, cols = self.rgb.shape[:2]
        object.__setattr__(self, "size_px", (cols, rows))


@dataclass(frozen=True)
class MirrorAxis:
    """A mirror axis in drawn mm: a point on it, its tilt, and how well the halves agree.

    ``tilt_deg`` is 0 for an axis along y, positive clockwise on the page, -45 to 135. ``score`` is
    the overlap (intersection over union) of the motif and its mirror image.
    """

    point: tuple[float, float]
    tilt_deg: float
    score: float

    @property
    def lies(self) -> bool:
        """Whether it lies across the page: the motif was drawn, or photographed, sideways.

        One that runs at 45 degrees, give or take how finely it is known, stands.
        """
        return self.tilt_deg > 48


@dataclass(frozen=True, eq=False)
class Candidate:
    """One thing on the page that may be the motif, as the maker can choose it by its ``number``.

    ``outline`` (n, 2) is a polygon in drawn mm. ``cut_off`` tells that it runs into the picture's
    edge, ``taken`` that the motif is made of it.
    """

    number: int
    outline: FloatArray
    cut_off: bool
    taken: bool


@dataclass(frozen=True)
class DoubtPlace:
    """Where a doubt lies: the finding's rule, and a place in drawn mm."""

    rule: str
    x: float
    y: float


@dataclass(frozen=True, eq=False)
class Motif:
    """The traced motif in drawn mm, in the artwork's frame.

    ``confidence`` runs from 0 to 1; below ``limits.CONFIDENCE`` the maker is asked to look.
    ``axis`` is None where no mirror axis was found. ``doubts`` are the places to look at.
    ``islands`` are drawn in the motif's holes and touch nothing.
    """

    artwork: Artwork
    outline: Outline
    kind: Kind
    confidence: float
    axis: MirrorAxis | None
    findings: tuple[Finding, ...] = ()
    doubts: tuple[DoubtPlace, ...] = ()
    islands: tuple[Outline, ...] = ()
