"""Trying: one value of card.toml changed and made again, quickly, and nothing else changed."""

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.running import SAMPLES, error_lines, run, tree
from trace2pop.cache import FOLDER

HIDDEN = ".trace2pop/"
OWN = {"card.toml"}
"""What a re-run may always write anew: the maker changed it."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a card's folder, its picture beside it."""
    place = tmp_path_factory.mktemp("place")
    shutil.copy(SAMPLES / "dragonfly" / "cutout.png", place / "dragonfly.png")
    ran = run(["make", "dragonfly.png", "--out", "card"], place)
    assert ran.code == 0, ran.err
    return place / "card"


@pytest.fixture
def card(made: Path, tmp_path: Path) -> Path:
    """Return a copy of the card's folder to try things on."""
    shutil.copy(made.parent / "dragonfly.png", tmp_path)
    return Path(shutil.copytree(made, tmp_path / "card"))


def edited(card: Path, change: Callable[[str], str]) -> None:
    path = card / "card.toml"
    text = path.read_text("utf-8")
    path.write_text(change(text), "utf-8")
    assert path.read_text("utf-8") != text


def moved_beam(text: str) -> str:
    """Take the # from the last chosen beam and move it 1 mm towards the crease."""
    head, beam = text.rsplit("# [[supports.beam]]\n", 1)
    lines, rest = beam.split("\n\n", 1)
    rows = dict(line.removeprefix("# ").split(" = ") for line in lines.splitlines())
    u = float(rows["u"].strip('"').removesuffix("mm"))
    rows["u"] = f'"{u - (1 if u > 0 else -1):.10g}mm"'
    plain = "\n".join(f"{key} = {value}" for key, value in rows.items())
    return f"{head}[[supports.beam]]\n{plain}\n\n{rest}".replace(
        'sag_limit = "1mm"', 'sag_limit = "2mm"'
    )


def shown(files: dict[str, bytes]) -> dict[str, bytes]:
    return {name: content for name, content in files.items() if not name.startswith(HIDDEN)}


def differing(one: dict[str, bytes], two: dict[str, bytes]) -> set[str]:
    return {name for name in one.keys() | two.keys() if one.get(name) != two.get(name)}


def as_before(err: str) -> list[str]:
    return [line.split()[0] for line in err.splitlines() if line.endswith("(as before)")]


def test_a_plain_rerun_takes_every_stage_and_leaves_the_same_bytes(
    card: Path, tmp_path: Path
) -> None:
    """In a folder carried elsewhere with its picture: what is kept goes along."""
    before = tree(card)
    (tmp_path / "other").mkdir()
    there = card.rename(tmp_path / "other" / "renamed card")
    shutil.copy(tmp_path / "dragonfly.png", tmp_path / "other")
    ran = run(["make", there / "card.toml"], tmp_path)
    assert ran.code == 0, ran.err
    assert as_before(ran.err) == ["picture", "outline", "size", "thin", "beams"]
    assert differing(before, tree(there)) == set()


def test_a_moved_beam_leaves_the_earlier_stages_and_gives_the_bytes_of_a_fresh_run(
    card: Path,
) -> None:
    edited(card, moved_beam)
    ran = run(["make", card / "card.toml"], card)
    assert ran.code == 0, ran.err
    assert as_before(ran.err) == ["picture", "outline", "size", "thin"]
    quick = tree(card)
    ran = run(["make", card / "card.toml", "--fresh"], card)
    assert ran.code == 0, ran.err
    assert as_before(ran.err) == []
    fresh = tree(card)
    assert not (card / FOLDER).exists()
    assert differing(shown(quick), shown(fresh)) == set()


