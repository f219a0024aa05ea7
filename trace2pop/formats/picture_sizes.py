"""The maker's trade: the higher the motif floats, the smaller it is."""

import numpy as np

from trace2pop.formats.canvas import BLUE, INK, SOFT, VERMILLION, Canvas
from trace2pop.mechanism.sizes import highest_rise
from trace2pop.model.guide import Guide

_SIZE = (170.0, 118.0)
_LEFT, _TOP, _RIGHT, _FOOT = 20.0, 25.0, 10.0, 18.0
_STEP = 5.0


def trade_off(guide: Guide) -> bytes:
    """Return the widest motif for each rise of this card, this card's own rise marked; PNG."""
    say, plan = guide.words, guide.sheets.parts.plan
    card, reach = plan.cut.placed.card, plan.closed.reach - plan.cut.placed.card.web
    spare = card.web - card.rise
    low = 5.0
    flat = card.half_width - card.margin - spare
    last = max(low + 2 * _STEP, min(flat - 10.0, 4 * card.rise))
    last = np.ceil(last / _STEP) * _STEP
    widest = 2 * (flat - low)
    chart = _Chart((low, float(last)), (0.0, float(np.ceil(widest / 20) * 20)))
    chart.frame(say["picture_rise"], say["picture_width"])
    rises = np.array([low, float(last)])
    chart.line(np.column_stack([rises, 2 * (flat - rises)]), BLUE, 0.7)
    for rise in np.arange(low, last + 0.1, _STEP):
        width = 2 * (flat - rise)
        if width > 0:
            chart.mark(float(rise), float(width), f"{width:.0f}")
    most = highest_rise(card, reach)
    chart.line(np.array([[low, 2 * reach], [last, 2 * reach]]), VERMILLION, 0.4, "2 1")
    chart.note((float(last), 2 * reach), say["picture_this_motif"], above=False)
    chart.own((card.rise, 2 * (flat - card.rise)))
    decimal = say["decimal"]
    words = say["picture_own"].format(
        rise=f"{card.rise:g}".replace(".", decimal), most=f"{most:.1f}".replace(".", decimal)
    )
    chart.canvas.words(say["picture_sizes"], (6.0, 8.0), size=4.4, bold=True)
    chart.canvas.words(words, (6.0, 13.4), colour=SOFT)
    return chart.canvas.png()


class _Chart:
    """Axes in mm against mm on a page."""

    def __init__(self, across: tuple[float, float], up: tuple[float, float]) -> None:
        self.across, self.up = across, up
        self.canvas = Canvas(_SIZE)

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Return where a pair of values lies on the page."""
        wide, high = _SIZE[0] - _LEFT - _RIGHT, _SIZE[1] - _TOP - _FOOT
        share = (x - self.across[0]) / (self.across[1] - self.across[0])
        rise = (y - self.up[0]) / (self.up[1] - self.up[0])
        return _LEFT + 6 + share * (wide - 12), _TOP + high * (1 - rise)

    def frame(self, across: str, up: str) -> None:
        """Draw axes with their numbers and names."""
        x0, y0 = self.at(self.across[0], self.up[0])
        x1, y1 = self.at(self.across[1], self.up[1])
        for x in np.arange(self.across[0], self.across[1] + 0.1, _STEP):
            a, _ = self.at(float(x), 0.0)
            self.canvas.line(np.array([[a, y0], [a, y0 + 1.2]]), width=0.2)
            self.canvas.words(f"{x:.0f}", (a, y0 + 4.8), anchor="middle")
        for y in np.arange(self.up[0], self.up[1] + 0.1, 20.0):
            _, b = self.at(self.across[0], float(y))
            ends = np.array([[x0 - 6, b], [x1 + 6, b]])
            self.canvas.line(ends, stroke="#dfe3e3", width=0.2)
            if round(y) % 40 == 0:
                self.canvas.words(f"{y:.0f}", (x0 - 8, b + 1.1), anchor="end")
        self.canvas.line(np.array([[x0 - 6, y0], [x1 + 6, y0]]), width=0.3)
        self.canvas.words(across, (x1 + 6, y0 + 10.5), anchor="end", colour=SOFT)
        self.canvas.words(up, (x0 - 6, y1 - 2.6), colour=SOFT)

    def line(self, points: np.ndarray, stroke: str, width: float, dash: str = "") -> None:
        """Draw a line through pairs of values (n, 2)."""
        mapped = np.array([self.at(float(x), float(y)) for x, y in points])
        self.canvas.line(mapped, stroke=stroke, width=width, dash=dash)

    def mark(self, x: float, y: float, words: str) -> None:
        """Draw a point with its number."""
        a, b = self.at(x, y)
        self.canvas.dot((a, b), 1.0, BLUE)
        self.canvas.words(words, (a + 1.4, b - 1.6), colour=BLUE)

    def own(self, point: tuple[float, float]) -> None:
        """Draw the card's own point."""
        a, b = self.at(*point)
        self.canvas.dot((a, b), 2.0, INK)

    def note(self, point: tuple[float, float], words: str, *, above: bool) -> None:
        """Write words at the right end of a line."""
        a, b = self.at(*point)
        place = (a + 5, b - 1.4 if above else b + 3.8)
        self.canvas.words(words, place, anchor="end", colour=VERMILLION)
