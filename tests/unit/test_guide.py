"""The guide: its words, its drawings, and the PDF read back with PDFium.

Reference for reading: pypdfium2, which shares no code with the writer (typst).
"""

import re
from functools import cache
from string import Formatter

import cv2
import numpy as np
import pypdfium2 as pdfium
import pypdfium2.raw as raw
import pytest
import shapely
from numpy.typing import NDArray

from tests import examples
from trace2pop import data
from trace2pop.errors import UsageError
from trace2pop.formats.guide_pdf import guide_pdf
from trace2pop.geometry import beziers
from trace2pop.model.guide import Figure, Guide
from trace2pop.model.settings import CutterSettings, GuideSettings
from trace2pop.stages.guide import guide
from trace2pop.stages.guide.sketch import word_box
from trace2pop.stages.parts import parts
from trace2pop.stages.sheets import sheets

MM = 72 / 25.4
LANGUAGES = ("en", "de")


@cache
def made(language: str = "en", paper: str = "letter") -> Guide:
    pieces = parts(examples.plan(), examples.STOCKS, examples.CUTTER)
    laid = sheets(pieces, examples.CUTTER, CutterSettings())
    return guide(laid, GuideSettings(paper=paper, language=language), 0.1)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def book() -> Guide:
    return made()


@pytest.fixture(scope="module")
def pdf(book: Guide) -> bytes:
    return guide_pdf(book, _grey())


def _grey() -> NDArray[np.uint8]:
    return np.full((60, 80, 3), 200, np.uint8)


def figures(book: Guide) -> list[Figure]:
    rows = [figure for step in book.steps for row in step.rows for figure in row]
    return [book.legend, book.pieces, *rows, *book.templates]


def phrases(table: object, path: str = "") -> dict[str, str]:
    if isinstance(table, str):
        return {path: table}
    found: dict[str, str] = {}
    items = table.items() if isinstance(table, dict) else enumerate(table)  # type: ignore[arg-type]
    for key, value in items:
        found |= phrases(value, f"{path}.{key}")
    return found


@pytest.mark.parametrize("language", LANGUAGES)
def test_languages_say_the_same_things_with_the_same_numbers(language: str) -> None:
    english, other = phrases(data.table("text_en")), phrases(data.table(f"text_{language}"))
    assert set(english) == set(other)
    for name, text in english.items():
        fields = {field for _, field, _, _ in Formatter().parse(text) if field}
        assert {f for _, f, _, _ in Formatter().parse(other[name]) if f} == fields, name


@pytest.mark.parametrize("language", LANGUAGES)
def test_card_stocks_have_names(language: str) -> None:
    papers = {name for name in data.stocks() if name.startswith("cover")}
    assert set(data.table(f"text_{language}")["stock"]) == papers  # type: ignore[arg-type]


def test_unknown_language_is_refused_in_one_line() -> None:
    with pytest.raises(UsageError, match="'xx'"):
        made("xx")


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_words_over_lines(language: str) -> None:
    """Words stand clear of every stroke, balloons and tags excepted: they cover what is under."""
    book = made(language)
    for figure in figures(book):
        lines = shapely.union_all(
            [
                shapely.LineString(beziers.flatten(line, 0.05))
                for mark in figure.marks
                if mark.ink not in ("ball", "arrow-head")
                for line in mark.lines
            ]
        )
        boxes = [beziers.bounds(mark.lines[0]) for mark in figure.marks if mark.ink == "tag"]
        tags = [shapely.box(*box) for box in boxes]
        for word in figure.words:
            box = shapely.box(*word_box(word))
            tagged = any(tag.contains(box.centroid) for tag in tags)
            if word.tone != "light" and not tagged:
                over = lines.intersection(box).length
                assert over < 0.01, (figure.alt, word.text, over)
            assert box.within(shapely.box(-0.01, -0.01, *np.add(figure.size, 0.01))), word.text


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_words_over_words(language: str) -> None:
    for figure in figures(made(language)):
        boxes = [shapely.box(*word_box(word)).buffer(-0.1) for word in figure.words]
        for number, box in enumerate(boxes):
            assert not any(box.intersects(other) for other in boxes[:number]), figure.alt


@pytest.mark.parametrize("language", LANGUAGES)
def test_drawings_fit_the_narrower_page(language: str) -> None:
    book = made(language)
    assert max(book.legend.size[0], book.pieces.size[0]) <= 174.01
    for step in book.steps:
        for row in step.rows:
            assert sum(figure.size[0] for figure in row) + 5 * (len(row) - 1) <= 174.01, step.title


def test_every_hand_part_is_listed_and_drawn(book: Guide) -> None:
    part = examples.feeler()
    step = next(step for step in book.steps if step.table and step.table[1][3] == "35")
    assert step.table[1][:4] == (str(part.id), "25", "10", "35")
    assert "0.6" in step.table[1][4]
    template = book.templates[0]
    assert [word.text for word in template.words if word.tone == "light"] == [str(part.id)]
    inks = {mark.ink for mark in template.marks}
    assert {"motif-back", "hand", "overlap"} <= inks


