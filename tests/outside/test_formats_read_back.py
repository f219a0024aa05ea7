"""Files of pieces and sheets, read back by libraries that had no part in writing them.

svgpathtools and a browser read SVG, ezdxf reads DXF, PDFium reads PDF.
"""

import ctypes
import io
import math
import re
import shutil
import subprocess
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

import cv2
import ezdxf
import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
import svgpathtools
from ezdxf import path as dxf_path

from tests import examples
from trace2pop.formats.dxf import part_dxf, sheet_dxf
from trace2pop.formats.print_pdf import artwork_picture, print_files
from trace2pop.formats.sheet_pdf import sheet_png, sheets_pdf
from trace2pop.formats.svg import CUT_WIDTH, part_svg, sheet_svg
from trace2pop.model.pieces import Part, Parts, Sheet, Sheets
from trace2pop.model.settings import CutterSettings, PrintSettings
from trace2pop.stages.parts import parts
from trace2pop.stages.sheets import mockup_pages, sheets

PARTS = parts(examples.plan(), examples.STOCKS, examples.CUTTER)
SHEETS = sheets(PARTS, examples.CUTTER, CutterSettings())
NS = {"svg": "http://www.w3.org/2000/svg"}
SIZE, AREA = 0.01, 1e-4
PER_MM = 4 * 96 / 25.4
"""Pixels of pictures that are compared."""

by_part = pytest.mark.parametrize("part", PARTS.parts, ids=lambda part: part.name)
by_sheet = pytest.mark.parametrize("sheet", SHEETS.sheets, ids=lambda sheet: sheet.name)


def expected_area(part: Part) -> float:
    """Return the area inside the outline as svgpathtools integrates the model's own curves."""
    from trace2pop.geometry import beziers

    outline = next(stroke for stroke in part.strokes if stroke.id == "outline")
    return abs(float(beziers.to_path(outline.line).area()))


def root(svg: bytes) -> ET.Element:
    return ET.fromstring(svg)


def paths(svg: bytes) -> dict[str, tuple[ET.Element, svgpathtools.Path]]:
    found = root(svg).iterfind(".//svg:path[@id]", NS)
    return {item.attrib["id"]: (item, svgpathtools.parse_path(item.attrib["d"])) for item in found}


def extent(path: svgpathtools.Path) -> tuple[float, float]:
    x0, x1, y0, y1 = path.bbox()
    return x1 - x0, y1 - y0


@by_part
def test_svg_has_the_pieces_size_and_area(part: Part) -> None:
    svg = part_svg(part)
    top = root(svg)
    width, height = (re.fullmatch(r"([\d.]+)mm", top.attrib[k]) for k in ("width", "height"))
    assert width and height
    box = [float(word) for word in top.attrib["viewBox"].split()]
    assert box[:2] == [0, 0]
    assert box[2:] == [float(width[1]), float(height[1])] == pytest.approx(part.size, abs=1e-4)
    element, path = paths(svg)[f"{part.name}.outline"]
    assert element.attrib["class"] == "cut"
    assert path.isclosed()
    assert extent(path) == pytest.approx(part.size, abs=SIZE)
    assert abs(path.area()) == pytest.approx(expected_area(part), rel=AREA)


@by_part
def test_every_cut_is_one_closed_path_but_for_slits(part: Part) -> None:
    for element, path in paths(part_svg(part)).values():
        assert len(path.continuous_subpaths()) == 1
        if element.attrib["class"] == "cut" and element.attrib.get("data-op") != "slit":
            assert path.isclosed() and element.attrib["d"].endswith("Z")
        if element.attrib["class"] == "score":
            assert element.attrib["data-fold"] in ("mountain", "valley")
            assert "stroke-dasharray" in element.attrib


