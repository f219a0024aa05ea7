"""DXF and PDF beside the SVG: the same lines at the same size, or the check says so."""

from pathlib import Path

import ezdxf
import pypdfium2
import pytest

from tests.unit.test_checks import written
from trace2pop.checks import check


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return written(tmp_path_factory.mktemp("formats"), formats="svg,dxf,pdf")


@pytest.fixture
def card(whole: Path, tmp_path: Path) -> Path:
    for file in whole.rglob("*.*"):
        if file.is_file():
            (tmp_path / file.relative_to(whole)).parent.mkdir(parents=True, exist_ok=True)
            (tmp_path / file.relative_to(whole)).write_bytes(file.read_bytes())
    return tmp_path


def failed(card: Path) -> tuple[str, ...]:
    return check(card).failed_rules


def test_all_kinds_agree(card: Path) -> None:
    report = check(card)
    assert report.messages() == []
    judged = {row.where for row in report.rows if row.rule == "formats"}
    assert {"parts/motif.dxf", "sheets/sheet-1.dxf", "sheets/sheets.pdf"} <= judged


def change(card: Path, file: str, unit: int = 4, factor: float = 1.0, drop: int = 0) -> None:
    document = ezdxf.filemanagement.readfile(card / file)
    document.header["$INSUNITS"] = unit
    lines = [one for one in document.modelspace() if one.dxf.layer != "NOTE"]
    for line in lines:
        line.scale_uniform(factor)
    for line in lines[:drop]:
        document.modelspace().delete_entity(line)
    document.saveas(card / file)


def test_dxf_in_inches(card: Path) -> None:
    change(card, "parts/beam-1.dxf", unit=1)
    assert failed(card) == ("formats",)


def test_dxf_a_tenth_of_a_percent_too_large(card: Path) -> None:
    change(card, "parts/motif.dxf", factor=1.001)
    assert failed(card) == ("formats",)


def test_dxf_with_a_line_lost(card: Path) -> None:
    change(card, "sheets/sheet-1.dxf", drop=1)
    assert failed(card) == ("formats",)


def test_dxf_cut_short(card: Path) -> None:
    file = card / "parts/base.dxf"
    file.write_bytes(file.read_bytes()[:-4000])
    assert failed(card) == ("formats",)


def resized(card: Path, width: float) -> None:
    file = card / "sheets/sheets.pdf"
    document = pypdfium2.PdfDocument(file.read_bytes())
    document[0].set_mediabox(0, 0, width, 864)
    document.save(file)


def test_pdf_page_of_another_size(card: Path) -> None:
    resized(card, 862.0)
    assert failed(card) == ("formats",)


def test_pdf_drawn_half_a_mm_off(card: Path) -> None:
    file = card / "sheets/sheets.pdf"
    document = pypdfium2.PdfDocument(file.read_bytes())
    document[0].set_mediabox(1.5, 0, 865.5, 864)
    document.save(file)
    assert failed(card) == ("formats",)


def test_pdf_with_a_page_lost(card: Path) -> None:
    file = card / "sheets/sheets.pdf"
    document = pypdfium2.PdfDocument(file.read_bytes())
    document.del_page(0)
    document.save(file)
    assert failed(card) == ("formats",)


def test_pdf_that_is_none(card: Path) -> None:
    (card / "sheets/sheets.pdf").write_bytes(b"%PDF-1.7 broken")
    assert failed(card) == ("formats",)
