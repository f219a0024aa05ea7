"""A page of a PDF as a picture, drawn in a process of its own.

What draws PDF is native code; a file made to hurt may end its process, fill the memory or go on for
ever, and none of that must reach the run.
"""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any, BinaryIO

from PIL import Image

from trace2pop import limits
from trace2pop.errors import PictureError
from trace2pop.stages.capture.decoding import LONGEST_PX

_WORKER = Path(__file__).with_name("pdf_worker.py")
_PATIENCE_S = 120
_PLAIN = "export it again without a password, or save the page as PNG"
_SMALLER = "save the page as PNG at 300 dots per inch"


def pdf_page(name: str, file: BinaryIO, page_number: int) -> Image.Image:
    """Return a page drawn at the resolution of the scan it holds, 300 dpi where it holds none.

    Raises:
        PictureError: where it is damaged, locked, has no such page or asks for too much.
    """
    size = os.fstat(file.fileno()).st_size
    request = [page_number, LONGEST_PX, int(limits.MAX_PIXELS.value), size]
    command = [sys.executable, "-I", str(_WORKER), *map(str, request)]
    file.seek(0)
    try:
        done = subprocess.run(
            command, stdin=file, capture_output=True, timeout=_PATIENCE_S, check=False
        )
    except subprocess.TimeoutExpired:
        raise _endless(name) from None
    if done.returncode:
        raise _endless(name)
    head, _, pixels = done.stdout.partition(b"\n")
    answer = json.loads(head)
    _refuse(name, answer, page_number)
    image = Image.frombytes("RGB", tuple(answer["size"]), pixels)
    image.info["dpi"] = (answer["dpi"], answer["dpi"])
    return image


def _refuse(name: str, answer: dict[str, Any], page_number: int) -> None:
    if "damage" in answer:
        told = (answer["damage"].splitlines() or [""])[0][:100]
        raise PictureError(f"{name} is a damaged or locked PDF ({told})", _PLAIN)
    if "pages" in answer:
        raise no_page(name, page_number, answer["pages"])
    if "picture" in answer:
        width, height = answer["picture"]
        raise PictureError(
            f"{name} says it holds a picture of {width} x {height} pixels, more than "
            f"{limits.MAX_PIXELS.value / 1e6:.0f} million",
            _SMALLER,
        )


def _endless(name: str) -> PictureError:
    return PictureError(
        f"{name} is a PDF that can't be drawn in the time and memory a page of its size takes",
        _SMALLER,
    )


def no_page(name: str, page_number: int, count: int) -> PictureError:
    """Return the error for a page number a file doesn't have."""
    has = "only one page" if count == 1 else f"{count} pages"
    return PictureError(
        f"{name} has {has}, no page {page_number}", "choose a page it has with --page-number"
    )
