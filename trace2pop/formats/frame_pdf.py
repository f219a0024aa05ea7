"""The capture frame as a page to print: markers round an empty field, and a ruler."""

from trace2pop.formats import pages
from trace2pop.formats.svg import BLACK, document, number, text
from trace2pop.model.frame import CaptureFrame, Marker


def frame_pdf(frame: CaptureFrame) -> bytes:
    """Return the frame's page at true size."""
    size = (frame.width, frame.height)
    body = [_marker(marker, frame.marker_side) for marker in frame.markers]
    body += _ruler(*frame.ruler)
    return pages.pdf([pages.Page(size, (document(size, "capture frame", body),))], "Capture frame")


def _marker(marker: Marker, side: float) -> str:
    """Return one marker as a single path: cells as strips, so that no seams show."""
    cell = side / len(marker.black)
    data = []
    for row, cells in enumerate(marker.black):
        start = None
        for column, black in enumerate((*cells, False)):
            if black and start is None:
                start = column
            elif not black and start is not None:
                x, y = marker.x + start * cell, marker.y + row * cell
                width = (column - start) * cell
                data.append(
                    f"M{number(x)},{number(y)} h{number(width)} v{number(cell)} h{number(-width)} Z"
                )
                start = None
    return f'<path fill="{BLACK}" d="{" ".join(data)}"/>'


def _ruler(x: float, y: float, length: float) -> list[str]:
    ticks = " ".join(
        f"M{number(x + at)},{number(y)} v{-3.0 if at % 50 == 0 else -1.6}"
        for at in range(0, int(length) + 1, 10)
    )
    style = f'fill="none" stroke="{BLACK}" stroke-width="0.2"'
    words = (
        f"This line must measure {length:.0f} mm: print at 100 %. Lay or draw the art inside the "
        "markers and keep them in the photo."
    )
    return [
        f'<path {style} d="M{number(x)},{number(y)} h{number(length)} {ticks}"/>',
        text(words, x, y + 3.2, 2.6, "start", BLACK),
    ]
