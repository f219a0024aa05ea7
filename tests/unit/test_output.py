"""Delivery: whole or not at all, and nothing of the maker's lost."""

import errno
import multiprocessing
import os
import signal
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

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


def test_files_of_the_makers_own_are_kept_whatever_they_are(tmp_path: Path) -> None:
    target = tmp_path / "card"
    deliver(target, FILES)
    (target / "guide.pdf").unlink()
    (target / "guide.pdf").mkdir()
    (target / "guide.pdf" / "notes.txt").write_bytes(b"mine")
    (target / "parts" / "motif.svg").unlink()
    (target / "parts" / "motif.svg").symlink_to("/nowhere/mine.svg")
    (target / "new.svg").write_bytes(b"a file the program never wrote")
    os.mkfifo(target / "pipe")
    made = deliver(target, {**FILES, "new.svg": b"its own"}, rerun=True)
    assert set(made.kept) == {"guide.pdf", "parts/motif.svg", "new.svg"}
    assert (target / "guide.pdf" / "notes.txt").read_bytes() == b"mine"
    assert (target / "parts" / "motif.svg").is_symlink()
    assert (target / "new.svg").read_bytes() == b"a file the program never wrote"
    assert (target / "pipe").is_fifo()


def test_what_the_maker_does_while_a_run_goes_on_is_kept(tmp_path: Path) -> None:
    """Saved anew, written to, added: between the folder's copy and its exchange."""
    target = tmp_path / "card"
    deliver(target, FILES)
    (target / "open.txt").write_bytes(b"one")

    def work_on(_: Path) -> None:
        with (target / "open.txt").open("ab") as file:
            file.write(b" two")
        (target / "card.new").write_bytes(b"edited")
        (target / "card.new").rename(target / "card.toml")
        (target / "late.txt").write_bytes(b"late")

    with output.opened(target, force=False, rerun=True) as delivery:
        made = delivery.deliver({"card.toml": b"A", "guide.pdf": b"C"}, work_on)
    assert made.kept == ("card.toml",)
    expected = {"card.toml": b"edited", "guide.pdf": b"C"}
    assert tree(target) == {**expected, "open.txt": b"one two", "late.txt": b"late"}
    assert [path.name for path in tmp_path.iterdir()] == ["card"]


CALLS = ("write_bytes", "mkdir", "rename", "replace", "chmod")


class Full:
    """Counts what changes the disk, and from a call on says that it is full."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, after: int, code: int) -> None:
        self.count, self.after, self.code = 0, after, code
        for owner, name in [(Path, name) for name in CALLS] + [(os, "link"), (os, "open")]:
            monkeypatch.setattr(owner, name, self.counted(getattr(owner, name), name))

    def counted(self, call: Callable[..., Any], name: str) -> Callable[..., Any]:
        def counted(*given: Any, **more: Any) -> Any:
            if name == "open" and not given[1] & os.O_CREAT:
                return call(*given, **more)
            self.count += 1
            undoing = name in ("rename", "replace") and str(given[0]).endswith("-old")
            if self.count > self.after and not undoing:
                raise OSError(self.code, os.strerror(self.code))
            return call(*given, **more)

        return counted


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EDQUOT, errno.EACCES, errno.EROFS, errno.EIO])
@pytest.mark.parametrize("there", [False, True])
def test_a_disk_that_gives_up_at_any_call(
    code: int, there: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The error is raised at the first, second, ... call that changes the disk, till none is left.

    From then on all further calls fail too, but for putting the old folder back.
    """
    target = tmp_path / "card"
    if there:
        deliver(target, FILES)
        (target / "notes.txt").write_bytes(b"mine")
    before = tree(target)
    for after in range(200):
        with monkeypatch.context() as patched:
            full = Full(patched, after, code)
            try:
                deliver(target, {**FILES, "card.toml": b"A"}, rerun=there)
            except OutputError as error:
                assert error.exit_code == 9
                wanted = "the disk is full" if code in (errno.ENOSPC, errno.EDQUOT) else "can't be"
                assert wanted in str(error)
            else:
                break
        assert full.count > after
        assert tree(target) == before
    assert after > (8 if there else 5)
    assert tree(target)["card.toml"] == b"A"
    assert [path.name for path in tmp_path.iterdir()] == ["card"]


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """Yield a disk of 256 kB, where the system lets us have one."""
    import subprocess

    place = tmp_path / "disk"
    place.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(place)]
    done = subprocess.run(command, capture_output=True, check=False) if os.geteuid() == 0 else None
    if done is None or done.returncode:
        pytest.skip("no disk may be mounted here")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)


def test_a_full_disk(small_disk: Path) -> None:
    """A real one: tmpfs."""
    target = small_disk / "card"
    deliver(target, FILES)
    with pytest.raises(OutputError, match="the disk is full"):
        deliver(target, {**FILES, "large.pdf": bytes(400_000)}, rerun=True)
    assert tree(target) == FILES
    assert [path.name for path in small_disk.iterdir()] == ["card"]


def test_a_disk_that_may_only_be_read(small_disk: Path) -> None:
    import subprocess

    target = small_disk / "card"
    deliver(target, FILES)
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    for place in (target, small_disk / "new"):
        with pytest.raises(OutputError, match="read-only"):
            deliver(place, FILES, rerun=True)
    assert tree(target) == FILES


@pytest.mark.parametrize("step", range(1, 4))
def test_an_interrupt_while_folders_change_places(
    step: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "card"
    deliver(target, FILES)
    rename, count = Path.rename, 0

    def interrupted(path: Path, other: Path) -> Path:
        nonlocal count
        count += 1
        if count == step:
            raise KeyboardInterrupt
        return rename(path, other)

    with monkeypatch.context() as patched:
        patched.setattr(Path, "rename", interrupted)
        if step < 3:
            with pytest.raises(KeyboardInterrupt):
                deliver(target, {"card.toml": b"A"}, rerun=True)
            assert tree(target) == FILES
        else:
            deliver(target, {"card.toml": b"A"}, rerun=True)
            assert tree(target) == {"card.toml": b"A"}
    assert [path.name for path in tmp_path.iterdir()] == ["card"]