def test_a_damaged_cache_is_silently_made_anew(card: Path) -> None:
    before = tree(card)
    for number, path in enumerate(sorted((card / FOLDER).iterdir())):
        content = path.read_bytes()
        path.write_bytes((content[: len(content) // 2], b"", content[:-1] + b"?")[number % 3])
    ran = run(["make", card / "card.toml"], card)
    assert ran.code == 0, ran.err
    assert as_before(ran.err) == []
    assert "cache" not in ran.err
    assert differing(before, tree(card)) == set()


CHANGES: dict[str, tuple[str, str, set[str]]] = {
    "guide's paper": ('paper = "letter"', 'paper = "a4"', {"guide.pdf", "mockup.pdf"}),
    "printer moved": ('right = "0mm"', 'right = "0.5mm"', {"print/sheet-1.pdf"}),
    "corners": ('corner_radius = "0mm"', 'corner_radius = "3mm"', {"parts/base.svg", "card.json"}),
}
NEVER: dict[str, tuple[str, ...]] = {
    "guide's paper": ("parts/", "sheets/", "print/", "pictures/", "preview", "page", "card.json"),
    "printer moved": ("parts/", "sheets/", "pictures/", "preview", "page", "guide", "mockup.pdf"),
    "corners": ("parts/motif", "parts/beam", "pictures/trace", "pictures/sag"),
}


@pytest.mark.parametrize("change", CHANGES)
def test_one_value_changes_what_depends_on_it_and_nothing_else(card: Path, change: str) -> None:
    old, new, wanted = CHANGES[change]
    before = shown(tree(card))
    edited(card, lambda text: text.replace(old, new, 1))
    ran = run(["make", card / "card.toml"], card)
    assert ran.code == 0, ran.err
    changed = differing(before, shown(tree(card))) - OWN
    assert changed >= wanted
    assert [name for name in changed if name.startswith(NEVER[change])] == []


def test_a_changed_picture_is_told_not_refused(card: Path) -> None:
    picture = card.parent / "dragonfly.png"
    picture.write_bytes(picture.read_bytes() + b"\0")
    text = (card / "card.toml").read_text("utf-8")
    ran = run(["make", card / "card.toml"], card)
    assert ran.code == 0, ran.err
    said = " ".join(ran.err.split())
    assert "dragonfly.png: it has changed since card.toml was written" in said
    assert (card / "card.toml").read_text("utf-8") == text
    assert json.loads((card / "card.json").read_text("utf-8"))["schema"] == "trace2pop-card-1"


WRONG = {
    "a key": ('rise = "20mm"', 'risse = "20mm"', "risse", "did you mean rise?"),
    "a value": ('rise = "20mm"', 'rise = "200mm"', "rise", "5 to 150 mm"),
    "a unit": ('rise = "20mm"', "rise = 20", "rise", '"20mm"'),
    "a section": ("[guide]", "[giude]", "[giude]", "did you mean guide?"),
    "a row's key": ("[stock]", '[[supports.beam]]\nuu = "5mm"\n[stock]', "uu", "did you mean u?"),
}


@pytest.mark.parametrize("kind", WRONG)
def test_a_wrong_line_is_named_with_the_nearest_right_key(card: Path, kind: str) -> None:
    old, new, word, hint = WRONG[kind]
    edited(card, lambda text: text.replace(old, new, 1))
    before = tree(card)
    ran = run(["make", card / "card.toml"], card)
    assert ran.code == 2
    lines = (card / "card.toml").read_text("utf-8").splitlines()
    line = next(number for number, text in enumerate(lines, 1) if text.startswith(word))
    (said,) = error_lines(ran)
    assert f"card.toml, line {line}: " in said
    assert hint in said
    assert tree(card) == before


def test_a_missing_picture_is_named_with_its_line(card: Path) -> None:
    (card.parent / "dragonfly.png").unlink()
    before = tree(card)
    ran = run(["make", card / "card.toml"], card)
    assert ran.code == 3
    lines = (card / "card.toml").read_text("utf-8").splitlines()
    line = next(number for number, text in enumerate(lines, 1) if text.startswith("file = "))
    assert f"card.toml, line {line}: " in error_lines(ran)[0]
    assert tree(card) == before
