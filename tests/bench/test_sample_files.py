"""The samples' files, read back by libraries that had no part in writing them.

Run with ``pytest -m bench tests/bench/test_sample_files.py -s``. Bars: sizes within 0.01 mm, areas
within 0.01 %, the same layers, pixels of all formats overlapping by 0.995, Chromium at the stated
size. One card on A4, and a workshop's twelve on 12 x 12 in sheets; of sheets laid out alike one is
looked at.
"""

from itertools import product
from pathlib import Path

import numpy as np
import pytest

from tests.outside import test_formats_read_back as reader
from trace2pop.model.pieces import Sheet, Sheets
from trace2pop.model.settings import CutterSettings, PictureSettings, Settings
from trace2pop.pipeline import make_card

pytestmark = pytest.mark.bench

SAMPLES = Path(__file__).parents[2] / "samples"


CUTTERS = {
    "one on A4": CutterSettings(name="mat-a4"),
    "twelve on 12 in": CutterSettings(name="mat-12x12", copies=12),
}


@pytest.fixture(
    scope="module", params=list(product(["dragonfly", "lily", "wader"], CUTTERS)), ids=", ".join
)
def laid(request: pytest.FixtureRequest) -> Sheets:
    sample, cutter = request.param
    settings = Settings(picture=PictureSettings(dpi=300.0), cutter=CUTTERS[cutter])
    made = make_card(SAMPLES / sample / "scan.jpg", settings).sheets
    print(f"\n{sample}, {cutter}: {len(made.sheets)} sheets, {len(different(made))} different")
    return made


def different(laid: Sheets) -> list[Sheet]:
    """Return one of each kind of sheets that are laid out alike."""
    kinds = {
        tuple(
            (place.part, place.x, place.y, place.rotation_deg) for place in sheet.placements
        ): sheet
        for sheet in reversed(laid.sheets)
    }
    return list(reversed(kinds.values()))


def test_sizes_areas_and_layers(laid: Sheets) -> None:
    for part in laid.parts.parts:
        reader.test_svg_has_the_pieces_size_and_area(part)
        reader.test_every_cut_is_one_closed_path_but_for_slits(part)
        for version, acad in (("R2000", "AC1015"), ("R12", "AC1009")):
            reader.test_dxf_has_the_pieces_size_and_area(part, version, acad)
    for sheet in different(laid):
        reader.assert_layers_match(sheet, laid.parts)
    reader.assert_pdf_shows_every_piece(laid)


def test_pixels(laid: Sheets, tmp_path: Path) -> None:
    for sheet in different(laid):
        shares = reader.overlaps(sheet, laid.parts, tmp_path)
        print(sheet.name, {name: round(share, 4) for name, share in shares.items()})
        assert min(shares.values()) > 0.995


def test_browser(laid: Sheets, tmp_path: Path) -> None:
    parts = laid.parts.parts
    found = reader.browser_sizes(parts, tmp_path)
    off = np.abs(found - np.array([part.size for part in parts])).max()
    print(f"furthest off in Chromium: {off:.4f} mm")
    assert off < 0.01
