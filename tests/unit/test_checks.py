"""The check on folders that the program itself wrote, and what it says."""

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from tests import examples
from tests.damage import plan
from trace2pop.checks import Report, Row, check, drawing
from trace2pop.checks.drawing import read_drawing
from trace2pop.checks.narrow import narrow_strips
from trace2pop.checks.report import Judge
from trace2pop.checks.rules import RULES
from trace2pop.data import cutters, stocks
from trace2pop.errors import UsageError
from trace2pop.formats.piece_files import piece_files
from trace2pop.formats.plan_json import card_json
from trace2pop.mechanism.marks import numbered
from trace2pop.model.card import Beam, CardPlan, Slit
from trace2pop.model.settings import CutterSettings, FileSettings, PieceSettings, Settings
from trace2pop.settings import Project, write
from trace2pop.stages.parts import parts
from trace2pop.stages.sheets import sheets

DOCS = Path(__file__).parents[2] / "docs" / "checks.md"


def planned() -> CardPlan:
    """Return the example card with its feeler joined at the edge and inside the margin."""
    whole = examples.plan()
    feeler = examples.feeler()
    shape = shapely.Polygon(whole.cut.outline.outer[:, 0])
    edge = shape.boundary.intersection(shapely.LineString([(8, 0), (8, examples.CARD.height / 2)]))
    join = (8.0, float(edge.bounds[1]))
    line = np.array([join, (8.0, join[1] - 20)])
    moved = replace(feeler, join=join, path=line, length=20.0, cut_length=30.0)
    return replace(whole, cut=replace(whole.cut, hand_parts=(moved,)))


def written(
    folder: Path,
    cutter: str = "mat-12x12",
    whole: CardPlan | None = None,
    **chosen: str | int,
) -> Path:
    """Write a card's folder with the program's own stages and formats."""
    settings = Settings(
        pieces=PieceSettings(scores=chosen.get("scores", "tool")),  # type: ignore[arg-type]  # a word
        files=FileSettings(formats=str(chosen.get("formats", "svg"))),
        cutter=CutterSettings(name=cutter, copies=int(chosen.get("copies", 1))),
    )
    machine = cutters()[cutter]
    if "square" in chosen:
        machine = replace(machine, area=(float(chosen["square"]),) * 2)
    papers = dict.fromkeys(examples.STOCKS, stocks()[str(chosen.get("stock", "cover-216"))])
    laid = sheets(
        parts(whole or planned(), papers, machine, settings.pieces), machine, settings.cutter
    )
    names = {part.name: f"parts/{part.name}.svg" for part in laid.parts.parts}
    names |= {sheet.name: f"sheets/{sheet.name}.svg" for sheet in laid.sheets}
    files = {
        "card.json": card_json(laid, papers, (), names),
        "card.toml": write(Project(Path("x.png"), settings), "x.png", "").encode(),
        **piece_files(laid, settings.files),
        **dict.fromkeys(("guide.pdf", "page.html", "preview.png", "mockup.pdf"), b"not judged"),
    }
    for name, content in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    return folder


@pytest.mark.parametrize(
    "chosen",
    [
        {},
        {"scores": "dashed"},
        {"scores": "pencil"},
        {"copies": 12},
        {"cutter": "mat-a4", "stock": "cover-216-a4"},
    ],
    ids=str,
)
def test_what_the_program_writes_passes(chosen: dict[str, str | int], tmp_path: Path) -> None:
    report = check(written(tmp_path, **chosen))  # type: ignore[arg-type]  # keywords by name
    assert report.messages() == []
    assert report.passed


def test_the_table_tells_of_every_wrong_insertion(tmp_path: Path) -> None:
    """Three beams: each upside down and head to foot in its slit, three ways in both others."""
    report = check(written(tmp_path))
    wrong = [row for row in report.rows if row.rule == "insertion"]
    assert len(wrong) == 3 * 2 + 3 * 2 * 3
    assert {row.told for row in wrong} == {"blocked", "shows"}
    blocked = sum(row.told == "blocked" for row in wrong)
    table = report.table()
    line = dict(table)["wrong insertions blocked or seen"]
    assert line == f"ok (24): {blocked} blocked, {24 - blocked} go in but show"
    shown = [words for place, words in table if place.startswith("  beam-")]
    assert sum(words.count(",") + 1 for words in shown) == 24 - blocked


@pytest.mark.parametrize("step", [0.0, 0.15, 0.6])
def test_many_short_beams_with_narrow_flanges_pass(step: float, tmp_path: Path) -> None:
    """Seventeen beams from 11 mm on with 3 mm flanges: equal ones, and ones that hardly differ."""
    places = [(0.0, 78.0)]
    places += [(side * u, v) for side in (-1, 1) for u in (14, 28, 42, 56) for v in (58.0, 96.0)]
    beams = []
    for number, (u, v0) in enumerate(places, start=1):
        v1 = v0 + 11.0 + step * number
        slit = Slit(v0 - 0.5, v1 + 0.5, 0.0)
        beams.append(Beam(number, f"beam-{number}", float(u), v0, v1, 3.0, 45.0, slit))
    whole = numbered(replace(planned(), beams=tuple(beams)), 1.0, keyed=True)
    report = check(written(tmp_path, whole=whole))
    assert report.messages() == []
    told = {row.told for row in report.rows if row.rule == "insertion"}
    assert "unseen" not in told and {"blocked", "shows"} <= told


