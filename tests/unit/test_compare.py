"""Two cards compared: what was changed by hand is told, and nothing else."""

import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from tests import damage, folders
from trace2pop.commands.compare import compare
from trace2pop.console import WIDTH, Console
from trace2pop.errors import OutputError, UsageError


@pytest.fixture
def pair(tmp_path: Path) -> tuple[Path, Path]:
    """Return two folders alike, written by hand from the public description."""
    for name in ("one", "two"):
        folders.write(tmp_path / name)
        (tmp_path / name / "card.toml").write_text('[picture]\nfile = "a.png"\n')
    return tmp_path / "one", tmp_path / "two"


def changed(folder: Path, change: Callable[[Any], None]) -> None:
    path = folder / "card.json"
    document = json.loads(path.read_text("utf-8"))
    change(document)
    path.write_text(json.dumps(document), "utf-8")


def told(pair: tuple[Path, Path], capsys: pytest.CaptureFixture[str]) -> list[list[str]]:
    """Return the words of each line that was printed; the picture is beside the folders."""
    capsys.readouterr()
    compare(*pair, pair[0].parent / "both.png", force=True, console=Console())
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= WIDTH
    return [line.split() for line in lines]


def picture(pair: tuple[Path, Path]) -> np.ndarray:
    return np.asarray(Image.open(pair[0].parent / "both.png").convert("RGB")).astype(int)


def test_cards_alike_differ_in_nothing(
    pair: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    assert ["nothing", "differs"] in told(pair, capsys)
    assert picture(pair).shape[1] > 1200


def test_a_moved_beam_is_told_in_mm(
    pair: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    def move(document: Any) -> None:
        row = damage.beam_row(document, "beam-3")
        row["u"] += 3.0
        row["v1"] -= 0.25

    changed(pair[1], move)
    rows = [row for row in told(pair, capsys) if row[:2] == ["beam", "at"]]
    middle, half = folders.MIDDLE, folders.BEAMS[2][2] / 2
    assert rows == [
        ["beam", "at", "+50.0:", "u,", "mm", "50.0", "53.0", "+3.0"],
        ["beam", "at", "+50.0:", "to,", "mm", f"{middle + half:.1f}", f"{middle + half - 0.25:.1f}",
         rows[1][-1]],
    ]  # fmt: skip
    assert float(rows[1][-1]) == pytest.approx(-0.25, abs=0.06)


def test_the_beam_on_the_crease_is_compared_with_the_one_on_the_crease(
    pair: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    """One beside it that comes nearer to its old middle is no beam that was moved there."""

    def change(document: Any) -> None:
        for row in document["supports"]:
            if row["u"] == 0:
                row["v0"] += 30.0
                row["v1"] += 30.0
                beside = dict(row, u=-8.0, v0=row["v0"] - 30.0, v1=row["v1"] - 30.0)
        document["supports"].append(beside)

    changed(pair[1], change)
    rows = [line for line in told(pair, capsys) if line[:2] == ["beam", "at"]]
    assert {(line[2], line[-1]) for line in rows} >= {("+0.0:", "+30.0"), ("-8.0", "mm")}
    assert not any(line[2] == "+0.0" for line in rows)


def test_a_beam_gone_and_one_more_are_told(
    pair: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    changed(pair[1], lambda document: document["supports"].pop(1))
    rows = told(pair, capsys)
    assert ["beams", "3", "2", "-1"] in rows
    assert next(row for row in rows if row[:3] == ["beam", "at", "-50.0"])[-1] == "none"


def test_another_outline_is_told_by_its_farthest_point_and_area(
    pair: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    """The motif's piece moved 2 mm to the right: an oval's edge is then 2 mm off at its sides."""

    def move(document: Any) -> None:
        row = next(row for row in document["parts"] if row["name"] == "motif")
        row["origin"][0] += 2.0

    changed(pair[1], move)
    rows = told(pair, capsys)
    apart = next(row for row in rows if row[:2] == ["edge,", "at"])
    assert float(apart[-1]) == pytest.approx(2.0, abs=0.01)
    both = next(row for row in rows if row[:1] == ["paper"])
    assert float(both[-3]) == pytest.approx(float(both[-2]), abs=0.02)
    colours = {tuple(pixel) for pixel in picture(pair).reshape(-1, 3)}
    assert (249, 220, 205) in colours, "the tint of what only A has"
    assert (207, 226, 241) in colours, "the tint of what only B has"


def test_choices_and_findings_that_differ_are_told(
    pair: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    (pair[1] / "card.toml").write_text('[picture]\nfile = "a.png"\n[card]\nrise = "1in"\n')
    changed(pair[1], lambda document: document["findings"].append({"rule": "weak"}))
    rows = told(pair, capsys)
    assert ["card.rise", "20mm", "1in"] in rows
    assert ["weak", "none", "1"] in rows


def test_a_settings_file_names_its_folder(
    pair: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    out = pair[0].parent / "x.png"
    compare(pair[0] / "card.toml", pair[1] / "card.toml", out, force=False, console=Console())
    assert "nothing differs" in capsys.readouterr().out
    assert Image.open(io.BytesIO(out.read_bytes())).format == "PNG"


def test_what_is_no_card_is_refused_and_no_file_is_written_over(
    pair: tuple[Path, Path], tmp_path: Path
) -> None:
    (tmp_path / "empty").mkdir()
    for other in (tmp_path / "empty", tmp_path / "nowhere", pair[0] / "parts" / "motif.svg"):
        with pytest.raises(UsageError, match="folder of a card"):
            compare(pair[0], other, None, force=False, console=Console(-1))
    mine = tmp_path / "mine.png"
    mine.write_bytes(b"mine")
    with pytest.raises(OutputError, match="there already"):
        compare(*pair, mine, force=False, console=Console(-1))
    assert mine.read_bytes() == b"mine"
    with pytest.raises(OutputError):
        compare(*pair, tmp_path / "none" / "x.png", force=False, console=Console(-1))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["empty", "mine.png", "one", "two"]
