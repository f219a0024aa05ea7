"""A loose piece in a motif's hole, cut by itself: from the drawing to the checked folder."""

import json
import tomllib
from pathlib import Path

import pytest

from tests.cli.running import run, tree
from trace2pop.checks.drawing import read_drawing
from trace2pop.checks.report import Judge

DRAWING = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="80mm" viewBox="0 0 90 80">'
    '<path fill-rule="evenodd" d="M5 5H85V75H5ZM20 17H70V48H20Z"/>'
    '<path d="M54 25H66V39H54Z"/></svg>'
)
"""A frame with a rectangle of 12 x 14 mm in its hole, right of the middle at 45 mm."""

FRAME, ISLAND = (5.0, 5.0, 85.0, 75.0), (54.0, 25.0, 66.0, 39.0)


@pytest.fixture(scope="module")
def card(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("pond")
    (place / "pond.svg").write_text(DRAWING, "utf-8")
    ran = run(["make", "pond.svg", "--islands", "hand", "--out", "card"], place)
    assert ran.code == 0, ran.err
    assert "1 part" in ran.out + ran.err
    return place / "card"


def box(card: Path, name: str) -> tuple[float, float, float, float]:
    """Return a piece's box on the open card: its file's own, moved by its origin in card.json."""
    plan = json.loads((card / "card.json").read_text("utf-8"))
    (row,) = (part for part in plan["parts"] if part["name"] == name)
    drawing = read_drawing(card, row["file"], Judge())
    assert drawing is not None
    (outline,) = (line for line in drawing.groups[name] if line.name.endswith("outline"))
    assert all(line.op == "cut" for line in drawing.groups[name]) or name == "motif"
    low, high = outline.bounds[:2] + row["origin"], outline.bounds[2:] + row["origin"]
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def test_it_is_a_piece_on_the_motifs_sheet_and_lies_where_it_was_drawn(card: Path) -> None:
    motif, island = box(card, "motif"), box(card, "island-1")
    scale = (motif[2] - motif[0]) / (FRAME[2] - FRAME[0])
    area = (island[2] - island[0]) * (island[3] - island[1])
    assert area == pytest.approx(12 * 14 * scale**2, rel=1e-3)
    wanted = [motif[axis % 2] + scale * (ISLAND[axis] - FRAME[axis % 2]) for axis in range(4)]
    assert island == pytest.approx(wanted, abs=0.01)
    plan = json.loads((card / "card.json").read_text("utf-8"))
    (sheet,) = (s for s in plan["sheets"] if any(p["part"] == "motif" for p in s["placements"]))
    assert "island-1" in [placement["part"] for placement in sheet["placements"]]
    assert plan["islands"][0]["part"] == "island-1"
    ran = run(["check", card], card.parent)
    assert ran.code == 0, ran.out


def test_a_choice_by_number_is_kept_by_place_and_holds_again(card: Path) -> None:
    place = card.parent
    ran = run(["make", "pond.svg", "--feature", "1=hand", "--out", "single"], place)
    assert ran.code == 0, ran.err
    (row,) = tomllib.loads((place / "single" / "card.toml").read_text("utf-8"))["fragile"][
        "features"
    ]
    assert row["do"] == "hand"
    assert "number" not in row
    made = tree(place / "single")
    assert made["parts/island-1.svg"] == tree(card)["parts/island-1.svg"]
    for name in ("single", "card"):
        before = tree(place / name)
        ran = run(["make", place / name / "card.toml"], place)
        assert ran.code == 0, ran.err
        assert tree(place / name)["card.json"] == before["card.json"]
