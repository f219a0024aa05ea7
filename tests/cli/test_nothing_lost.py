"""Runs that are stopped, killed, crowded out or refused: what was there stays, and one line tells.

Each is the program itself in a process of its own. ``tests/unit/test_output.py`` goes through the
single calls of the delivery.
"""

import os
import signal
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.cli.running import COMMAND, error_lines, run, tree
from trace2pop import output

MOTIF = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="90mm" viewBox="0 0 120 90">'
    '<path d="M10 45C10 10 110 10 110 45S10 80 10 45z"/></svg>'
)
PATIENCE = 120


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "motif.svg").write_text(MOTIF)
    return tmp_path


@contextmanager
def begun(folder: Path, *arguments: str) -> Iterator[subprocess.Popen[str]]:
    """Start a run and wait until it has opened its folder."""
    with subprocess.Popen(
        [COMMAND, *arguments], cwd=folder, stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        end = time.monotonic() + PATIENCE
        while not list(folder.glob(".*.building-*")):
            assert process.poll() is None
            assert time.monotonic() < end
            time.sleep(0.02)
        yield process


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_an_interrupt_leaves_nothing(folder: Path) -> None:
    with begun(folder, "make", "motif.svg", "--out", "card") as process:
        process.send_signal(signal.SIGINT)
        _, told = process.communicate(timeout=PATIENCE)
    assert process.returncode == 130, told
    lines = [line for line in told.splitlines() if line.startswith("trace2pop: ")]
    assert len(lines) == 1
    assert "Traceback" not in told
    assert names(folder) == {"motif.svg"}


@pytest.fixture(scope="module")
def card(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a finished card, with something in it that the maker added."""
    folder = tmp_path_factory.mktemp("card")
    (folder / "motif.svg").write_text(MOTIF)
    ran = run(["make", "motif.svg", "--out", "card"], folder)
    assert ran.code == 0, ran.err
    (folder / "card" / "notes.txt").write_text("mine")
    return folder / "card"


def test_a_killed_run_changes_nothing_and_the_next_one_clears_up(card: Path) -> None:
    before = tree(card)
    with begun(card.parent, "make", "card/card.toml", "--rise", "15mm") as process:
        process.kill()
    assert process.returncode == -signal.SIGKILL
    assert tree(card) == before
    assert names(card.parent) > {"card", "motif.svg"}
    ran = run(["make", "card/card.toml"], card.parent)
    assert ran.code == 0, ran.err
    assert names(card.parent) == {"card", "motif.svg"}
    assert (card / "notes.txt").read_text() == "mine"
    after = {name: content for name, content in tree(card).items() if "/cache/" not in name}
    assert after == {name: content for name, content in before.items() if "/cache/" not in name}


@pytest.mark.parametrize("stop", [signal.SIGINT, signal.SIGTERM])
def test_an_interrupt_leaves_a_card_made_again_as_it_was(card: Path, stop: signal.Signals) -> None:
    before = tree(card)
    with begun(card.parent, "make", "card/card.toml") as process:
        process.send_signal(stop)
        _, told = process.communicate(timeout=PATIENCE)
    assert process.returncode == 130, told
    assert [line[:18] for line in told.splitlines()[-1:]] == ["trace2pop: stopped"]
    assert "Traceback" not in told
    assert tree(card) == before
    assert names(card.parent) == {"card", "motif.svg"}


def test_what_nobody_reads_ends_a_card_made_again_quietly(card: Path) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    arguments = [COMMAND, "make", "card/card.toml"]
    ran = subprocess.run(
        arguments, cwd=card.parent, stdout=writer, stderr=subprocess.PIPE, text=True
    )
    os.close(writer)
    assert ran.returncode == 1
    assert "fault" not in ran.stderr and "Exception" not in ran.stderr


def test_two_runs_into_one_folder(card: Path) -> None:
    before = tree(card)
    with output.opened(card, force=False, rerun=True):
        ran = run(["make", "card/card.toml"], card.parent)
    assert ran.code == 9
    assert len(error_lines(ran)) == 1
    assert "another run" in error_lines(ran)[0]
    assert tree(card) == before


def test_changed_files_are_kept_and_named(card: Path) -> None:
    guide = card / "guide.pdf"
    whole = guide.read_bytes()
    guide.write_bytes(b"scribbled on")
    ran = run(["make", "card/card.toml"], card.parent)
    assert ran.code == 0
    assert "guide.pdf" in ran.err
    assert "you changed this file" in " ".join(ran.err.split())
    assert guide.read_bytes() == b"scribbled on"
    guide.write_bytes(whole)


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """Yield a disk of 400 kB with a motif on it, where the system lets us have one."""
    place = tmp_path / "disk"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=400k", "tmpfs", str(place)]
    if os.geteuid() or subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("no disk may be mounted here")
    (place / "motif.svg").write_text(MOTIF)
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)


def test_a_full_disk_is_told(disk: Path) -> None:
    """A real one: tmpfs. The card needs more than it holds."""
    ran = run(["make", "motif.svg", "--out", "card"], disk)
    assert ran.code == 9, ran.err
    assert len(error_lines(ran)) == 1
    assert "the disk is full" in error_lines(ran)[0]
    assert names(disk) == {"motif.svg"}


def test_a_disk_that_may_only_be_read_is_told_at_once(disk: Path) -> None:
    subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
    for command in (
        ["make", "motif.svg", "--out", "card"],
        ["make", "motif.svg", "--out", "deep/card"],
        ["batch", ".", "--out", "cards"],
        ["mockup", "--out", "white"],
        ["trace", "motif.svg", "--out", "traced"],
        ["frame", "--out", "frame.pdf"],
    ):
        ran = run(command, disk)
        assert ran.code == 9, (command, ran.err)
        assert len(error_lines(ran)) == 1, ran.err
        assert "read-only" in error_lines(ran)[0]
    assert names(disk) == {"motif.svg"}
