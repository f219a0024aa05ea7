"""The main job on real input: every sample variant gives the whole folder, and passes its check."""

import json
from pathlib import Path

import pytest

from tests.cli.running import SAMPLES, error_lines, run, tree
from trace2pop.checks import check

VARIANTS = [
    (name, file, scale)
    for name in ("dragonfly", "wader", "lily")
    for file, scale in (
        ("photo.jpg", ["--paper", "a5"]),
        ("scan.jpg", ["--dpi", "300"]),
        ("ink.jpg", ["--dpi", "300"]),
        ("cutout.png", []),
    )
]
KEYS = {"schema", "card", "window", "scale", "motif", "hand_parts", "supports", "sag", "stock"}
KEYS |= {"closed", "parts", "sheets", "findings"}
FILES = {"card.toml", "card.json", "mockup.pdf", "guide.pdf", "page.html", "preview.png"}
PARTS = {"motif", "base", "beam-1", "outer", "gauge", "mockup-base", "mockup-layer"}


@pytest.fixture(scope="module")
def cards(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("cards")


@pytest.mark.parametrize(("name", "file", "scale"), VARIANTS)
def test_every_sample_gives_a_card_that_passes_its_check(
    name: str, file: str, scale: list[str], cards: Path
) -> None:
    out = cards / f"{name}-{Path(file).stem}"
    ran = run(["make", SAMPLES / name / file, *scale, "--out", out], cards)
    assert ran.code == 0, ran.err
    plan = json.loads((out / "card.json").read_text("utf-8"))
    assert plan.keys() >= KEYS
    written = set(tree(out))
    assert written >= FILES | {f"parts/{part}.svg" for part in PARTS}
    assert any(item.startswith("sheets/") for item in written)
    assert any(item.startswith("print/") for item in written)
    report = check(out)
    assert report.passed, report.messages()
    on_crease = [beam for beam in plan["supports"] if beam["u"] == 0]
    halves = {beam["u"] > 0 for beam in plan["supports"] if beam["u"] != 0}
    assert on_crease
    assert halves == {True, False}
    assert plan["sag"]["max"] <= plan["sag"]["limit"]
    assert plan["closed"]["reach"] <= plan["closed"]["limit"]


def test_the_same_run_twice_gives_the_same_bytes(cards: Path) -> None:
    first = cards / "lily-photo"
    again = cards / "again"
    ran = run(["make", SAMPLES / "lily" / "photo.jpg", "--paper", "a5", "--out", again], cards)
    assert ran.code == 0, ran.err
    one, two = tree(first), tree(again)
    assert one.keys() == two.keys()
    assert [name for name in one if one[name] != two[name]] == []


def test_a_rerun_from_card_toml_changes_what_was_asked(cards: Path) -> None:
    """One value changed in the maker's own file; the file itself stays as the maker left it."""
    out = cards / "lily-scan"
    settings = out / "card.toml"
    text = settings.read_text("utf-8").replace('rise = "20mm"', 'rise = "15mm"')
    settings.write_text(text, "utf-8")
    (out / "notes.txt").write_text("mine")
    ran = run(["make", settings], cards)
    assert ran.code == 0, ran.err
    assert settings.read_text("utf-8") == text
    assert (out / "notes.txt").read_text() == "mine"
    assert json.loads((out / "card.json").read_text("utf-8"))["card"]["rise"] == 15.0
    before = tree(out)
    assert run(["make", settings], cards).code == 0
    assert tree(out) == before


def test_in_a_pipe_lines_are_plain_and_short(cards: Path) -> None:
    ran = run(["make", SAMPLES / "lily" / "cutout.png", "--out", cards / "plain"], cards)
    assert ran.code == 0
    assert error_lines(ran) == []
    assert "\x1b" not in ran.out + ran.err
    assert "\r" not in ran.out + ran.err
    assert max(len(line) for line in ran.err.splitlines()) <= 100


def test_a_size_that_sticks_out_is_refused_with_ways_out(tmp_path: Path) -> None:
    picture = SAMPLES / "dragonfly" / "cutout.png"
    ran = run(["make", picture, "--out", "card", "--width", "230mm"], tmp_path)
    assert ran.code == 5
    assert "mm" in error_lines(ran)[0]
    assert list(tmp_path.iterdir()) == []
