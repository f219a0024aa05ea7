"""Sheets for 1 to 12 copies: how many, against what no layout can beat, for each way of laying out.

Run with ``pytest -m bench tests/bench/test_sheets_bench.py -s``. Times are given as a ratio to a
reference workload in the same run: one 2-D Fourier transform of 2,048 x 2,048 numbers.
"""

import math
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from tests import examples
from tests.bench.sheet_bounds import most_by_trying
from trace2pop import data
from trace2pop.formats.piece_files import piece_files
from trace2pop.geometry import beziers
from trace2pop.mechanism.sheet import usable
from trace2pop.model.pieces import Part, Sheets
from trace2pop.model.settings import (
    CutterSettings,
    FileSettings,
    MotifSettings,
    PictureSettings,
    Settings,
    StockSettings,
)
from trace2pop.pipeline import make_card
from trace2pop.stages.parts import parts
from trace2pop.stages.sheets import sheets
from trace2pop.stages.sheets.bound import least_sheets
from trace2pop.stages.sheets.kinds import Room
from trace2pop.stages.sheets.layouts import laid_out
from trace2pop.stages.sheets.stage import _kind as kind_of

PARTS = parts(examples.plan(), examples.STOCKS, examples.CUTTER)

pytestmark = pytest.mark.bench


def reference_seconds() -> float:
    field = np.random.default_rng(1).random((2048, 2048))
    start = time.process_time()
    np.fft.fft2(field)
    return time.process_time() - start


def area(part: Part) -> float:
    outline = next(stroke for stroke in part.strokes if stroke.id == "outline")
    return float(shapely.Polygon(beziers.flatten(outline.line)).area)


def card_sheets(result: Sheets) -> int:
    """Return the sheets that hold neither the printed motif nor the mock-up."""
    names = [{place.part for place in sheet.placements} for sheet in result.sheets]
    return sum(not any(n == "motif" or n.startswith("mockup") for n in found) for found in names)


def lower_bound(copies: int) -> int:
    room = usable(examples.STOCK, examples.CUTTER)
    card = [part for part in PARTS.parts if part.set == "card" and not part.printed]
    alone = sum(all(side > half / 2 for side, half in zip(p.size, room, strict=True)) for p in card)
    return max(math.ceil(copies * sum(map(area, card)) / math.prod(room)), copies * alone)


def test_layouts() -> None:
    unit = reference_seconds()
    print(f"\nreference: {unit * 1000:.0f} ms\n copies bound  auto  time boxes  time tight  time")
    for copies in (1, 2, 3, 4, 6, 8, 12):
        row = [f"{copies:7d} {lower_bound(copies):5d}"]
        for layout in ("auto", "boxes", "tight"):
            start = time.process_time()
            result = sheets(
                PARTS,
                examples.CUTTER,
                CutterSettings(copies=copies, layout=layout),  # type: ignore[arg-type]  # a word
            )
            taken = time.process_time() - start
            row.append(f"{card_sheets(result):5d} {taken / unit:5.1f}")
            assert card_sheets(result) <= lower_bound(copies) + 1
            assert taken < 5
        print(" ".join(row))


def test_files() -> None:
    unit = reference_seconds()
    result = sheets(PARTS, examples.CUTTER, CutterSettings())
    print(f"\nreference: {unit * 1000:.0f} ms")
    for formats in ("svg", "svg,dxf", "svg,pdf", "svg,png"):
        start = time.process_time()
        files = piece_files(result, FileSettings(formats=formats))
        taken = time.process_time() - start
        print(f"{formats:8s} {taken / unit:5.1f} x reference, {len(files)} files")


SAMPLES = Path(__file__).parents[2] / "samples"
OPEN = {("wader", "plain", "mat-a4"): 3}
"""Where more than one sheet lies between what was found and what is proved: see docs/cutting.md."""


@pytest.mark.parametrize("sample", ["dragonfly", "lily", "wader"])
@pytest.mark.parametrize("paper", ["printed", "plain"])
@pytest.mark.parametrize("cutter", ["mat-12x12", "mat-a4"])
def test_samples(sample: str, paper: str, cutter: str) -> None:
    """All pieces of one stock, motif among them where it is plain, for 1 to 12 copies."""
    stock = "cover-216" if cutter == "mat-12x12" else "cover-216-a4"
    roles = ("motif", "base", "beam", "outer", "mockup", "gauge")
    settings = Settings(
        picture=PictureSettings(dpi=300.0),
        motif=MotifSettings(paper=paper),  # type: ignore[arg-type]  # a word
        stock=StockSettings(**dict.fromkeys(roles, stock)),  # type: ignore[arg-type]  # names
        cutter=CutterSettings(name=cutter),
    )
    made = make_card(SAMPLES / sample / "scan.jpg", settings).sheets.parts.parts
    mine = data.cutter_of(settings.cutter)
    one = [
        kind_of(part, mine)
        for part in made
        if part.set == "card" and not part.printed and part.stock.name == stock
    ]
    room = Room(*usable(data.stocks()[stock], mine), settings.cutter.gap)
    most = [most_by_trying(kind, room) for kind in one]
    row = []
    for copies in (1, 2, 4, 8, 12):
        kinds = [replace(kind, count=kind.count * copies) for kind in one]
        found = len(laid_out(kinds, room, "auto"))
        proved = least_sheets(kinds, room, most)
        row.append(f"{copies}: {found}/{proved}")
        assert proved <= found <= proved + OPEN.get((sample, paper, cutter), 1)
    print(f"\n{sample}, {paper}, {cutter}: sheets found/proved needed: {', '.join(row)}")