@by_sheet
def test_sheet_svg_uses_svg_1_1_and_absolute_paths_only(sheet) -> None:  # type: ignore[no-untyped-def]  # a parameter
    """Elements and attributes of SVG 1.1 (W3C Recommendation, 2011); groups with ids and titles."""
    top = root(sheet_svg(sheet, PARTS))
    known = {"svg", "g", "title", "path", "text"}
    assert {item.tag.split("}")[1] for item in top.iter()} == known
    assert top.attrib["version"] == "1.1"
    ids = [item.attrib["id"] for item in top.iter() if "id" in item.attrib]
    assert len(ids) == len(set(ids))
    for group in top.iterfind(".//svg:g", NS):
        assert group.find("svg:title", NS) is not None
    for item in top.iterfind(".//svg:path", NS):
        assert "transform" not in item.attrib
        assert set(re.findall("[A-Za-z]", item.attrib["d"])) <= set("MLHVCZ")


@by_sheet
def test_sheet_svg_holds_each_piece_at_its_place(sheet) -> None:  # type: ignore[no-untyped-def]  # a parameter
    found = paths(sheet_svg(sheet, PARTS))
    by_name = {part.name: part for part in PARTS.parts}
    for place in sheet.placements:
        _, path = found[f"{place.part}-{place.copy}.outline"]
        part = by_name[place.part]
        size = part.size if place.rotation_deg % 180 == 0 else part.size[::-1]
        x0, x1, y0, y1 = path.bbox()
        assert (x0, y0) == pytest.approx((place.x, place.y), abs=SIZE)
        assert (x1 - x0, y1 - y0) == pytest.approx(size, abs=SIZE)
        assert abs(path.area()) == pytest.approx(expected_area(part), rel=AREA)


def luminance(colour: str) -> float:
    """Return the relative luminance of WCAG 2.1 (W3C Recommendation, 2018)."""
    values = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in values]
    return float(np.dot(linear, [0.2126, 0.7152, 0.0722]))


def test_colours_are_of_a_published_set_and_readable_on_white() -> None:
    """Okabe and Ito's eight; at least 3 : 1 on white (WCAG 2.1, 1.4.11 for graphics)."""
    okabe_ito = {
        "#000000",
        "#E69F00",
        "#56B4E9",
        "#009E73",
        "#F0E442",
        "#0072B2",
        "#D55E00",
        "#CC79A7",
    }
    used = set(re.findall("#[0-9A-F]{6}", sheet_svg(SHEETS.sheets[1], PARTS).decode()))
    assert used <= okabe_ito
    assert all(1.05 / (luminance(colour) + 0.05) >= 3 for colour in used)


def test_text_is_escaped() -> None:
    odd = replace(PARTS.parts[0], title="<script>\"&' 1 < 2")
    assert root(part_svg(odd)).findtext("svg:title", namespaces=NS) == odd.title


CHROMIUM = shutil.which("chromium") or shutil.which("google-chrome")