def test_pinholes_are_the_bases_own(book: Guide) -> None:
    """Drawn from the beams' holes; the base's own cuts are what they must match."""
    step = next(step for step in book.steps if "through the base" in step.title)
    base = next(part for part in book.sheets.parts.parts if part.name == "base")
    assert base.origin is not None
    cut = [
        beziers.flatten(stroke.line)[:-1].mean(axis=0) + base.origin
        for stroke in base.strokes
        if "-mark-" in stroke.id
    ]
    front, back = step.rows[0]
    for figure, mirror in ((front, 1.0), (back, -1.0)):
        box = next(m for m in figure.marks if m.ink in ("base", "base-back"))
        left, top, right, _ = beziers.bounds(box.lines[0])
        scale, middle = (right - left) / 248.0, (left + right) / 2
        seen = [
            (beziers.flatten(mark.lines[0])[:-1].mean(axis=0) - [middle, top]) / [mirror, 1] / scale
            for mark in figure.marks
            if mark.ink == "pinhole"
        ]
        assert len(seen) == len(cut) == 1 + 2 + 3
        for place in cut:
            assert min(np.abs(np.array(seen) - place).max(axis=1)) < 0.05


def test_every_beams_holes_are_told_for_each_flange(book: Guide) -> None:
    step = next(step for step in book.steps if step.title == "Fold the beams")
    captions = [figure.caption for figure in step.rows[-1]]
    assert [re.search(r": (.*?) holes", text)[1] for text in captions] == [  # type: ignore[index]
        "1 + 1",
        "2 + 2",
        "3 + 3",
    ]


def test_template_is_mirrored(book: Guide) -> None:
    """The feeler is right of the crease from the front, so left of it from behind."""
    marks = {mark.ink: mark for mark in book.templates[0].marks}
    crease = marks["mountain"].lines[0][0, 0, 0]
    assert marks["hand"].lines[0][0, 0, 0] == pytest.approx(crease - 8.0, abs=1e-6)


def test_adhesive_is_on_opposite_faces(book: Guide) -> None:
    """Lower flanges on the outer face, upper ones on the inner: mechanism, section 4."""
    step = next(s for s in book.steps if any("OUTER" in line for line in s.text))
    outer, inner = step.rows[0][:2]
    for figure, low in ((outer, True), (inner, False)):
        ys = [m.lines[0][..., 1].mean() for m in figure.marks if m.ink == "glue-edge"]
        assert len(ys) == 2 and all((y > figure.size[1] / 2) == low for y in ys)
    assert "back" in {mark.ink for mark in inner.marks} - {mark.ink for mark in outer.marks}


def test_same_guide_same_bytes(book: Guide, pdf: bytes) -> None:
    assert guide_pdf(made(), _grey()) == pdf


def test_pdf_has_title_bookmarks_and_text(book: Guide, pdf: bytes) -> None:
    document = pdfium.PdfDocument(pdf)
    assert document.get_metadata_value("Title") == book.title
    marks = [mark.get_title() for mark in document.get_toc()]
    for step in book.steps:
        assert any(step.title in mark for mark in marks), step.title
    text = " ".join(page.get_textpage().get_text_range() for page in document)
    plain = re.sub(r"[\s\u00ad]+", " ", text)
    for what, value in book.facts:
        assert what in plain and value.replace("\u00a0", " ") in plain.replace("\u00a0", " "), what
    assert b"/StructTreeRoot" in pdf  # tagged


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_pages_have_the_chosen_size(paper: str) -> None:
    size = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}[paper]
    document = pdfium.PdfDocument(guide_pdf(made(paper=paper), _grey()))
    for page in document:
        assert sorted(side / MM for side in page.get_size()) == pytest.approx(size, abs=0.1)


def test_fonts_are_embedded(pdf: bytes) -> None:
    document = pdfium.PdfDocument(pdf)
    fonts = 0
    for page in document:
        for item in page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT]):
            assert raw.FPDFFont_GetIsEmbedded(raw.FPDFTextObj_GetFont(item.raw)) == 1
            fonts += 1
    assert fonts > 100


def test_true_size_drawings_are_true(pdf: bytes) -> None:
    """The template's motif and its ruler, measured to 0.1 mm on the page as PDFium draws it."""
    document, k = pdfium.PdfDocument(pdf), 20
    page = document[len(document) - 1].render(scale=k / MM).to_numpy()[..., 2::-1].astype(int)
    paper = np.abs(page - [0xF3, 0xEA, 0xD9]).max(axis=-1) < 8
    _, _, boxes, _ = cv2.connectedComponentsWithStats(paper.astype(np.uint8))
    _, _, wide, high, _ = max(boxes[1:], key=lambda box: box[4])
    left, top, right, bottom = beziers.polygon(examples.cut_motif().outline).bounds
    stroke = 0.3  # lies half inside the outline on either side
    assert wide / k + stroke == pytest.approx(right - left, abs=0.1)
    assert high / k + stroke == pytest.approx(bottom - top, abs=0.1)
    dark = page.max(axis=-1) < 100
    ruler = max((np.flatnonzero(row) for row in dark[: 40 * k]), key=len)
    assert len(ruler) / k == pytest.approx(100.0, abs=0.1)