def test_base_in_two_halves_takes_its_beams(tmp_path: Path) -> None:
    report = check(written(tmp_path, square=210))
    assert (tmp_path / "parts/base-left.svg").exists()
    with plan(tmp_path) as document:
        document["parts"][1]["origin"][0] += 1.0
    assert report.messages() == []
    assert {"slits", "crease"} & set(check(tmp_path).failed_rules)


def test_the_check_loads_nothing_that_writes(tmp_path: Path) -> None:
    written(tmp_path)
    code = (
        "import sys; from pathlib import Path; from trace2pop.checks import check; "
        f"check(Path({str(tmp_path)!r})); "
        "print([m for m in sys.modules if m.startswith(('trace2pop.formats', 'trace2pop.stages'))])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_no_folder_is_told_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="is no folder"):
        check(tmp_path / "nothing")


def test_an_empty_folder_fails_by_its_files(tmp_path: Path) -> None:
    report = check(tmp_path)
    assert report.failed_rules == ("files",)


def test_every_rule_is_documented_with_its_next_step() -> None:
    text = " ".join(DOCS.read_text("utf-8").split())
    for name, rule in RULES.items():
        assert f"| `{name}` | {rule.title} |" in text


def test_messages_say_what_where_and_what_next() -> None:
    rows = tuple(Row("closed", f"parts/p{n}.svg", 1.0, 0.0, False, "it is open") for n in range(5))
    report = Report((*rows, Row("units", "parts/p.svg", None, None, True)))
    assert report.failed_rules == ("closed",)
    assert len(report.messages()) == 3
    assert report.messages()[0] == "closed: parts/p0.svg: it is open"
    assert report.messages()[-1].endswith(f"2 more like it; {RULES['closed'].advice}")
    assert report.table() == [("true size: units", "ok (1)"), ("contours closed", "5 of 5 wrong")]


def test_points_lie_on_the_curve_they_were_read_from(tmp_path: Path) -> None:
    """A quarter circle as a cubic errs by 0.03 % of its radius (Bezier circle, textbook value)."""
    k = 40 * 0.5522847498
    (tmp_path / "q.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" viewBox="0 0 40 40">'
        f'<g id="q"><path id="q.a" class="cut" d="M40,0 C40,{k} {k},40 0,40 L0,0 Z"/></g></svg>'
    )
    drawing = read_drawing(tmp_path, "q.svg", Judge())
    assert drawing is not None
    arc = drawing.groups["q"][0].points[:-2]
    assert np.abs(np.hypot(*arc.T) - 40).max() < 0.0004 * 40
    chords = np.hypot(*np.diff(arc, axis=0).T)
    assert (chords**2 / (8 * 40)).max() < 0.0025  # sagitta of a chord


@pytest.mark.parametrize("seed", range(20))
def test_plain_paths_are_read_as_the_reference_library_reads_them(seed: int) -> None:
    """Beside svgpathtools, which reads all paths that hold other commands."""
    random = np.random.default_rng(seed)

    def place() -> str:
        x, y = random.uniform(-50, 200, 2).round(int(random.integers(0, 5)))
        return f"{x:g},{y:g}"

    steps = [f"M{place()}"]
    for _ in range(int(random.integers(1, 9))):
        curved = random.random() < 0.5
        steps.append(f"C{place()} {place()} {place()}" if curved else f"L{place()}")
    data = " ".join([*steps, *(["Z"] if seed % 2 else [])])
    assert drawing._PLAIN.fullmatch(data)
    read, reference = drawing._points(data), drawing._of_any(data)
    assert read is not None and reference is not None
    assert np.allclose(read, reference, rtol=0, atol=1e-9)
    for other in (data.lower(), data.replace("M", "L"), f"{data} M1,2 L3,4", data + " L"):
        assert not drawing._PLAIN.fullmatch(other)


@pytest.mark.parametrize(("drawn", "found"), [(0.4, 1), (0.8, 1), (1.2, 0)])
def test_a_feeler_is_too_narrow_by_its_width(drawn: float, found: int) -> None:
    body = shapely.box(0, 0, 60, 30)
    strips = narrow_strips(body.union(shapely.box(20, -25, 20 + drawn, 1)), 1.0)
    assert len(strips) == found
    assert all(width == pytest.approx(drawn, rel=0.05) for width, _ in strips)


def test_a_neck_between_two_bodies_is_too_narrow_and_a_corner_is_not() -> None:
    neck = shapely.box(0, 0, 30, 30).union(shapely.box(38, 0, 70, 30))
    neck = neck.union(shapely.box(29, 14, 39, 14.6))
    assert len(narrow_strips(neck, 1.0)) == 1
    assert narrow_strips(shapely.Polygon([(0, 0), (60, 0), (30, 100)]), 1.0) == []


@pytest.mark.parametrize(("off", "found"), [(0.1, True), (0.4, True), (0.6, False)])
def test_a_hole_whose_tip_is_near_the_edge_leaves_too_narrow_a_wall(
    off: float, found: bool
) -> None:
    tip = [(30.0, off), (31.5, 8.0), (28.5, 8.0)]
    walls = narrow_strips(shapely.Polygon(shapely.box(0, 0, 60, 40).exterior, [tip]), 1.0)
    assert bool(walls) == found
    assert not found or pytest.approx(off) in [width for width, _ in walls]