def browser_sizes(drawn: Sequence[Part], folder: Path) -> np.ndarray:
    """Return width and height in mm of each piece's SVG as Chromium lays it out.

    CSS Values 3: 1 in = 25.4 mm = 96 px. Measured by the browser itself.
    """
    drawings = "".join(
        part_svg(part).decode().split("?>")[1].replace("<svg", "<svg class=d") for part in drawn
    )
    script = (
        "const sizes = [...document.querySelectorAll('.d')].map(d => d.getBoundingClientRect())"
        ".map(r => r.width + ',' + r.height).join(';'); document.body.textContent = sizes"
    )
    page = folder / "page.html"
    page.write_text(f"<!doctype html><body>{drawings}<script>{script}</script></body>")
    command = [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--dump-dom", page.as_uri()]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=True)
    sizes = re.search(r"<body>([\d.,;]+)", done.stdout)
    assert sizes
    return np.array([pair.split(",") for pair in sizes[1].split(";")], dtype=float) * 25.4 / 96


@pytest.mark.skipif(CHROMIUM is None, reason="no Chromium here")
def test_a_browser_shows_svg_at_its_stated_size(tmp_path: Path) -> None:
    wanted = np.array([part.size for part in PARTS.parts])
    assert browser_sizes(PARTS.parts, tmp_path) == pytest.approx(wanted, abs=SIZE)


def dxf(data: bytes) -> "ezdxf.document.Drawing":
    return ezdxf.read(io.StringIO(data.decode("cp1252")))


def dxf_outlines(data: bytes, within: float = 0.001) -> list[np.ndarray]:
    space = dxf(data).modelspace()
    return [
        np.array([(p.x, p.y) for p in dxf_path.make_path(item).flattening(within)])
        for item in space.query('*[layer=="CUT"]')
    ]


def shoelace(points: np.ndarray) -> float:
    x, y = points.T
    return abs(float(x @ np.roll(y, 1) - y @ np.roll(x, 1))) / 2


@pytest.mark.parametrize(("version", "acad"), [("R2000", "AC1015"), ("R12", "AC1009")])
@by_part
def test_dxf_has_the_pieces_size_and_area(part: Part, version, acad: str) -> None:  # type: ignore[no-untyped-def]  # a literal
    data = part_dxf(part, version)
    drawing = dxf(data)
    assert not drawing.audit().errors
    assert drawing.dxfversion == acad
    assert drawing.header.get("$INSUNITS") == (4 if version == "R2000" else None)
    (outline,) = dxf_outlines(data)
    assert np.ptp(outline, axis=0) == pytest.approx(part.size, abs=SIZE)
    assert outline.min(axis=0) == pytest.approx([0, 0], abs=SIZE)
    assert shoelace(outline) == pytest.approx(expected_area(part), rel=AREA)


def test_dxf_splines_are_the_curves_themselves() -> None:
    motif = PARTS.parts[0]
    (outline,) = dxf_outlines(part_dxf(motif, curves="splines"), within=1e-5)
    assert shoelace(outline) == pytest.approx(expected_area(motif), rel=1e-6)


def test_dxf_polylines_stay_within_two_hundredths_of_the_curve() -> None:
    motif = PARTS.parts[0]
    space = dxf(part_dxf(motif)).modelspace()
    points = np.array(space.query('*[layer=="CUT"]').first.get_points("xy"))
    points[:, 1] = motif.size[1] - points[:, 1]
    fine = np.array(
        [
            motif_path.point(t)
            for motif_path in [outline_path(motif)]
            for t in np.linspace(0, 1, 20000)
        ]
    )
    import shapely

    ring = shapely.LinearRing(points)
    gaps = shapely.distance(shapely.points(fine.real, fine.imag), ring)
    assert gaps.max() <= 0.02


def outline_path(part: Part) -> svgpathtools.Path:
    return paths(part_svg(part))[f"{part.name}.outline"][1]


@by_sheet
def test_dxf_layers_tell_operations_apart_and_match_the_svg(sheet) -> None:  # type: ignore[no-untyped-def]  # a parameter
    assert_layers_match(sheet, PARTS)


def assert_layers_match(sheet: Sheet, pieces: Parts) -> None:
    drawing = dxf(sheet_dxf(sheet, pieces))
    counts: dict[str, int] = {}
    for item in drawing.modelspace().query("LWPOLYLINE"):
        counts[item.dxf.layer] = counts.get(item.dxf.layer, 0) + 1
    svg = [element for element, _ in paths(sheet_svg(sheet, pieces)).values()]
    folds = [element.attrib.get("data-fold") for element in svg]
    slits = sum(element.attrib.get("data-op") == "slit" for element in svg)
    assert counts.get("SCORE-VALLEY", 0) == folds.count("valley")
    assert counts.get("SCORE-MOUNTAIN", 0) == folds.count("mountain")
    assert counts.get("SLIT", 0) == slits
    cuts = sum(element.attrib["class"] == "cut" for element in svg)
    assert counts.get("CUT", 0) + counts.get("CUT-INNER", 0) == cuts - slits


def test_pdf_pages_have_the_sheets_sizes() -> None:
    document = pypdfium2.PdfDocument(sheets_pdf(SHEETS.sheets, PARTS, "sheets"))
    for page, sheet in zip(document, SHEETS.sheets, strict=True):
        found = np.array(page.get_size()) * 25.4 / 72
        assert found == pytest.approx((sheet.width, sheet.height), abs=SIZE)


def pdf_paths(document: pypdfium2.PdfDocument, number: int) -> list[np.ndarray]:
    """Return every path of a page as PDFium holds it, flattened, (n, 2) in mm, y downwards.

    Segments are those of ISO 32000-1, 8.5.2: moves, lines and cubic Beziers of three points each.
    """
    page = document[number]
    height = page.get_height()
    found = []
    for index in range(pdfium.FPDFPage_CountObjects(page.raw)):
        found += list(_paths_in(pdfium.FPDFPage_GetObject(page.raw, index), np.eye(3)))
    return [(line * [1, -1] + [0, height]) * 25.4 / 72 for line in found]


def _paths_in(item: object, outer: np.ndarray) -> Iterator[np.ndarray]:
    place = pdfium.FS_MATRIX()
    pdfium.FPDFPageObj_GetMatrix(item, place)
    matrix = outer @ [[place.a, place.c, place.e], [place.b, place.d, place.f], [0, 0, 1]]
    kind = pdfium.FPDFPageObj_GetType(item)
    if kind == pdfium.FPDF_PAGEOBJ_FORM:
        for index in range(pdfium.FPDFFormObj_CountObjects(item)):
            yield from _paths_in(pdfium.FPDFFormObj_GetObject(item, index), matrix)
    if kind != pdfium.FPDF_PAGEOBJ_PATH:
        return
    points, curve = [], []
    x, y = ctypes.c_float(), ctypes.c_float()
    for index in range(pdfium.FPDFPath_CountSegments(item)):
        segment = pdfium.FPDFPath_GetPathSegment(item, index)
        pdfium.FPDFPathSegment_GetPoint(segment, x, y)
        point = np.array([x.value, y.value])
        if pdfium.FPDFPathSegment_GetType(segment) == pdfium.FPDF_SEGMENT_BEZIERTO:
            curve.append(point)
            if len(curve) == 3:
                t = np.linspace(0, 1, 33)[1:, None]
                a, b, c, d = points[-1], *curve
                points += list(
                    (1 - t) ** 3 * a + 3 * (1 - t) ** 2 * t * b + 3 * (1 - t) * t**2 * c + t**3 * d
                )
                curve = []
        else:
            points.append(point)
    yield np.array(points) @ matrix[:2, :2].T + matrix[:2, 2]


def assert_pdf_shows_every_piece(sheets_: Sheets) -> None:
    """Find each piece's outline among the page's paths: place, size, area."""
    by_name = {part.name: part for part in sheets_.parts.parts}
    document = pypdfium2.PdfDocument(sheets_pdf(sheets_.sheets, sheets_.parts, "sheets"))
    for number, sheet in enumerate(sheets_.sheets):
        lines = [line for line in pdf_paths(document, number) if len(line) > 3]
        boxes = np.array([[*line.min(axis=0), *line.max(axis=0)] for line in lines])
        for place in sheet.placements:
            part = by_name[place.part]
            size = part.size if place.rotation_deg % 180 == 0 else part.size[::-1]
            wanted = np.array([place.x, place.y, place.x + size[0], place.y + size[1]])
            nearest = int(np.abs(boxes - wanted).max(axis=1).argmin())
            assert boxes[nearest] == pytest.approx(wanted, abs=SIZE)
            assert shoelace(lines[nearest]) == pytest.approx(expected_area(part), rel=AREA)


def test_pdf_holds_each_piece_at_its_place_size_and_area() -> None:
    assert_pdf_shows_every_piece(SHEETS)


def filled(picture: np.ndarray) -> np.ndarray:
    """Return what thin closed lines enclose, as far as the middle of the lines.

    That is everything a flood from outside doesn't reach, drawn in by half a line.
    """
    grey = picture if picture.ndim == 2 else cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    lines = np.pad((grey < 160).astype(np.uint8), 1)
    flooded = np.pad(lines, 1)
    cv2.floodFill(lines, flooded, (0, 0), 2)
    inside = (lines[1:-1, 1:-1] != 2).astype(np.uint8)
    return np.asarray(cv2.erode(inside, disc(CUT_WIDTH / 2, PER_MM)) > 0)


def overlap(a: np.ndarray, b: np.ndarray) -> float:
    rows, columns = min(a.shape[0], b.shape[0]), min(a.shape[1], b.shape[1])
    a, b = a[:rows, :columns], b[:rows, :columns]
    return float((a & b).sum() / (a | b).sum())


def overlaps(sheet: Sheet, pieces: Parts, folder: Path) -> dict[str, float]:
    """Return how far each kind of file covers what the DXF's outlines enclose.

    SVG by Chromium, PDF and PNG by PDFium and OpenCV, DXF by filling what ezdxf reads.
    """
    svg = sheet_svg(sheet, pieces).decode()
    # Only the cuts: legend, notes and rulers would be filled differently.
    svg = re.sub(r'<(path|text) [^>]*class="(note|score)"[^>]*?(/>|>[^<]*</text>)', "", svg)
    (folder / "sheet.svg").write_text(svg)
    shot = folder / "sheet.png"
    wide, high = (math.ceil(side * 96 / 25.4) for side in (sheet.width, sheet.height))
    command = [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars"]
    command += ["--force-device-scale-factor=4", f"--window-size={wide},{high}"]
    command += [f"--screenshot={shot}", (folder / "sheet.svg").as_uri()]
    subprocess.run(command, capture_output=True, timeout=60, check=True)
    shown = {"svg": filled(cv2.imread(str(shot), cv2.IMREAD_GRAYSCALE))}

    page = pypdfium2.PdfDocument(sheets_pdf([sheet], pieces, "sheet"))[0]
    picture = page.render(scale=PER_MM * 25.4 / 72).to_numpy()[..., :3]
    shown["pdf"] = inside_the_edge(filled(picture), sheet.edge * PER_MM)
    png = cv2.imdecode(np.frombuffer(sheet_png(sheet, pieces, 384.0), np.uint8), 1)
    shown["png"] = inside_the_edge(filled(png), sheet.edge * PER_MM)
    drawn = {
        version: drawn_outlines(sheet_dxf(sheet, pieces, version, curves), sheet, shown["svg"])
        for version, curves in (("R2000", "splines"), ("R12", "polylines"))
    }
    shown["R12"] = drawn["R12"]
    return {name: overlap(picture, drawn["R2000"]) for name, picture in shown.items()}


def drawn_outlines(data: bytes, sheet: Sheet, like: np.ndarray) -> np.ndarray:
    canvas = np.zeros(like.shape, np.uint8)
    for outline in dxf_outlines(data):
        points = (outline * [1, -1] + [0, sheet.height]) * PER_MM
        cv2.fillPoly(canvas, [np.rint(points * 16).astype(np.int32)], 1, shift=4)
    return canvas > 0


def inside_the_edge(picture: np.ndarray, edge: float) -> np.ndarray:
    """Return the picture without its edge, where rulers and legend lie."""
    inset = math.ceil(edge)
    kept = np.zeros_like(picture)
    kept[inset - 1 : -inset, inset - 1 : -inset] = picture[inset - 1 : -inset, inset - 1 : -inset]
    return kept


@pytest.mark.skipif(CHROMIUM is None, reason="no Chromium here")
def test_all_formats_draw_the_same_pieces(tmp_path: Path) -> None:
    for name, share in overlaps(SHEETS.sheets[1], PARTS, tmp_path).items():
        assert share > 0.995, name


@cache
def printed_documents() -> dict[str, bytes]:
    tiles = tiled_pages()
    pages = mockup_pages(PARTS, "letter")
    return {
        "sheets": sheets_pdf(SHEETS.sheets, PARTS, "sheets"),
        "mock-up": sheets_pdf(pages, PARTS, "mock-up"),
        "tiles": sheets_pdf(tiles[1], tiles[0], "tiles"),
        **print_files(SHEETS, PrintSettings()),
    }


def tiled_pages() -> tuple[Parts, tuple[Sheet, ...]]:
    base = next(part for part in PARTS.parts if part.name == "base")
    pieces = replace(PARTS, parts=(replace(base, set="mockup", size=(400.0, 260.0)),))
    return pieces, mockup_pages(pieces, "a4")


@pytest.mark.parametrize("name", ["sheets", "mock-up", "tiles", "sheet-1.pdf", "check.pdf"])
def test_check_rulers_on_every_page_are_as_long_as_they_say(name: str) -> None:
    """100 mm and 4 in, measured on PDFium's rendering of each page."""
    scale, per_mm = 300 / 72, 300 / 25.4
    for page in pypdfium2.PdfDocument(printed_documents()[name]):
        picture = page.render(scale=scale).to_numpy()[..., :3].min(axis=2) < 128
        line = round(5.2 * per_mm)
        across = np.flatnonzero(picture[line - 2 : line + 3].any(axis=0))
        down = np.flatnonzero(picture[:, line - 2 : line + 3].any(axis=1))
        assert longest_run(across) / per_mm == pytest.approx(100, abs=0.3)
        assert longest_run(down) / per_mm == pytest.approx(101.6, abs=0.3)


def longest_run(places: np.ndarray) -> int:
    return max(len(run) for run in np.split(places, np.flatnonzero(np.diff(places) > 1) + 1))


def test_print_page_and_cut_sheet_share_one_frame() -> None:
    """Render both with PDFium: the artwork's bleed lies 3 mm round the cut, on the same page."""
    sheet = SHEETS.sheets[0]
    printed = print_files(SHEETS, PrintSettings())["sheet-1.pdf"]
    per_mm = 10.0
    page = pypdfium2.PdfDocument(printed)[0]
    assert np.array(page.get_size()) * 25.4 / 72 == pytest.approx(
        (sheet.width, sheet.height), abs=SIZE
    )
    picture = page.render(scale=per_mm * 25.4 / 72).to_numpy()[..., :3].astype(int)
    coloured = np.ptp(picture, axis=2) > 40
    outline = outline_on(sheet, per_mm, coloured.shape)
    cut = cv2.dilate(outline, disc(0.0, per_mm))
    beyond = cv2.dilate(outline, disc(3.0, per_mm))
    assert coloured[cut > 0].mean() > 0.9999
    assert overlap(coloured, beyond > 0) > 0.99


def outline_on(sheet, per_mm: float, shape: tuple[int, int]) -> np.ndarray:  # type: ignore[no-untyped-def]  # a sheet
    place = sheet.placements[0]
    path = paths(sheet_svg(sheet, PARTS))[f"{place.part}-{place.copy}.outline"][1]
    points = np.array([path.point(t) for t in np.linspace(0, 1, 4000)])
    mask = np.zeros(shape, np.uint8)
    pixels = np.stack([points.real, points.imag], axis=1) * per_mm
    cv2.fillPoly(mask, [np.rint(pixels * 16).astype(np.int32)], 1, shift=4)
    return mask


def disc(radius: float, per_mm: float) -> np.ndarray:
    size = 2 * round(radius * per_mm) + 1
    return cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))


