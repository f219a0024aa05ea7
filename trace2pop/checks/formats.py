"""The other file kinds, where they are there, against the SVG of the same piece or sheet."""

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from trace2pop.checks.drawing import Drawing, Line
from trace2pop.checks.folder import Folder
from trace2pop.checks.layout import SHIFT
from trace2pop.checks.report import Judge
from trace2pop.model.outline import FloatArray
from trace2pop.units import MM_PER_INCH, PT_PER_INCH

if TYPE_CHECKING:
    from ezdxf.entities.dxfgfx import DXFGraphic

_DXF_FLAT = 0.02
"""What a curve may lose as a polyline: what the program promises of its DXF files."""

_MILLIMETRES = 4
_DPI = 150.0
_STEP = 1.0
_MOST_SHOWN = 0.98
"""Share of the points along all cuts that must be dark on the page."""


def check_formats(folder: Folder, judge: Judge) -> None:
    """Judge every DXF beside an SVG, and the PDFs of sheets."""
    drawings = [piece.drawing for piece in folder.pieces.values()]
    drawings += [sheet.drawing for sheet in folder.sheets]
    for drawing in drawings:
        file = Path(drawing.file).with_suffix(".dxf").as_posix()
        if (folder.path / file).is_file():
            _dxf(folder.path, file, drawing, judge)
    _sheets_pdf(folder, judge)
    for sheet in folder.sheets:
        file = f"print/{Path(sheet.drawing.file).stem}.pdf"
        if (folder.path / file).is_file():
            _page_sizes(folder.path / file, file, [sheet.drawing.size], judge)


def _dxf(path: Path, file: str, drawing: Drawing, judge: Judge) -> None:
    from ezdxf.filemanagement import readfile  # 0.5 s to import: only where there is a DXF
    from ezdxf.lldxf.const import DXFError

    try:
        document = readfile(path / file)
        entities = [one for one in document.modelspace() if one.dxf.layer != "NOTE"]
        found = [_points(one) for one in entities if one.dxftype() != "TEXT"]
    except (OSError, DXFError, ValueError, LookupError, StopIteration, AttributeError) as error:
        judge.holds("formats", file, False, f"it can't be read ({error})")
        return
    if document.dxfversion > "AC1009":  # R12 can't declare a unit
        unit = document.header.get("$INSUNITS", 0)
        judge.holds("formats", file, unit == _MILLIMETRES, "it doesn't declare millimetres")
    flip = np.array([[1.0, 0, 0], [0, -1.0, drawing.size[1]]])
    wanted = [line.moved(flip) for lines in drawing.groups.values() for line in lines if line.op]
    _same_lines(file, wanted, found, judge)


def _points(entity: "DXFGraphic") -> FloatArray:
    """Return an entity's points (n, 2), flattened, closed where it says so."""
    from ezdxf import path

    way = path.make_path(entity)
    return np.array([(point.x, point.y) for point in way.flattening(0.002)])


def _same_lines(file: str, wanted: list[Line], found: list[FloatArray], judge: Judge) -> None:
    """Each SVG line has its DXF line: same box, same length, same closure."""
    text = f"it holds {len(found)} lines that are cut or scored, the SVG {len(wanted)}"
    judge.holds("formats", file, len(found) == len(wanted), text)
    left = list(found)
    worst, name = 0.0, ""
    for line in wanted:
        if not left:
            break
        shifts = [float(np.abs(_box(points) - line.bounds).max()) for points in left]
        best = int(np.argmin(shifts))
        points = left.pop(best)
        ends = float(np.hypot(*(points[0] - points[-1])))
        shift = max(shifts[best], ends if line.closed else 0.0)
        if shift > worst:
            worst, name = shift, line.name
    text = f"{name} is {worst:.2f} mm off"
    judge.at_most("formats", file, worst, _DXF_FLAT + SHIFT, text)


def _box(points: FloatArray) -> FloatArray:
    return np.concatenate([points.min(axis=0), points.max(axis=0)])


def _sheets_pdf(folder: Folder, judge: Judge) -> None:
    file = "sheets/sheets.pdf"
    if not (folder.path / file).is_file():
        return
    sizes = [sheet.drawing.size for sheet in folder.sheets]
    if not _page_sizes(folder.path / file, file, sizes, judge):
        return
    for number, sheet in enumerate(folder.sheets):
        lines = [line for group in sheet.drawing.groups.values() for line in group]
        shown = _share_shown(
            folder.path / file, number, [line for line in lines if line.op == "cut"]
        )
        text = f"{1 - shown:.0%} of the cuts on page {number + 1} aren't where the SVG has them"
        judge.at_least("formats", file, shown, _MOST_SHOWN, text)


def _page_sizes(path: Path, file: str, sizes: list[tuple[float, float]], judge: Judge) -> bool:
    """Judge the pages' sizes; return whether there is a page for each."""
    import pypdfium2

    try:
        document = pypdfium2.PdfDocument(path)
    except pypdfium2.PdfiumError as error:
        return judge.holds("formats", file, False, f"it can't be read ({error})")
    pages = [document.get_page_size(number) for number in range(len(document))]
    document.close()
    text = f"it has {len(pages)} pages for {len(sizes)} sheets"
    if not judge.holds("formats", file, len(pages) == len(sizes), text):
        return False
    for number, (page, size) in enumerate(zip(pages, sizes, strict=True), start=1):
        for points, wanted in zip(page, size, strict=True):
            measured = points * MM_PER_INCH / PT_PER_INCH
            text = f"page {number} is {measured:.2f} mm where the SVG is {wanted:.2f} mm"
            judge.same("formats", file, measured, wanted, 0.02, text)
    return True


def _share_shown(path: Path, number: int, cuts: list[Line]) -> float:
    """Return the share of points along the cuts that are dark on the rendered page."""
    import pypdfium2
    import shapely

    document = pypdfium2.PdfDocument(path)
    bitmap = document[number].render(scale=_DPI / PT_PER_INCH, grayscale=True)
    pixels: NDArray[np.uint8] = np.asarray(bitmap.to_numpy()).reshape(bitmap.height, bitmap.width)
    dark = pixels.min() + 0.6 * (255.0 - pixels.min())
    document.close()
    shapes = [shapely.segmentize(line.shape, _STEP) for line in cuts]
    points = np.concatenate([shapely.get_coordinates(shape) for shape in shapes])
    if not len(points):
        return 1.0
    # Each point counts where one of the pixels around it is darker than the paper.
    col, row = (points * _DPI / MM_PER_INCH).T
    padded = np.pad(pixels, 2, mode="edge").astype(float)
    near = np.min(
        [
            padded[
                np.clip(row.astype(int) + 2 + down, 0, padded.shape[0] - 1),
                np.clip(col.astype(int) + 2 + over, 0, padded.shape[1] - 1),
            ]
            for down in (-1, 0, 1)
            for over in (-1, 0, 1)
        ],
        axis=0,
    )
    return float((near < dark).mean())
