"""Choices for single thin features: by number on the command line, kept by place in card.toml."""

import json
import tomllib
from pathlib import Path

import numpy as np
import pytest

from tests.cli.running import error_lines, run, tree

OUTLINE = "M20 30H29.7V20H30.3V30H49.7V16H50.3V30H69.7V20H70.3V30H80V49.7H92V50.3H80V70H20Z"
"""A sheet with three feelers at its head and one at its right, 0.6 mm wide."""

DRAWING = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="80mm" viewBox="0 0 100 80">'
    f'<path d="{OUTLINE}"/></svg>'
)


def parts(card: Path) -> list[tuple[int, float, float]]:
    """Return number, drawn place across over the scale, and length of what is added by hand."""
    plan = json.loads((card / "card.json").read_text("utf-8"))
    return [(part["id"], part["join"][0], part["length"]) for part in plan["hand_parts"]]


def stored(card: Path) -> list[dict[str, object]]:
    settings = tomllib.loads((card / "card.toml").read_text("utf-8"))
    return list(settings["fragile"].get("features", []))


@pytest.fixture(scope="module")
def card(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("place")
    (place / "reed.svg").write_text(DRAWING, "utf-8")
    chosen = ["--feature", "1=thicken", "--feature", "4=drop"]
    ran = run(["make", "reed.svg", "--min-width", "1.5mm", *chosen, "--out", "card"], place)
    assert ran.code == 0, ran.err
    return place / "card"


def test_numbers_are_chosen_for_and_kept_as_places_in_the_picture(card: Path) -> None:
    assert [number for number, _, _ in parts(card)] == [2, 3]
    rows = stored(card)
    assert [row["do"] for row in rows] == ["thicken", "drop"]
    assert all("number" not in row for row in rows)
    # Pixels of the upright picture: joins at 70 and 50 mm across, 30 mm down the drawing.
    shares = [float(str(row["x"])) / float(str(row["y"])) for row in rows]
    assert shares == pytest.approx([70 / 30, 50 / 30], abs=0.02)


def test_the_choices_hold_at_another_size_and_by_themselves(card: Path, tmp_path: Path) -> None:
    before = stored(card)
    ran = run(["make", card / "card.toml", "--rise", "30mm", "--out", tmp_path / "low"], tmp_path)
    assert ran.code == 0, ran.err
    assert stored(tmp_path / "low") == before
    large, small = parts(card), parts(tmp_path / "low")
    assert [number for number, _, _ in small] == [2, 3]
    shares = np.array([b[2] / a[2] for a, b in zip(large, small, strict=True)])
    assert np.ptp(shares) < 0.02
    assert shares[0] < 0.99
    made = tree(tmp_path / "low")
    ran = run(["make", tmp_path / "low" / "card.toml"], tmp_path)
    assert ran.code == 0, ran.err
    assert tree(tmp_path / "low")["card.json"] == made["card.json"]


@pytest.mark.parametrize(
    ("said", "code", "told"),
    [
        ("2=close", 6, "only holes and gaps can be closed"),
        ("9=keep", 2, "there is no thin feature number 9"),
        ("2=glue", 2, "hand, thicken, keep, drop, close"),
        ("keep", 2, "such as 3=keep"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(
    card: Path, tmp_path: Path, said: str, code: int, told: str
) -> None:
    picture = card.parent / "reed.svg"
    said_so = ["--min-width", "1.5mm", "--feature", said]
    ran = run(["make", picture, *said_so, "--out", "no"], tmp_path)
    assert ran.code == code
    (line,) = error_lines(ran)[:1]
    assert told in line
    assert not (tmp_path / "no").exists()
