"""A card's folder whose files were tampered with: check tells it, in one line, and soon.

The folder is one the program made; each case spoils one file of it.
"""

import json
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.cli.running import run
from tests.hostile import drawings, pictures
from tests.hostile.test_corpus import MEGABYTES, SECONDS, Runner, runner

__all__ = ["runner"]
MOTIF = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="90mm" viewBox="0 0 120 90">'
    '<path d="M10 45C10 10 110 10 110 45S10 80 10 45z"/></svg>'
)
CHECK, USAGE = 10, 2

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="runs are forks of a warm process")


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    folder = tmp_path_factory.mktemp("whole")
    (folder / "motif.svg").write_text(MOTIF)
    ran = run(["make", "motif.svg", "--out", "card", "--formats", "svg,dxf,pdf"], folder)
    assert ran.code == 0, ran.err
    yield folder / "card"


def plan(change: Callable[[dict[str, object]], None]) -> Callable[[Path], None]:
    def spoil(card: Path) -> None:
        file = card / "card.json"
        values = json.loads(file.read_text("utf-8"))
        change(values)
        file.write_text(json.dumps(values), "utf-8")

    return spoil


def written(name: str, content: Callable[[], bytes]) -> Callable[[Path], None]:
    return lambda card: (card / name).write_bytes(content()) and None


def one_part(change: Callable[[str], str]) -> Callable[[Path], None]:
    def spoil(card: Path) -> None:
        file = card / "parts" / "motif.svg"
        file.write_text(change(file.read_text("utf-8")), "utf-8")

    return spoil


def elsewhere(values: dict[str, object]) -> None:
    values["parts"][0]["file"] = "../../../../etc/hostname"  # type: ignore[index]  # JSON


def first_beam(value: object) -> Callable[[dict[str, object]], None]:
    def change(values: dict[str, object]) -> None:
        values["supports"][0]["u"] = value  # type: ignore[index]  # JSON

    return change


def pipe(card: Path) -> None:
    (card / "parts" / "motif.svg").unlink()
    os.mkfifo(card / "parts" / "motif.svg")


def endless(card: Path) -> None:
    (card / "card.json").unlink()
    (card / "card.json").symlink_to("/dev/zero")


def circle(card: Path) -> None:
    (card / "parts" / "motif.svg").unlink()
    (card / "parts" / "motif.svg").symlink_to("motif.svg")


SPOILT: dict[str, Callable[[Path], None]] = {
    "plan cut": written("card.json", lambda: b'{"schema": 1, "card"'),
    "plan is a list": written("card.json", lambda: b"[1, 2]"),
    "plan nested": written("card.json", lambda: b"[" * 200_000 + b"]" * 200_000),
    "plan of long numbers": written("card.json", lambda: b'{"schema": ' + b"9" * 9000 + b"}"),
    "plan is a picture": written("card.json", lambda: pictures.encoded("PNG")),
    "plan without parts": plan(lambda values: values.pop("parts") and None),
    "plan of no numbers": plan(first_beam(float("nan"))),
    "plan of large numbers": plan(first_beam(1e300)),
    "plan of words": plan(first_beam("left")),
    "plan that names files elsewhere": plan(elsewhere),
    "plan that never ends": endless,
    "part with entities": written("parts/motif.svg", drawings.laughs),
    "part nested": written("parts/motif.svg", lambda: drawings.deep(200_000)),
    "part of a million shapes": written("parts/motif.svg", lambda: drawings.many_shapes(1_000_000)),
    "part of crossing lines": written("parts/motif.svg", lambda: drawings.crossing_lines(6000)),
    "part empty": written("parts/motif.svg", lambda: b""),
    "part of no numbers": one_part(lambda text: text.replace("M", "MNaN,NaN L", 1)),
    "part of large numbers": one_part(lambda text: text.replace("L", "L1e300,-1e300 L", 1)),
    "part is a pipe": pipe,
    "part is a link to itself": circle,
    "drawing for cutters cut": lambda card: _cut(card, "*.dxf"),
}


def _cut(card: Path, pattern: str) -> None:
    file = min(card.rglob(pattern))
    file.write_bytes(file.read_bytes()[:1000])


@pytest.mark.parametrize("case", SPOILT)
def test_a_spoilt_folder_is_told(case: str, whole: Path, runner: Runner, tmp_path: Path) -> None:
    card = tmp_path / "card"
    shutil.copytree(whole, card)
    SPOILT[case](card)
    ran = runner(tmp_path, "check", "card")
    lines = [line for line in ran["said"].splitlines() if line.startswith("trace2pop: ")]
    assert "Traceback" not in ran["said"], ran["said"][-2000:]
    assert ran["code"] in (CHECK, USAGE), ran
    assert len(lines) == 1, ran
    assert ran["seconds"] < SECONDS, ran
    assert ran["mb"] < MEGABYTES, ran


def test_a_spoilt_manifest_only_means_that_nothing_is_known(whole: Path, tmp_path: Path) -> None:
    from trace2pop import output

    card = tmp_path / "card"
    shutil.copytree(whole, card)
    for content in (b"", b"[" * 200_000, b"\xff\xfe", b'{"a": "b"}', b'{"../a": "b", "/b": "c"}'):
        (card / output.MANIFEST).write_bytes(content)
        assert output.changed_files(card) == []
