"""Where the capture frame's markers stand on the sheet.

The markers are ArUco markers (Garrido-Jurado et al., Pattern Recognition 47, 2014) of OpenCV's
dictionary of 5 x 5 cells. Each paper has its own numbers, so that a photo tells its own paper.
"""

from functools import cache

import cv2
import numpy as np

from trace2pop.model.frame import CaptureFrame, Marker

MARKER_SIDE = 10.0
_EDGE = 8.0
"""Clear of the 4 to 6.4 mm that office printers leave unprinted; common practice, no source."""

_PITCH = 18.0
_GAP = 4.0
"""Between markers and field."""

_RULER_STRIP = 10.0
_CELLS = 5
_PAPERS = {"a4": (210.0, 297.0, 0), "letter": (215.9, 279.4, 50)}
"""Width, height (ISO 216; 8.5 x 11 in) and number of the first marker."""

PAPERS = tuple(_PAPERS)


def dictionary() -> cv2.aruco.Dictionary:
    """Return the dictionary the markers come from."""
    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_100)


@cache
def frame_layout(paper: str) -> CaptureFrame:
    """Return the frame for ``paper``: "a4" or "letter".

    Raises:
        KeyError: for any other paper.
    """
    width, height, first = _PAPERS[paper]
    columns = _places(width)
    rows = _places(height)
    # Clockwise from head left.
    corners = [
        *((x, rows[0]) for x in columns),
        *((columns[-1], y) for y in rows[1:]),
        *((x, rows[-1]) for x in columns[-2::-1]),
        *((columns[0], y) for y in rows[-2:0:-1]),
    ]
    markers = tuple(
        Marker(number, x, y, _black(number)) for number, (x, y) in enumerate(corners, start=first)
    )
    inset = _EDGE + MARKER_SIDE + _GAP
    field = (inset, inset, width - 2 * inset, height - 2 * inset - _RULER_STRIP)
    length = 10 * int(field[2] // 10)
    ruler = ((width - length) / 2, inset + field[3] + _GAP, float(length))
    return CaptureFrame(paper, width, height, MARKER_SIDE, markers, field, ruler)


def _places(side: float) -> list[float]:
    """Return the corners of evenly spaced markers along a side."""
    span = side - 2 * _EDGE - MARKER_SIDE
    return [round(_EDGE + x, 3) for x in np.linspace(0, span, int(span // _PITCH) + 1)]


def _black(number: int) -> tuple[tuple[bool, ...], ...]:
    cells = _CELLS + 2
    image = cv2.aruco.generateImageMarker(dictionary(), number, cells)
    return tuple(tuple(bool(cell == 0) for cell in row) for row in image)
