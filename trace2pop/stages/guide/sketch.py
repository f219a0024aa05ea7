"""A drawing while it is being made: the card's mm in, the page's mm out."""

from collections.abc import Iterable, Sequence
from typing import Literal

import numpy as np
import shapely
from numpy.typing import ArrayLike

from trace2pop.geometry import beziers, shapes
from trace2pop.model.guide import Anchor, Figure, Ink, Mark, Tone, Word
from trace2pop.model.outline import Contour, FloatArray, Outline

Point = tuple[float, float]

_WIDE, _SLIM = frozenset("mwMW\N{EM DASH}%"), frozenset("ijltfrI.,:;'()\N{NO-BREAK SPACE} ")
_HATCH = 1.5
_BALL = 2.4
_HEAD = 3.2
_TICK = 0.9


class Sketch:
    """Gathers marks and words. ``scale`` is page mm per mm of what is drawn.

    Places are in the thing's own mm; type sizes and balloons in mm of the page. ``moved`` shifts
    all that follows by so many page mm.
    """

    def __init__(self, scale: float = 1.0) -> None:
        self.scale = scale
        self._matrix = np.array([[scale, 0.0, 0.0], [0.0, scale, 0.0]])
        self._marks: list[Mark] = []
        self._words: list[Word] = []

    def frame(self, matrix: ArrayLike = ((1, 0, 0), (0, 1, 0)), move: Point = (0.0, 0.0)) -> None:
        """From here on, places are mapped by ``matrix`` (2, 3), scaled, then moved by page mm."""
        own = np.asarray(matrix, dtype=float)
        self._matrix = np.column_stack(
            [own[:, :2] * self.scale, own[:, 2] * self.scale + np.array(move)]
        )

    def at(self, place: ArrayLike) -> Point:
        """Return where a place comes to lie on the page."""
        x, y = self._matrix[:, :2] @ np.asarray(place, dtype=float) + self._matrix[:, 2]
        return float(x), float(y)

    def contours(
        self, lines: Iterable[Contour], ink: Ink, *, closed: bool = True, width: float | None = None
    ) -> None:
        """Draw Bezier chains as one mark."""
        mapped = tuple(beziers.transform(line, self._matrix) for line in lines)
        self._marks.append(Mark(mapped, ink, closed, width))

    def outline(self, outline: Outline, ink: Ink) -> None:
        """Draw a piece of paper with its holes."""
        self.contours((outline.outer, *outline.holes), ink)

    def area(self, points: ArrayLike, ink: Ink) -> None:
        """Draw a polygon through ``points`` (n, 2)."""
        self.contours([beziers.straight(points, closed=True)], ink)

    def line(self, points: ArrayLike, ink: Ink, *, width: float | None = None) -> None:
        """Draw an open line through ``points`` (n, 2)."""
        self.contours([beziers.straight(points, closed=False)], ink, closed=False, width=width)

    def shape(self, shape: shapely.Geometry, ink: Ink) -> None:
        """Draw the polygons of a shapely geometry."""
        for piece in _polygons(shape):
            rings = [
                np.asarray(ring.coords)[:-1, :2] for ring in (piece.exterior, *piece.interiors)
            ]
            self.contours([beziers.straight(ring, closed=True) for ring in rings], ink)

    def glue(self, shape: shapely.Geometry) -> None:
        """Draw where adhesive goes: an edged area with slanting lines, in any print readable."""
        self.shape(shape, "glue-edge")
        step = _HATCH / self.scale
        for piece in _polygons(shape):
            x0, y0, x1, y1 = piece.bounds
            reach = y1 - y0
            count = int((x1 - x0 + reach) / step) + 1
            lines = [
                [(x0 - reach + k * step, y1), (x0 + k * step, y0)] for k in range(1, count + 1)
            ]
            kept = shapely.intersection(shapely.MultiLineString(lines), piece)
            runs = [
                beziers.straight(np.asarray(run.coords), closed=False)
                for run in shapely.get_parts(kept)
                if run.geom_type == "LineString" and run.length > 0  # a sliver takes no line
            ]
            if runs:
                self.contours(runs, "glue", closed=False)

    def word(
        self,
        text: str,
        place: ArrayLike,
        *,
        size: float = 3.0,
        anchor: Anchor = "middle",
        tone: Tone = "ink",
        bold: bool = False,
        off: Point = (0.0, 0.0),
    ) -> None:
        """Write words, ``off`` page mm from a place."""
        x, y = self.at(place)
        self._words.append(Word(text, (x + off[0], y + off[1]), size, anchor, tone, bold))

    def ball(self, text: str, place: ArrayLike, off: Point = (0.0, 0.0)) -> None:
        """Draw a number in a balloon, ``off`` page mm from a place."""
        x, y = self.at(place)
        centre = (x + off[0], y + off[1])
        self._marks.append(Mark((shapes.circle(centre, 2 * _BALL),), "ball", True))
        self._words.append(Word(text, (centre[0], centre[1] + 1.05), 3.1, "middle", "light", True))

    def box(self, text: str, place: ArrayLike, off: Point = (0.0, 0.0)) -> None:
        """Draw a name in a black square, ``off`` page mm from a place."""
        x, y = self.at(place)
        x, y = x + off[0], y + off[1]
        half = max(_BALL * 0.92, len(text) * 0.95 + 0.6)
        self._marks.append(Mark((_rectangle(x, y, half, _BALL * 0.92),), "box", True))
        self._words.append(Word(text, (x, y + 1.05), 3.1, "middle", "light", True))

    def tag(self, text: str, place: ArrayLike, off: Point = (0.0, 0.0)) -> None:
        """Draw a letter in a white square, ``off`` page mm from a place."""
        x, y = self.at(place)
        x, y = x + off[0], y + off[1]
        self._marks.append(Mark((_rectangle(x, y, _BALL, _BALL),), "tag", True))
        self._words.append(Word(text, (x, y + 1.05), 3.1, "middle", "ink", True))

    def slit(self, points: ArrayLike) -> None:
        """Draw a slit with a short tick across each of its ends, which tell it from a cut."""
        self.line(points, "slit")
        a, b = (np.array(self.at(point)) for point in np.asarray(points, dtype=float))
        along = (b - a) / max(float(np.linalg.norm(b - a)), 1e-9)
        across = np.array([-along[1], along[0]]) * _TICK
        ticks = [beziers.straight([end - across, end + across], closed=False) for end in (a, b)]
        self._marks.append(Mark(tuple(ticks), "slit", False, 0.4))

    def dot(self, place: ArrayLike, radius: float, ink: Ink) -> None:
        """Draw a filled circle of ``radius`` page mm."""
        self._marks.append(Mark((shapes.circle(self.at(place), 2 * radius),), ink, True))

    def hole(self, ends: ArrayLike, radius: float, ink: Ink) -> None:
        """Draw a slot with round ends of ``radius`` page mm about two places, or one dot."""
        a, b = (np.array(self.at(point)) for point in np.asarray(ends, dtype=float))
        run = float(np.linalg.norm(b - a))
        if run < 1e-6:
            self.dot(np.asarray(ends, dtype=float)[0], radius, ink)
            return
        slot = shapes.capsule((0.0, 0.0), run + 2 * radius, 2 * radius, upright=False)
        x, y = (b - a) / run
        middle = (a + b) / 2
        turn = np.array([[x, -y, middle[0]], [y, x, middle[1]]])
        self._marks.append(Mark((beziers.transform(slot, turn),), ink, True))

    def hollow(self, points: ArrayLike, *, width: float) -> None:
        """Draw an open line with a white core, at least wide enough to show it, in page mm."""
        wide = max(width, 1.1)
        self.line(points, "hand", width=wide)
        self.line(points, "hand-core", width=wide - 0.55)

    def strip(self, points: ArrayLike, ink: Ink, *, off: Point, thick: float) -> None:
        """Draw a bar along a line's two ends, from ``off`` page mm beside it, ``thick`` high."""
        a, b = (np.array(self.at(point)) for point in np.asarray(points, dtype=float))
        way = np.array(off) / max(float(np.linalg.norm(off)), 1e-9)
        low, high = np.array(off), np.array(off) + way * thick
        corners = [a + low, b + low, b + high, a + high]
        self._marks.append(Mark((beziers.straight(corners, closed=True),), ink, True))

    def clear_spot(self, box: tuple[float, float, float, float], taken: shapely.Geometry) -> Point:
        """Return the place nearest to a page box, outside it, where a badge covers nothing."""
        x0, y0, x1, y1 = box
        middle = np.array([(x0 + x1) / 2, (y0 + y1) / 2])
        for gap in (0.6, 2.0, 4.0, 7.0, 11.0, 16.0, 22.0):
            reach = _BALL + gap
            xs = np.linspace(x0 - reach, x1 + reach, 9)
            ys = np.linspace(y0 - reach, y1 + reach, 9)
            ring = [(x, y) for x in xs for y in (ys[0], ys[-1])]
            ring += [(x, y) for y in ys for x in (xs[0], xs[-1])]
            ring.sort(key=lambda p: (float(np.hypot(*(np.array(p) - middle))), p))
            for spot in ring:
                if taken.distance(shapely.Point(spot)) > _BALL + 0.3:
                    return float(spot[0]), float(spot[1])
        return float(x1 + _BALL), float(middle[1])

    def badge(self, text: str, spot: Point, place: Point) -> None:
        """Draw a number at a page place and a thin line from it to what it names."""
        line = beziers.straight([spot, place], closed=False)
        self._marks.append(Mark((line,), "thin", False))
        self._marks.append(Mark((shapes.circle(place, 0.7),), "arrow-head", True))
        self._marks.append(Mark((shapes.circle(spot, 2 * _BALL),), "ball", True))
        self._words.append(Word(text, (spot[0], spot[1] + 1.05), 3.1, "middle", "light", True))

    def pointer(self, text: str, place: ArrayLike, to: Point, *, size: float = 3.0) -> None:
        """Write words ``to`` page mm from a place, a thin line leading to it."""
        x, y = self.at(place)
        end = (x + to[0], y + to[1])
        self._marks.append(Mark((beziers.straight([(x, y), end], closed=False),), "thin", False))
        self._marks.append(Mark((shapes.circle((x, y), 0.7),), "arrow-head", True))
        side: Anchor = "start" if to[0] > 0.1 else "end" if to[0] < -0.1 else "middle"
        gap = {"start": 0.8, "end": -0.8, "middle": 0.0}[side]
        drop = size * 0.32 if side != "middle" else (-0.9 if to[1] < 0 else size * 0.85)
        self._words.append(Word(text, (end[0] + gap, end[1] + drop), size, side))

    def arrow(self, points: ArrayLike, *, ink: Literal["arrow", "thin"] = "arrow") -> None:
        """Draw an arrow along ``points`` (n, 2), its head at the last."""
        mapped = np.array([self.at(point) for point in np.asarray(points, dtype=float)])
        self._arrow(mapped, ink)

    def swing(self, points: Sequence[Point], *, off: Point = (0.0, 0.0)) -> None:
        """Draw an arrow along the curve of a quadratic Bezier's three points."""
        a, b, c = (np.array(self.at(point)) + np.array(off) for point in points)
        t = np.linspace(0, 1, 17)[:, None]
        self._arrow((1 - t) ** 2 * a + 2 * t * (1 - t) * b + t * t * c, "arrow")

    def _arrow(self, points: FloatArray, ink: Literal["arrow", "thin"]) -> None:
        head = _HEAD if ink == "arrow" else 1.8
        tip = points[-1]
        back = points[max(0, len(points) - 5)] if len(points) > 5 else points[-2]
        along = (tip - back) / max(float(np.linalg.norm(tip - back)), 1e-9)
        across = np.array([-along[1], along[0]]) * head * 0.38
        foot = tip - along * head
        shaft = np.vstack([points[np.linalg.norm(points - tip, axis=1) > head * 0.8], foot])
        line = beziers.straight(shaft, closed=False)
        self._marks.append(Mark((line,), ink, False))
        triangle = beziers.straight([tip, foot + across, foot - across], closed=True)
        self._marks.append(Mark((triangle,), "arrow-head", True))

    def measure(self, start: Point, end: Point, text: str, off: Point) -> None:
        """Draw a dimension line parallel to start .. end, ``off`` page mm away, with its number."""
        a, b = np.array(self.at(start)), np.array(self.at(end))
        shift = np.array(off)
        for foot in (a, b):
            reach = foot + shift * (1 + 1.2 / max(float(np.linalg.norm(shift)), 1e-9))
            self._marks.append(
                Mark((beziers.straight([foot + shift * 0.15, reach], closed=False),), "thin", False)
            )
        p, q = a + shift, b + shift
        middle = (p + q) / 2
        self._marks.append(Mark((beziers.straight([p, q], closed=False),), "thin", False))
        long = float(np.linalg.norm(q - p)) > 5
        for tip, other in ((p, q), (q, p)) if long else ():
            self._arrow(np.array([tip + (other - tip) * 0.4, tip]), "thin")
        upright = abs(b[0] - a[0]) < abs(b[1] - a[1])
        if upright:
            side: Anchor = "start" if off[0] >= 0 else "end"
            place = (middle[0] + (1.2 if off[0] >= 0 else -1.2), middle[1] + 1.0)
            self._words.append(Word(text, place, 3.0, side))
        elif text_width(text, 3.0) > abs(q[0] - p[0]) - 2:
            self._words.append(Word(text, (max(p[0], q[0]) + 1.5, middle[1] + 1.0), 3.0, "start"))
        else:
            drop = -1.0 if off[1] <= 0 else 3.4
            self._words.append(Word(text, (middle[0], middle[1] + drop), 3.0))

    def figure(
        self, alt: str, caption: str = "", *, pad: float = 1.0, true_size: bool = False
    ) -> Figure:
        """Return the finished drawing, moved so that its corner is 0 0."""
        boxes = [
            np.add(beziers.bounds(line), [-pad, -pad, pad, pad])
            for mark in self._marks
            for line in mark.lines
        ]
        boxes += [np.array(word_box(word)) for word in self._words]
        low, high = np.array(boxes)[:, :2].min(axis=0), np.array(boxes)[:, 2:].max(axis=0)
        move = np.array([[1.0, 0, -low[0]], [0, 1, -low[1]]])
        marks = tuple(
            Mark(tuple(beziers.transform(x, move) for x in m.lines), m.ink, m.closed, m.width)
            for m in self._marks
        )
        words = tuple(
            Word(
                w.text,
                (w.at[0] - float(low[0]), w.at[1] - float(low[1])),
                w.size,
                w.anchor,
                w.tone,
                w.bold,
            )
            for w in self._words
        )
        size = (float(high[0] - low[0]), float(high[1] - low[1]))
        return Figure(alt, size, marks, words, caption, true_size)


