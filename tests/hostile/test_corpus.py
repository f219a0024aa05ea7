"""Each bad file is refused: one line, its exit code, soon, in little memory, nothing left behind.

Time is the processor's, memory the peak of the run with all its libraries loaded; both are measured
by the system for a process of the run's own.
"""

import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.hostile.corpus import CORPUS, DRAWINGS, PAPERS, PICTURES, SETTINGS

ROOT = Path(__file__).parents[2]
SECONDS, MEGABYTES = 5.0, 1000.0
Runner = Callable[..., dict[str, Any]]

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="runs are forks of a warm process")


@pytest.fixture(scope="module")
def runner() -> Iterator[Runner]:
    command = [sys.executable, "-m", "tests.hostile.runner"]
    with subprocess.Popen(
        command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as server:
        assert server.stdin is not None
        assert server.stdout is not None

        def run(folder: Path, *arguments: str) -> dict[str, Any]:
            server.stdin.write(json.dumps([str(folder), *arguments]) + "\n")
            server.stdin.flush()
            answer: dict[str, Any] = json.loads(server.stdout.readline())
            return answer

        yield run
        server.stdin.close()


LONG = {
    "pdf of a thousand million points",
    "pdf of no numbers",
    "pdf of no size",
    "png of white pixels",
    "svg clips in clips",
    "svg long path",
    "svg uses in uses",
    "tiff of infinite numbers",
}
"""Those that take more than a second here; on their own, not in CI."""

CASES = [
    pytest.param(title, marks=pytest.mark.bench) if title in LONG else title for title in CORPUS
]


@pytest.mark.parametrize("title", CASES)
def test_a_bad_file_is_refused(title: str, runner: Runner, tmp_path: Path) -> None:
    bad = CORPUS[title]
    (tmp_path / bad.name).write_bytes(bad.content())
    ran = runner(tmp_path, "make", bad.name, "--out", "card", *bad.options)
    lines = [line for line in ran["said"].splitlines() if line.startswith("trace2pop: ")]
    assert "Traceback" not in ran["said"], ran["said"][-2000:]
    assert ran["code"] == bad.code, ran
    assert len(lines) == 1, ran
    assert len(lines[0]) < 700, ran
    assert "; " in lines[0]
    assert ran["seconds"] < SECONDS, ran
    assert ran["mb"] < MEGABYTES, ran
    assert [path.name for path in tmp_path.iterdir()] == [bad.name]


def test_there_are_enough_of_each_kind() -> None:
    assert len(CORPUS) == len(PICTURES) + len(PAPERS) + len(DRAWINGS) + len(SETTINGS)
    assert len(CORPUS) - len(LONG) >= 60
    assert set(CORPUS) >= LONG
