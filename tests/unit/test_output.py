"""Delivery: whole or not at all, and nothing of the maker's lost."""

import multiprocessing
import os
import signal
from pathlib import Path

import pytest

from trace2pop import output
from trace2pop.errors import OutputError

FILES = {"card.toml": b"a", "parts/motif.svg": b"b", "guide.pdf": b"c"}


def deliver(target: Path, files: dict[str, bytes], *, force: bool = False, rerun: bool = False):
    with output.opened(target, force=force, rerun=rerun) as delivery:
        return delivery.deliver(files)


def tree(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and output.MANIFEST not in path.as_posix()
    }


NAMES = ["card", "two words", 'it\'s "q"', "-dash", "Wasserläufer", "池", "[x]*?"]


@pytest.mark.parametrize("name", NAMES)
def test_a_new_folder_holds_all_files_and_nothing_else(tmp_path: Path, name: str) -> None:
    deliver(tmp_path / name, FILES)
    assert tree(tmp_path / name) == FILES
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_a_failed_run_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(ZeroDivisionError), output.opened(tmp_path / "x", force=False, rerun=False):
        raise ZeroDivisionError
    assert list(tmp_path.iterdir()) == []


def test_an_existing_folder_is_kept_without_force(tmp_path: Path) -> None:
    target = tmp_path / "card"
    target.mkdir()
    (target / "mine.txt").write_bytes(b"mine")
    with pytest.raises(OutputError, match="isn't empty"):
        deliver(target, FILES)
    assert tree(target) == {"mine.txt": b"mine"}
    deliver(target, FILES, force=True)
    assert tree(target) == {"mine.txt": b"mine", **FILES}


def test_a_rerun_replaces_what_nobody_changed_and_names_the_rest(tmp_path: Path) -> None:
    target = tmp_path / "card"
    deliver(target, FILES)
    (target / "notes.txt").write_bytes(b"mine")
    (target / "guide.pdf").write_bytes(b"scribbled on")
    made = deliver(target, {"card.toml": b"A", "guide.pdf": b"C"}, rerun=True)
    assert made.kept == ("guide.pdf",)
    expected = {"card.toml": b"A", "guide.pdf": b"scribbled on", "notes.txt": b"mine"}
    assert tree(target) == expected
    assert deliver(target, {"card.toml": b"A", "guide.pdf": b"C"}, force=True).kept == ()
    assert tree(target) == {**expected, "guide.pdf": b"C"}


def test_a_manifest_that_points_outside_is_not_followed(tmp_path: Path) -> None:
    target = tmp_path / "card"
    deliver(target, FILES)
    outside = tmp_path / "outside.txt"
    outside.write_bytes(b"b")
    (target / output.MANIFEST).write_text('{"../outside.txt": "x", "/etc/hosts": "x", "a": 3}')
    deliver(target, FILES, rerun=True)
    assert outside.read_bytes() == b"b"


def _run_and_hang(target: str) -> None:
    with output.opened(Path(target), force=True, rerun=False) as delivery:
        (delivery.staging / "half").write_bytes(b"x")
        os.kill(os.getpid(), signal.SIGKILL)


def test_a_killed_run_is_cleared_by_the_next(tmp_path: Path) -> None:
    target = tmp_path / "card"
    deliver(target, FILES)
    process = multiprocessing.get_context("spawn").Process(
        target=_run_and_hang, args=(str(target),)
    )
    process.start()
    process.join()
    assert process.exitcode == -signal.SIGKILL
    assert tree(target) == FILES
    deliver(target, FILES, rerun=True)
    assert [path.name for path in tmp_path.iterdir()] == ["card"]


def test_a_folder_set_aside_by_a_killed_run_comes_back(tmp_path: Path) -> None:
    target = tmp_path / "card"
    deliver(target, FILES)
    target.rename(tmp_path / ".card.building-abcdefgh-old")
    output.recover(target)
    assert tree(target) == FILES


def test_two_runs_into_one_folder_are_refused(tmp_path: Path) -> None:
    with (
        output.opened(tmp_path / "card", force=False, rerun=False),
        pytest.raises(OutputError, match="another run"),
        output.opened(tmp_path / "card", force=False, rerun=False),
    ):
        raise AssertionError("the second run got in")


@pytest.mark.parametrize("below", ["file.txt", "file.txt/deeper"])
def test_a_file_in_the_way_is_named(tmp_path: Path, below: str) -> None:
    (tmp_path / "file.txt").write_bytes(b"x")
    with pytest.raises(OutputError):
        deliver(tmp_path / below, FILES)
    assert (tmp_path / "file.txt").read_bytes() == b"x"
