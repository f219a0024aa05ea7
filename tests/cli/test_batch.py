"""Batch: one failure never stops the rest, and a second run redoes nothing."""

import csv
import shutil
from pathlib import Path

from tests.cli.running import SAMPLES, run, tree


def test_a_folder_of_drawings_becomes_a_folder_of_cards(tmp_path: Path) -> None:
    drawings = tmp_path / "drawings"
    drawings.mkdir()
    shutil.copy(SAMPLES / "lily" / "cutout.png", drawings / "lily.png")
    (drawings / "broken =1+1.jpg").write_bytes(b"no picture")
    ran = run(["batch", drawings, "--out", "cards", "--rise", "15mm"], tmp_path, 300)
    assert ran.code == 1, ran.err
    with (tmp_path / "cards" / "summary.csv").open(encoding="utf-8") as table:
        rows = list(csv.DictReader(table))
    assert [(row["card"], row["status"], row["code"]) for row in rows] == [
        ("broken =1+1-jpg", "failed", "3"),
        ("lily-png", "made", "0"),
    ]
    assert (tmp_path / "cards" / "lily-png" / "guide.pdf").exists()
    page = (tmp_path / "cards" / "index.html").read_text("utf-8")
    assert "lily-png/preview.png" in page
    before = tree(tmp_path / "cards" / "lily-png")
    again = run(["batch", drawings, "--out", "cards", "--rise", "15mm"], tmp_path, 300)
    assert "kept: lily-png" in again.err
    assert tree(tmp_path / "cards" / "lily-png") == before


def test_an_empty_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "none").mkdir()
    ran = run(["batch", "none", "--out", "cards"], tmp_path)
    assert ran.code == 2
    assert not (tmp_path / "cards").exists()
