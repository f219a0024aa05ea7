"""Makes docs/pictures/thin-sheet.png: what the thin feature stage does with icons at card size.

    python docs/make_thin_sheet.py

The icons are those the tracer is measured on (tests/bench/corpus.py), as large as a 5 x 7 in card
with a rise of 20 mm takes them, for a cutter that cuts 1 mm. npm installs them outside the project.
"""

import sys
from pathlib import Path

import cv2
import numpy as np
import PIL.Image
import shapely
from numpy.typing import NDArray

ROOT = Path(__file__).parent.parent
sys.path[:0] = [str(ROOT)]

from tests.bench import corpus
from tests.examples import CARD, CUTTER, STOCK
from tests.outlines import motif_of
from trace2pop.errors import Trace2popError
from trace2pop.geometry import beziers
from trace2pop.model.card import CutMotif, PlacedMotif
from trace2pop.model.settings import FragileSettings, MotifSettings, SupportSettings
from trace2pop.stages.cuttable import cuttable
from trace2pop.stages.fit import fit

Image = NDArray[np.uint8]

SETTINGS = FragileSettings(min_width=1.0)

COLUMNS = 6
CELL = (320, 280)
PX_PER_MM = 1.48
SHARP = 3
"""Drawn so many times larger, then made smaller."""

PAPER, EDGE, HAND, ADDED = (214, 208, 200), (90, 84, 76), (40, 40, 200), (60, 150, 40)
"""Blue, green, red."""


def main() -> None:
    """Write the sheet and print a line for each icon."""
    cells = [cell(name) for name in (*corpus.DEV, *corpus.HELD_OUT)]
    blank = np.full_like(cells[0], 255)
    cells += [blank] * (-len(cells) % COLUMNS)
    rows = [np.hstack(cells[k : k + COLUMNS]) for k in range(0, len(cells), COLUMNS)]
    sheet = np.vstack(rows)
    small = cv2.resize(sheet, None, fx=1 / SHARP, fy=1 / SHARP, interpolation=cv2.INTER_AREA)
    picture = PIL.Image.fromarray(small[..., ::-1]).quantize(32)
    picture.save(ROOT / "docs" / "pictures" / "thin-sheet.png", optimize=True)


def at_size(name: str) -> PlacedMotif:
    """Return an icon as large as the card takes it, or as the window does."""
    shape = corpus.silhouette(name)
    left, head, right, foot = shape.bounds
    scale = min(CARD.window[0] / (right - left), CARD.window[1] / (foot - head))
    plain = shapely.transform(shape, lambda points: points * scale).simplify(0.01)
    motif = motif_of(beziers.from_polygon(plain))
    try:
        return fit(motif, CARD, MotifSettings(), SupportSettings(), SETTINGS)
    except Trace2popError:
        middle = np.array(plain.envelope.centroid.coords[0])
        to_card = np.column_stack([np.eye(2), [-middle[0], CARD.height / 2 - middle[1]]])
        return PlacedMotif(
            motif,
            CARD,
            1.0,
            0.0,
            to_card,
            beziers.transform_outline(motif.outline, to_card),
            symmetric=False,
            limited_by=(),
        )


def cell(name: str) -> Image:
    """Return the picture of one icon: paper, parts by hand with their numbers, what was added."""
    placed = at_size(name)
    picture = np.full((CELL[1] * SHARP, CELL[0] * SHARP, 3), 255, np.uint8)
    try:
        cut = cuttable(placed, SETTINGS, STOCK, CUTTER)
    except Trace2popError as error:
        _text(picture, str(error)[:60], (8, 20), 0.4)
        print(f"{name}: {error}")
        return picture
    drawn = beziers.polygon(placed.outline)
    left = beziers.polygon(cut.outline)
    _fill(picture, left, PAPER)
    _fill(picture, left.difference(drawn.buffer(0.02)), ADDED)
    for ring in (left.exterior, *left.interiors):
        cv2.polylines(picture, [_px(np.asarray(ring.coords))], True, EDGE, SHARP, cv2.LINE_AA, 4)
    for part in cut.hand_parts:
        for line in (part.path, *part.branches):
            width = max(2, round(part.diameter * PX_PER_MM * SHARP))
            cv2.polylines(picture, [_px(line)], False, HAND, width, cv2.LINE_AA, 4)
        if len(cut.hand_parts) <= 16:
            at = _px(part.path[-1:])[0] / 16
            _text(picture, str(part.id), (at[0] / SHARP + 2, at[1] / SHARP - 2), 0.4)
    _text(picture, name.split(":")[1], (8, 18), 0.5)
    _text(picture, counts(cut), (8, CELL[1] - 8), 0.42)
    print(f"{name}: scale {placed.scale:.2f}, {counts(cut)}")
    return picture


def counts(cut: CutMotif) -> str:
    """Return how many of each kind there are, in words."""
    kinds = [(feature.kind, feature.choice) for feature in cut.features]
    words = {"hand": "by hand", "thicken": "wider", "close": "closed"}
    rows = [
        f"{kinds.count(pair)} {pair[0]}{'s' * (kinds.count(pair) > 1)} {words[pair[1]]}"
        for pair in dict.fromkeys(kinds)
    ]
    return ", ".join(rows) or "nothing too thin"


def _px(points: NDArray[np.float64]) -> NDArray[np.int32]:
    middle = np.array([0.0, CARD.height / 2])
    place = ((points - middle) * PX_PER_MM + np.array(CELL) / 2) * SHARP
    return np.rint(place * 16).astype(np.int32)


def _fill(picture: Image, shape: shapely.Geometry, colour: tuple[int, int, int]) -> None:
    for part in shapely.get_parts(shape):
        if part.geom_type == "Polygon" and part.area > 0.01:
            rings = [_px(np.asarray(ring.coords)) for ring in (part.exterior, *part.interiors)]
            cv2.fillPoly(picture, rings, colour, cv2.LINE_AA, 4)


def _text(picture: Image, text: str, at: tuple[float, float], size: float) -> None:
    place = (round(at[0] * SHARP), round(at[1] * SHARP))
    font = cv2.FONT_HERSHEY_SIMPLEX
    cv2.putText(picture, text, place, font, size * SHARP, (0, 0, 0), SHARP, cv2.LINE_AA)


if __name__ == "__main__":
    main()
