"""How long guide, page and pictures of a card take, beside a reference workload in the same run."""

import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import cv2
import numpy as np
import pytest

from trace2pop.formats.guide_pdf import guide_pdf
from trace2pop.formats.page import page_html
from trace2pop.formats.pictures import picture_files
from trace2pop.formats.preview import preview, preview_gif, preview_png
from trace2pop.model.settings import PictureSettings, Settings
from trace2pop.pipeline import make_card
from trace2pop.stages.guide import guide

PHOTO = Path(__file__).parents[2] / "samples" / "dragonfly" / "photo.jpg"
T = TypeVar("T")


@pytest.mark.bench
def test_guide_page_and_pictures(capsys: pytest.CaptureFixture[str]) -> None:
    """Reference: decode, blur and encode the same 12-megapixel photo with OpenCV."""
    settings = Settings(picture=PictureSettings(paper="a5"))
    made = make_card(PHOTO, settings)
    times: dict[str, float] = {}

    def timed(name: str, work: Callable[[], T]) -> T:
        start = time.process_time()
        result = work()
        times[name] = time.process_time() - start
        return result

    encoded = np.frombuffer(PHOTO.read_bytes(), np.uint8)
    timed("reference", lambda: _reference(encoded))
    book = timed("guide", lambda: guide(made.sheets, settings.guide, 0.1))
    timed("preview.png", lambda: preview_png(made.sheets))
    picture = preview(made.sheets)
    timed("guide.pdf", lambda: guide_pdf(book, picture))
    timed("page.html", lambda: page_html(book))
    timed("pictures/", lambda: picture_files(book))
    timed("preview.gif", lambda: preview_gif(made.sheets))
    whole = sum(times.values()) - times["reference"]
    with capsys.disabled():
        for name, seconds in times.items():
            print(f"{name:12} {seconds:6.2f} s {seconds / times['reference']:6.2f} x reference")
        print(f"{'whole':12} {whole:6.2f} s {whole / times['reference']:6.2f} x reference")
    assert whole - times["preview.gif"] < 2.5


def _reference(encoded: np.ndarray) -> None:
    picture = cv2.imdecode(encoded, cv2.IMREAD_COLOR)
    assert picture is not None
    cv2.imencode(".jpg", cv2.GaussianBlur(picture, (0, 0), 3))
