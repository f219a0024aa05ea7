"""A piece while it is being drawn, in whatever frame suits it; finished with its corner at 0 0."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Literal

import numpy as np

from trace2pop import limits
from trace2pop.geometry import beziers
from trace2pop.model.outline import Contour, Outline
from trace2pop.model.pieces import Face, Fold, Label, Part, Stroke
from trace2pop.model.stock import Role, Stock

Point = tuple[float, float]

_LETTER_WIDTH = 0.56
"""Mean advance of a sans-serif letter, in text sizes."""


class Drawing:
    """Gathers the strokes of one piece."""

    def __init__(self) -> None:
        self._strokes: list[Stroke] = []
        self._labels: list[Label] = []

    def outline(self, outline: Outline) -> None:
        """Cut the piece's own outline, and its holes before it."""
        for number, hole in enumerate(outline.holes, start=1):
            self.hole(f"hole-{number}", hole)
        self._strokes.append(Stroke("outline", "cut", outline.outer, closed=True))

    def hole(self, name: str, contour: Contour, *, slit: bool = False) -> None:
        """Cut a closed contour inside the piece."""
        self._strokes.append(Stroke(name, "cut", contour, closed=True, inner=True, slit=slit))

    def slit(self, name: str, start: Point, end: Point) -> None:
        """Cut an open straight line inside the piece."""
        line = beziers.straight([start, end], closed=False)
        self._strokes.append(Stroke(name, "cut", line, closed=False, inner=True, slit=True))

    def score(self, name: str, start: Point, end: Point, fold: Fold) -> None:
        """Score a straight fold line."""
        line = beziers.straight([start, end], closed=False)
        self._strokes.append(Stroke(name, "score", line, closed=False, fold=fold))

    def note(self, name: str, points: Iterable[Point], *, closed: bool = False) -> None:
        """Draw a line for the reader, never cut."""
        line = beziers.straight(list(points), closed=closed)
        self._strokes.append(Stroke(name, "note", line, closed=closed))

    def label(
        self,
        text: str,
        at: Point,
        *,
        size: float = 3.0,
        anchor: Literal["start", "middle", "end"] = "middle",
        turn_deg: float = 0.0,
        room: float | None = None,
    ) -> None:
        """Write words for the reader; ``room`` is the longest run they may take, in mm."""
        if room is not None:
            size = min(size, room / (_LETTER_WIDTH * max(len(text), 1)))
        self._labels.append(Label(text, at, round(size, 2), anchor, turn_deg))

    def grain(self, at: Point, grain_deg: float, length: float) -> None:
        """Draw the grain's direction as a double arrow."""
        along = np.array([np.cos(np.radians(grain_deg)), np.sin(np.radians(grain_deg))])
        across = np.array([-along[1], along[0]])
        for number, sign in enumerate((-1, 1), start=1):
            tip = np.array(at) + sign * along * length / 2
            barb = tip - sign * along * length / 6
            head = [barb + across * length / 12, tip, barb - across * length / 12]
            self.note(f"grain-head-{number}", [(float(x), float(y)) for x, y in head])
        ends = [np.array(at) - along * length / 2, np.array(at) + along * length / 2]
        self.note("grain", [(float(x), float(y)) for x, y in ends])

    def part(
        self,
        name: str,
        title: str,
        role: Role,
        stock: Stock,
        *,
        on_card: bool = False,
        face_up: Face = "front",
        grain_deg: float = 90.0,
        printed: bool = False,
    ) -> Part:
        """Return the piece, moved so that its box starts at 0 0; scores first, outline last.

        ``on_card`` says that the drawing is in card coordinates, so that the piece has an origin.
        """
        boxes = [beziers.bounds(stroke.line) for stroke in self._strokes if stroke.op == "cut"]
        left, top = min(box[0] for box in boxes), min(box[1] for box in boxes)
        right, bottom = max(box[2] for box in boxes), max(box[3] for box in boxes)
        shift = np.array([-left, -top])
        order = {"score": 0, "cut": 1, "art": 3, "note": 3}
        strokes = sorted(
            (replace(stroke, line=stroke.line + shift) for stroke in self._strokes),
            key=lambda stroke: order[stroke.op] + (stroke.op == "cut" and not stroke.inner),
        )
        return Part(
            name=name,
            title=title,
            role=role,
            stock=stock,
            size=(right - left, bottom - top),
            strokes=tuple(strokes),
            labels=tuple(
                replace(label, at=(label.at[0] - left, label.at[1] - top)) for label in self._labels
            ),
            origin=(left, top) if on_card else None,
            face_up=face_up,
            fold_face=face_up,
            grain_deg=grain_deg,
            printed=printed,
        )


def scored_run(start: float, end: float) -> tuple[float, float] | None:
    """Return a score's ends between two edges, kept clear of both; None where nothing is left."""
    edge = limits.SCORE_EDGE.value
    return (start + edge, end - edge) if end - start > 2 * edge else None
