"""Names and texts from outside are words in every file: shown as they are, never obeyed.

Read back with parsers of other hands: Python's html.parser and Chromium, xml.etree, PDFium, ezdxf,
tomllib, json, csv.
"""

import csv
import io
import json
import subprocess
import tomllib
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import numpy as np
import pypdfium2 as pdfium
import pytest

from tests import examples
from tests.cli.running import COMMAND, run
from tests.outside.test_page_browser import CHROMIUM, FLAGS, needs_browser
from trace2pop.commands.summary import Outcome, summary_csv, summary_html
from trace2pop.errors import BatchError
from trace2pop.formats.guide_pdf import guide_pdf
from trace2pop.formats.page import page_html
from trace2pop.model.guide import Guide
from trace2pop.model.pieces import Sheets
from trace2pop.model.settings import CutterSettings, GuideSettings
from trace2pop.settings import Project, read, write
from trace2pop.stages.guide import guide
from trace2pop.stages.parts import parts
from trace2pop.stages.sheets import sheets

NAMES = {
    "markup": """<script>alert(1)<!--"&'.png""",
    "handler": '"><img src=x onerror=alert(1)>.png',
    "closing": "]]></title></script><b>.png",
    "braces": "{{panels}} {{plan}} #panic() $x$ \\u{41}.png",
    "lines": "two\nlines\r\tand a tab.png",
    "turned": "\u202egnp.exe\u2066.png",
    "picture signs": "🐟🦆👩‍🎨.png",
    "other scripts": "池 Wasserläufer بركة.png",
    "dash": "--out.png",
    "blanks": "  a  'b' \"c\" .png",
    "formula": "=cmd|' /C calc'!A0.png",
    "escape": "\x1b]0;title\x07\x1b[2J.png",
}
MOTIF = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="90mm" viewBox="0 0 120 90">'
    '<path id="&lt;b&gt;" d="M10 45C10 10 110 10 110 45S10 80 10 45z"/>'
    "<title>&lt;script>alert(2)&lt;/script></title></svg>"
)
WORST = """- <img src=x onerror=alert(1)>"&'{{plan}}\n\u202e池🐟.svg"""
"""The name of a file: a leading dash, markup, quotes, a line's end, a turned direction."""


class Heard(HTMLParser):
    """Collects elements, what would run, and the text outside of scripts."""

    def __init__(self) -> None:
        super().__init__()
        self.elements: list[str] = []
        self.runs: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append(tag)
        self.runs += [name for name, _ in attrs if name.startswith("on")]
        self.runs += [value or "" for _, value in attrs if (value or "").startswith("javascript")]

    def handle_data(self, data: str) -> None:
        self.text += data


def heard(text: str) -> Heard:
    parser = Heard()
    parser.feed(text)
    parser.close()
    return parser


@cache
def laid() -> Sheets:
    return sheets(
        parts(examples.plan(), examples.STOCKS, examples.CUTTER), examples.CUTTER, CutterSettings()
    )


def named(name: str) -> Guide:
    """Return the guide of a card whose picture has that name, and which is called by it."""
    whole = laid()
    pieces, plan = whole.parts, whole.parts.plan
    placed = plan.cut.placed
    artwork = replace(placed.motif.artwork, name=name)
    placed = replace(placed, motif=replace(placed.motif, artwork=artwork))
    plan = replace(plan, cut=replace(plan.cut, placed=placed))
    settings = GuideSettings(paper="letter", title=name.rpartition(".")[0])
    return guide(replace(whole, parts=replace(pieces, plan=plan)), settings, 0.1)


def seen(text: str) -> str:
    """Return a text without blanks, which writers may set as they like."""
    return "".join(text.split())


@pytest.mark.parametrize("case", NAMES)
def test_the_page_shows_a_name_and_runs_nothing_of_it(case: str) -> None:
    plain = heard(page_html(named("a.png")).decode())
    page = heard(page_html(named(NAMES[case])).decode())
    assert page.elements == plain.elements
    assert page.runs == []
    assert seen(NAMES[case].rpartition(".")[0]) in seen(page.text)


