"""preview.png and preview.gif: the finished card standing on a table, with its artwork."""

import io
from collections.abc import Sequence

import cv2
import numpy as np

from trace2pop.formats.camera import Image
from trace2pop.formats.studio import Studio, View
from trace2pop.model.pieces import Sheets

WIDTH_PX = 1600
_HERO_PX, _STRIP_PX, _GAP_PX = 960, 400, 10

HERO = View(128.0, -14.0, 15.0)
STRIP = (View(0.0, -58.0), View(52.0, -7.0, 16.0), View(95.0, -12.0), View(180.0, 10.0))


def preview_png(sheets: Sheets, art: Image | None = None) -> bytes:
    """Return ``preview`` as PNG."""
    return as_png(preview(sheets, art))


def preview(sheets: Sheets, art: Image | None = None) -> Image:
    """Return the card, 1600 px wide, RGB: large, and below it from closed to flat open."""
    studio = Studio(sheets, art)
    hero = studio.picture(HERO, (WIDTH_PX, _HERO_PX))
    strip = studio.row(STRIP, (WIDTH_PX, _STRIP_PX))
    gap = np.full((_GAP_PX, WIDTH_PX, 3), 255, np.uint8)
    return np.vstack([hero, gap, strip])


def as_png(picture: Image) -> bytes:
    """Return a picture as PNG."""
    # A third of the time of the usual search for repeats, and 4 % more bytes.
    how = [cv2.IMWRITE_PNG_STRATEGY, cv2.IMWRITE_PNG_STRATEGY_RLE]
    how += [cv2.IMWRITE_PNG_FILTER, cv2.IMWRITE_PNG_FILTER_PAETH]
    done, content = cv2.imencode(".png", picture[..., ::-1], how)
    assert done
    return content.tobytes()


class Film:
    """The card opening and closing again, for ever. Its frames can be taken apart, in any order."""

    def __init__(
        self,
        sheets: Sheets,
        art: Image | None = None,
        *,
        size: tuple[int, int] = (520, 390),
        frames: int = 14,
    ) -> None:
        studio = Studio(sheets, art)
        share = (1 - np.cos(np.linspace(0, np.pi, frames))) / 2
        views = [View(165.0 * float(s), -40.0 + 28.0 * float(s)) for s in share]
        self.takes = studio.film(views, size)
        self._art, self._size = studio.art, size

    def gif(self, seen: Sequence[Image]) -> bytes:
        """Return the film as GIF; ``seen`` are all its frames as they were taken."""
        from PIL import Image as Pillow

        # The artwork counts twice, or its small bright places get no colour of their own.
        small = cv2.resize(self._art, self._size, interpolation=cv2.INTER_AREA)
        sample = Pillow.fromarray(np.vstack([seen[0], seen[-1], small])[::2, ::2])
        palette = sample.quantize(256, method=Pillow.Quantize.MEDIANCUT)
        plain = [
            Pillow.fromarray(one).quantize(palette=palette, dither=Pillow.Dither.NONE)
            for one in seen
        ]
        plain += plain[-2:0:-1]
        times = [80] * len(plain)
        times[0] = times[len(seen) - 1] = 900
        out = io.BytesIO()
        plain[0].save(
            out,
            "GIF",
            save_all=True,
            append_images=plain[1:],
            duration=times,
            loop=0,
            optimize=False,
        )
        return out.getvalue()


def preview_gif(sheets: Sheets, art: Image | None = None) -> bytes:
    """Return the whole film as GIF."""
    film = Film(sheets, art)
    return film.gif([take() for take in film.takes])