def test_artwork_is_the_picture_at_its_final_place() -> None:
    """The example's colours run evenly over the picture, so a colour tells its place.

    Red rises from 0 to 200 over the picture's width; a drawn pixel is 0.1 mm, doubled on the card.
    """
    cut = examples.cut_motif()
    picture = artwork_picture(cut, dpi=254.0)
    columns = cut.placed.motif.artwork.rgb.shape[1]
    for u in (-60.0, 0.0, 50.0):
        x, y = (u + 90 + 3) * 10, (60 + 3) * 10
        red = picture[int(y), int(x), 0]
        column = (u + 90 + 20) / 2 * 10
        assert red == pytest.approx(column * 200 / columns, abs=1.5)


def test_preview_has_the_sheets_proportions() -> None:
    sheet = SHEETS.sheets[1]
    picture = cv2.imdecode(np.frombuffer(sheet_png(sheet, PARTS, 96.0), np.uint8), 1)
    wanted = round(sheet.height / 25.4 * 96), round(sheet.width / 25.4 * 96)
    assert picture.shape[:2] == pytest.approx(wanted, abs=1)


def test_same_pieces_same_bytes() -> None:
    sheet = SHEETS.sheets[0]
    assert sheet_svg(sheet, PARTS) == sheet_svg(sheet, PARTS)
    assert sheet_dxf(sheet, PARTS) == sheet_dxf(sheet, PARTS)
    assert sheets_pdf([sheet], PARTS, "t") == sheets_pdf([sheet], PARTS, "t")
    assert print_files(SHEETS, PrintSettings()) == print_files(SHEETS, PrintSettings())