@needs_browser
def test_a_browser_runs_nothing_of_a_name(tmp_path: Path) -> None:
    """The names' scripts would show a dialog or leave a mark; Chromium tells its own tree."""
    act = "document.title='run'"
    mark = f'<img src=x onerror="{act}"></title><script>{act}</script>'
    file = tmp_path / "page.html"
    file.write_bytes(page_html(named(f"{mark}.png")))
    done = subprocess.run(
        [str(CHROMIUM), *FLAGS, f"--user-data-dir={tmp_path / 'p'}", "--dump-dom", file.as_uri()],
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    told = heard(done.stdout)
    assert "img" not in told.elements
    assert told.elements.count("script") == 2
    assert "<title>run" not in done.stdout


@pytest.mark.parametrize("case", NAMES)
def test_the_guide_holds_a_name_as_text(case: str) -> None:
    grey = np.full((60, 80, 3), 200, np.uint8)
    content = guide_pdf(named(NAMES[case]), grey)
    plain = guide_pdf(named("a.png"), grey)
    assert not any(mark in content for mark in (b"/JavaScript", b"/Launch", b"/JS"))
    with pdfium.PdfDocument(content) as document, pdfium.PdfDocument(plain) as other:
        assert len(document) == len(other)
        if case in ("markup", "handler", "braces", "dash", "formula"):
            text = seen(document[0].get_textpage().get_text_bounded()).replace("\x02", "")
            letters = seen(NAMES[case].rpartition(".")[0])
            straight = str.maketrans("\u2019\u2018\u201c\u201d", "''\"\"")
            assert letters[:12] in text.translate(straight)


def test_the_summary_shows_names_and_runs_nothing_of_them() -> None:
    outcomes = [
        Outcome(name, f"/pond/{name}", "made", 0, name, {"width": name, "findings": name})
        for name in NAMES.values()
    ] + [Outcome(name, name, "failed", 3, name, {}) for name in NAMES.values()]
    page = heard(summary_html(outcomes))
    assert page.runs == []
    assert "script" not in page.elements
    assert page.elements.count("img") == len(NAMES)
    for name in NAMES.values():
        assert seen(page.text).count(seen(name)) >= 4
    rows = list(csv.DictReader(io.StringIO(summary_csv(outcomes))))
    assert [row["card"].lstrip("'") for row in rows[: len(NAMES)]] == list(NAMES.values())
    assert not any(row["card"][0] in "=+-@" for row in rows)


@pytest.mark.parametrize("case", NAMES)
def test_settings_keep_a_name_letter_by_letter(case: str, tmp_path: Path) -> None:
    picture = tmp_path / NAMES[case].replace("/", "")
    text = write(Project(picture), picture.name, "0" * 64)
    assert tomllib.loads(text)["picture"]["file"] == picture.name
    (tmp_path / "card.toml").write_text(text, "utf-8")
    assert read(tmp_path / "card.toml").picture == picture.resolve()


@pytest.fixture(scope="module")
def card(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a card made from a file of the worst name, in a folder of such a name."""
    folder = tmp_path_factory.mktemp("names") / "- a\n\"b'<i>\u202e池"
    folder.mkdir()
    (folder / WORST).write_text(MOTIF, "utf-8")
    out = "-<b>\n'\"🐟"
    ran = run(["make", "--formats", "svg,dxf,pdf", f"--out={out}", "--", WORST], folder)
    assert ran.code == 0, ran.err
    assert "\u202e" not in ran.out + ran.err
    return folder / out


def test_every_file_of_such_a_card_can_be_read(card: Path) -> None:
    for file in card.rglob("*.svg"):
        root = ElementTree.parse(file).getroot()
        assert not any(element.tag.endswith("script") for element in root.iter())
        assert not any(key.startswith("on") for element in root.iter() for key in element.attrib)
    for file in card.rglob("*.dxf"):
        assert not ezdxf.readfile(file).audit().has_errors
    for file in card.rglob("*.pdf"):
        with pdfium.PdfDocument(file) as document:
            assert len(document) > 0
        assert b"/JavaScript" not in file.read_bytes()
    json.loads((card / "card.json").read_text("utf-8"))
    assert read(card / "card.toml").picture.name == WORST
    page = heard((card / "page.html").read_text("utf-8"))
    assert page.runs == []
    assert "img" not in page.elements


def test_such_a_card_is_checked_by_its_name(card: Path) -> None:
    checked = run(["check", "--", card.name], card.parent)
    assert checked.code == 0, checked.out + checked.err


def test_a_leading_dash_is_no_option_by_accident(tmp_path: Path) -> None:
    (tmp_path / "-a.svg").write_text(MOTIF)
    ran = run(["make", "-a.svg", "--out", "card"], tmp_path)
    assert ran.code == 2
    assert "Traceback" not in ran.err
    assert [path.name for path in tmp_path.iterdir()] == ["-a.svg"]


def test_a_batch_of_such_names(tmp_path: Path) -> None:
    folder = tmp_path / "draw 'ings'"
    folder.mkdir()
    for name in NAMES.values():
        (folder / name.replace("/", "")).write_bytes(b"no picture")
    ran = subprocess.run(
        [COMMAND, "batch", folder, "--out", "cards", "--workers", "1"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert ran.returncode == BatchError.exit_code, ran.stderr
    page = heard((tmp_path / "cards" / "index.html").read_text("utf-8"))
    assert page.runs == []
    assert page.elements.count("article") == len(NAMES)
