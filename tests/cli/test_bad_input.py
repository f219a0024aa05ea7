"""Bad input gives one line with the next step, its exit code, and leaves nothing behind."""

import io
import os
import struct
import zlib
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.cli.running import error_lines, run, tree

PICTURE, TRACE, OUTPUT, USAGE = 3, 4, 9, 2


def png_header(width: int, height: int) -> bytes:
    """Return a PNG that claims a size and holds next to nothing (PNG specification, 11.2.2)."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b"\0" * 1000))
        + chunk(b"IEND", b"")
    )


def encoded(array: np.ndarray, kind: str) -> bytes:
    buffer = io.BytesIO()
    Image.fromarray(array).save(buffer, kind)
    return buffer.getvalue()


def truncated_jpeg() -> bytes:
    whole = encoded(np.random.default_rng(1).integers(0, 255, (400, 400, 3), np.uint8), "JPEG")
    return whole[: len(whole) // 3]


CASES: dict[str, tuple[str, Callable[[], bytes], int]] = {
    "text named jpg": ("motif.jpg", lambda: b"this is not a picture\n" * 50, PICTURE),
    "empty file": ("motif.png", lambda: b"", PICTURE),
    "truncated jpeg": ("motif.jpg", truncated_jpeg, PICTURE),
    "one pixel": ("motif.png", lambda: encoded(np.zeros((1, 1, 3), np.uint8), "PNG"), PICTURE),
    "huge header": ("motif.png", lambda: png_header(60_000, 60_000), PICTURE),
    "all white": (
        "motif.png",
        lambda: encoded(np.full((900, 900, 3), 255, np.uint8), "PNG"),
        TRACE,
    ),
    "all black": ("motif.png", lambda: encoded(np.zeros((900, 900, 3), np.uint8), "PNG"), TRACE),
    "settings nonsense": ("card.toml", lambda: b"[card]\nrise = ", USAGE),
    "settings unknown key": ("card.toml", lambda: b'[card]\nrais = "2mm"\n', USAGE),
}


@pytest.mark.parametrize("case", CASES)
def test_one_line_one_code_nothing_left(case: str, tmp_path: Path) -> None:
    name, content, code = CASES[case]
    (tmp_path / name).write_bytes(content())
    before = tree(tmp_path)
    ran = run(["make", name, "--out", "card"], tmp_path)
    assert ran.code == code, ran.err
    assert len(error_lines(ran)) == 1
    assert "Traceback" not in ran.err
    assert tree(tmp_path) == before
    assert sorted(path.name for path in tmp_path.iterdir()) == [name]


def test_a_missing_picture_is_named(tmp_path: Path) -> None:
    ran = run(["make", "nowhere.png", "--out", "card"], tmp_path)
    assert ran.code == PICTURE
    assert "nowhere.png" in error_lines(ran)[0]
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    (tmp_path / "motif.png").write_bytes(CASES["all black"][1]())
    locked = tmp_path / "locked"
    locked.mkdir(mode=0o500)
    ran = run(["make", "motif.png", "--out", "locked/card"], tmp_path)
    assert ran.code == OUTPUT
    assert list(locked.iterdir()) == []


def test_a_place_that_is_no_folder_is_named(tmp_path: Path) -> None:
    (tmp_path / "motif.png").write_bytes(CASES["all black"][1]())
    ran = run(["make", "motif.png", "--out", "motif.png/card"], tmp_path)
    assert ran.code == OUTPUT
    ran = run(["make", "motif.png", "--out", "/proc/none/card"], tmp_path)
    assert ran.code == OUTPUT
    assert len(error_lines(ran)) == 1


def test_an_existing_folder_is_kept(tmp_path: Path) -> None:
    (tmp_path / "motif.png").write_bytes(CASES["all black"][1]())
    (tmp_path / "card").mkdir()
    (tmp_path / "card" / "mine.txt").write_text("mine")
    ran = run(["make", "motif.png", "--out", "card"], tmp_path)
    assert ran.code == OUTPUT
    assert "--force" in error_lines(ran)[0]
    assert tree(tmp_path / "card") == {"mine.txt": b"mine"}


@pytest.mark.parametrize(
    ("option", "value", "word"),
    [
        ("--rise", "20", "unit"),
        ("--rise", "900mm", "5 to 150"),
        ("--card", "7in", "width x height"),
        ("--card", "a6", "105x148mm or 4.5x6.25in"),
        ("--spine", "lng", "long"),
        ("--motif-stock", "vellum", "cover-216"),
    ],
)
def test_an_impossible_choice_says_what_may_be(
    option: str, value: str, word: str, tmp_path: Path
) -> None:
    ran = run(["make", "motif.png", "--out", "card", option, value], tmp_path)
    assert ran.code == USAGE
    assert option in error_lines(ran)[0]
    assert word in error_lines(ran)[0]


def test_a_name_with_spaces_is_asked_for_between_quotes(tmp_path: Path) -> None:
    (tmp_path / "my motif.png").write_bytes(b"")
    ran = run(["make", "my", "motif.png", "--out", "card"], tmp_path)
    assert ran.code == USAGE
    assert 'put it between quotes: "my motif.png"' in error_lines(ran)[0]


def test_a_cards_folder_in_a_pictures_place_is_led_on(tmp_path: Path) -> None:
    (tmp_path / "card").mkdir()
    (tmp_path / "card" / "card.toml").write_text("")
    ran = run(["make", "card", "--out", "other"], tmp_path)
    assert ran.code == PICTURE and str(Path("card") / "card.toml") in error_lines(ran)[0]


def test_a_folder_that_is_no_card_is_not_judged(tmp_path: Path) -> None:
    ran = run(["check", "."], tmp_path)
    assert ran.code == USAGE and "isn't the folder of a card" in error_lines(ran)[0]


def test_half_a_size_is_asked_for_the_other_half(tmp_path: Path) -> None:
    ran = run(["sizes", "--width", "120mm"], tmp_path)
    assert ran.code == USAGE and "--height" in error_lines(ran)[0]