def test_mockup_pages_print_at_true_size() -> None:
    pages = mockup_pages(PARTS, "letter")
    document = pypdfium2.PdfDocument(sheets_pdf(pages, PARTS, "mock-up"))
    assert len(document) == len(pages)
    assert np.array(document[0].get_size()) / 72 == pytest.approx((8.5, 11), abs=1e-3)


def test_a_printer_that_is_off_is_made_up_for() -> None:
    """A printer that turns 100 mm into 98 and 101.6 into 103 and moves all by (1, -2) mm."""
    printer = PrintSettings(ruler_across=98.0, ruler_down=103.0, right=-1.0, down=2.0)
    before, after = (
        cross_places(print_files(SHEETS, p)["check.pdf"]) for p in (PrintSettings(), printer)
    )
    printed = after * [0.98, 103 / 101.6] + [1.0, -2.0]
    # The shift itself comes out stretched too: 1 mm by 2 % at most.
    assert printed == pytest.approx(before, abs=0.1)


def cross_places(pdf: bytes) -> np.ndarray:
    """Return the middles of the page's plain crosses in mm, found on PDFium's rendering."""
    scale = 400 / 72
    page = pypdfium2.PdfDocument(pdf)[0]
    dark = (page.render(scale=scale).to_numpy()[..., :3].min(axis=2) < 128).astype(np.uint8)
    per_mm = 400 / 25.4
    found = []
    count, _labels, stats, _ = cv2.connectedComponentsWithStats(dark, connectivity=8)
    for n in range(1, count):
        x, y, w, h, area = stats[n]
        if abs(w / per_mm - 6) < 0.4 and abs(h / per_mm - 6) < 0.4 and area < 4 * (w + h):
            found.append(((x + w / 2) / per_mm, (y + h / 2) / per_mm))
    assert len(found) == 4
    return np.array(sorted(found))


