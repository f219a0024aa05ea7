"""Draws one page of the PDF on standard input; run as a program of its own by ``pdf``.

Writes a line of JSON, then the page's pixels as RGB. The program lends itself only as much time
and memory as the page's own pictures call for: a small file that asks for more is no scan.
"""

import json
import sys
from typing import Any

import pypdfium2
from pypdfium2 import raw

_POINTS = 72.0
_DPI = 300.0
_FORMS_DEEP = 5
_SECONDS = 4.0
_PIXELS_A_SECOND = 20e6
_BYTES_A_SECOND = 5e6
_ROOM = 700e6
_BYTES_A_PIXEL = 6.0


def main() -> None:
    """Read the request from the command line, answer on standard output."""
    number, longest_px, most_px, size = (int(word) for word in sys.argv[1:])
    _lend(_SECONDS + size / _BYTES_A_SECOND, _ROOM + size)
    try:
        answer, pixels = _drawn(number, longest_px, most_px, size)
    except pypdfium2.PdfiumError as error:
        answer, pixels = {"damage": str(error)}, b""
    sys.stdout.buffer.write(json.dumps(answer).encode() + b"\n")
    sys.stdout.buffer.write(pixels)


def _drawn(number: int, longest_px: int, most_px: int, size: int) -> tuple[dict[str, Any], bytes]:
    with pypdfium2.PdfDocument(sys.stdin.buffer) as document:
        if number > len(document):
            return {"pages": len(document)}, b""
        page = document[number - 1]
        pictures = list(page.get_objects(filter=(raw.FPDF_PAGEOBJ_IMAGE,), max_depth=_FORMS_DEEP))
        sizes = [picture.get_px_size() for picture in pictures]
        largest = max(sizes, key=lambda sides: sides[0] * sides[1], default=(0, 0))
        pixels = largest[0] * largest[1]
        if pixels > most_px:
            return {"picture": largest}, b""
        _lend(
            _SECONDS + size / _BYTES_A_SECOND + pixels / _PIXELS_A_SECOND,
            _ROOM + size + _BYTES_A_PIXEL * pixels,
        )
        longest = max(page.get_size())
        scale = min(_density(pictures) / _POINTS, longest_px / max(longest, 1e-3))
        image = page.render(scale=scale).to_pil().convert("RGB")
        return {"size": image.size, "dpi": scale * _POINTS}, image.tobytes()


def _density(pictures: list[Any]) -> float:
    """Return the finest resolution of the pictures on a page in dpi, or the usual one."""
    finest = _DPI
    for picture in pictures:
        left, bottom, right, top = picture.get_bounds()
        sides = sorted((abs(right - left), abs(top - bottom)))
        if sides[0] > 0:
            finest = max(finest, max(picture.get_px_size()) / sides[1] * _POINTS)
    return finest


def _lend(seconds: float, room: float) -> None:
    """Let the system end this process where it takes more processor time or memory than that."""
    if sys.platform == "win32":
        return
    import resource

    for kind, value in ((resource.RLIMIT_CPU, seconds), (resource.RLIMIT_AS, room)):
        hard = resource.getrlimit(kind)[1]
        soft = int(value) + 1
        resource.setrlimit(kind, (soft if hard < 0 else min(soft, hard), hard))


if __name__ == "__main__":
    main()
