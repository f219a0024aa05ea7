"""Outlines of paper."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

Contour = FloatArray
"""A chain of cubic Beziers, shape (n, 4, 2), mm, x right, y down.

Rows are start, two handles, end; each segment starts where the one before it ends. A closed contour
ends where it starts. A straight segment has its handles at one and two thirds.
"""


@dataclass(frozen=True, eq=False)
class Outline:
    """One piece of paper: its outer contour and its holes, all closed, none crossing."""

    outer: Contour
    holes: tuple[Contour, ...] = ()