def word_box(word: Word) -> tuple[float, float, float, float]:
    """Return the box that words take on the page, by the mean width of letters."""
    width = text_width(word.text, word.size) * (1.06 if word.bold else 1.0)
    left = {"start": 0.0, "middle": -width / 2, "end": -width}[word.anchor]
    x, y = word.at
    return x + left, y - word.size * 0.72, x + left + width, y + word.size * 0.24


def text_width(text: str, size: float) -> float:
    """Return about how long words of a type size run, mm."""
    letters = sum(0.84 if c in _WIDE else 0.29 if c in _SLIM else 0.52 for c in text)
    return letters * size


def fitting(size: Point, room: Point, largest: float = 1.0) -> float:
    """Return the scale at which ``size`` fits ``room``, no larger than ``largest``."""
    return min(largest, room[0] / max(size[0], 1e-9), room[1] / max(size[1], 1e-9))


def _rectangle(x: float, y: float, half_wide: float, half_high: float) -> Contour:
    return shapes.rectangle(x - half_wide, y - half_high, x + half_wide, y + half_high)


def _polygons(shape: shapely.Geometry) -> list[shapely.Polygon]:
    return [
        piece
        for piece in shapely.get_parts(shape)
        if piece.geom_type == "Polygon" and not piece.is_empty
    ]