def test_tiles_fit_on_each_other_by_their_crosses() -> None:
    """A base twice as large as the paper: put together by the crosses, its slits line up.

    Two pages side by side show the same strip of the piece, a page's step apart.
    """
    base = next(part for part in PARTS.parts if part.name == "base")
    pieces = replace(PARTS, parts=(replace(base, set="mockup"),))
    narrow = [s for s in mockup_pages(pieces, "a4") if s.tile]
    assert not narrow  # 248 x 171.8 mm lies on A4 turned
    large, tiles = tiled_pages()
    document = pypdfium2.PdfDocument(sheets_pdf(tiles, large, "tiles"))
    scale, step = 4.0, 4.0 * 72 / 25.4
    pictures = [page.render(scale=scale).to_numpy()[..., 0] < 128 for page in document]
    assert len(pictures) == len(tiles) > 1
    first, second = pictures[:2]
    moved = (
        tiles[0].placements[0].x - tiles[1].placements[0].x,
        tiles[0].placements[0].y - tiles[1].placements[0].y,
    )
    dx, dy = (round(side * step) for side in moved)
    rows, columns = first.shape
    inner = round(7 * step)
    ours = first[dy + inner : rows - inner, dx + inner : columns - inner]
    theirs = second[inner : rows - dy - inner, inner : columns - dx - inner]
    near = cv2.dilate(theirs.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    assert ours.any()
    assert near[ours].mean() > 0.99
