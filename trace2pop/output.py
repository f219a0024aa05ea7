"""A folder that appears whole or not at all, and never loses what the maker put there."""

import contextlib
import errno
import hashlib
import json
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from trace2pop.errors import OutputError

MANIFEST = ".trace2pop/manifest.json"
"""Names every file the program wrote into a folder, with its checksum."""


@dataclass(frozen=True)
class Delivered:
    """What became of a folder: ``kept`` are the program's files that the maker had changed."""

    folder: Path
    kept: tuple[str, ...]


def digest(content: bytes) -> str:
    """Return the SHA-256 of ``content`` in hex."""
    return hashlib.sha256(content).hexdigest()


class Delivery:
    """Builds a folder aside and moves it into place. Use as a context; see ``opened``."""

    def __init__(self, target: Path, staging: Path, *, force: bool) -> None:
        self.target = target
        self.staging = staging
        self.force = force

    def deliver(
        self, files: Mapping[str, bytes], judge: Callable[[Path], None] = lambda _: None
    ) -> Delivered:
        """Write ``files`` (relative path to bytes), have them judged, and put the folder in place.

        ``judge`` is called with the folder as it was written aside, before it replaces anything;
        what it raises stops the delivery.

        In a folder that exists already, files of its manifest that nobody changed are replaced or,
        where this run makes them no more, removed; changed ones are kept unless ``force``; all
        others stay as they are.

        Raises:
            OutputError: where the disk is full or the place can't be written.
        """
        kept = [] if self.force else changed_files(self.target)
        wanted = {name: content for name, content in files.items() if name not in kept}
        with _plain_errors(self.target):
            if self.target.exists():
                self._carry_over(files)
            for name, content in wanted.items():
                _write(self.staging / name, content)
            manifest = {name: digest(content) for name, content in sorted(files.items())}
            _write(self.staging / MANIFEST, json.dumps(manifest, indent=1).encode() + b"\n")
        judge(self.staging)
        with _plain_errors(self.target):
            self._swap()
        return Delivered(self.target, tuple(kept))

    def _carry_over(self, files: Mapping[str, bytes]) -> None:
        stale = set(_manifest(self.target)) - set(files) - set(changed_files(self.target))
        skip = {self.target / name for name in (*stale, MANIFEST)}

        def left_out(folder: str, names: list[str]) -> list[str]:
            return [name for name in names if Path(folder) / name in skip]

        shutil.copytree(
            self.target, self.staging, dirs_exist_ok=True, symlinks=True, ignore=left_out
        )

    def _swap(self) -> None:
        self.staging.chmod(0o777 & ~_umask())
        if not self.target.exists():
            self.staging.rename(self.target)
            return
        old = self.staging.with_name(self.staging.name + "-old")
        self.target.rename(old)
        try:
            self.staging.rename(self.target)
        except OSError:
            old.rename(self.target)
            raise
        shutil.rmtree(old, ignore_errors=True)


@contextlib.contextmanager
def opened(target: Path, *, force: bool, rerun: bool) -> Iterator[Delivery]:
    """Open ``target`` for a delivery: checked for write access and locked before any work is done.

    ``rerun`` says that the settings come from the folder's own card.toml.

    Raises:
        OutputError: where the folder exists and isn't empty (unless ``force`` or ``rerun``), can't
            be written, or another run is writing it.
    """
    _refuse_existing(target, force=force, rerun=rerun)
    with _plain_errors(target):
        target.parent.mkdir(parents=True, exist_ok=True)
    with _locked(target):
        with _plain_errors(target):
            recover(target)
            prefix = f".{target.name}.building-"
            staging = Path(tempfile.mkdtemp(prefix=prefix, dir=target.parent))
        try:
            yield Delivery(target, staging, force=force)
        finally:
            shutil.rmtree(staging, ignore_errors=True)


def recover(target: Path) -> None:
    """Put back a folder that a killed run had set aside, and clear what that run left."""
    for left in sorted(target.parent.glob(f".{_glob_escaped(target.name)}.building-*")):
        if left.name.endswith("-old") and not target.exists():
            left.rename(target)
        elif left.is_dir():
            shutil.rmtree(left, ignore_errors=True)


def changed_files(target: Path) -> list[str]:
    """Return the manifest's files that are there but no longer as they were written."""
    changed = []
    for name, checksum in _manifest(target).items():
        path = target / name
        if path.is_file() and digest(path.read_bytes()) != checksum:
            changed.append(name)
    return changed


def _manifest(target: Path) -> dict[str, str]:
    try:
        rows = json.loads((target / MANIFEST).read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    if not isinstance(rows, dict):
        return {}
    return {
        name: checksum
        for name, checksum in rows.items()
        if isinstance(checksum, str) and _inside(name)
    }


def _inside(name: str) -> bool:
    path = PurePosixPath(name)
    return not path.is_absolute() and ".." not in path.parts


def _refuse_existing(target: Path, *, force: bool, rerun: bool) -> None:
    if target.is_symlink() or (target.exists() and not target.is_dir()):
        raise OutputError(f"{target} is a file, not a folder", "name another folder with --out")
    with _plain_errors(target):
        occupied = target.is_dir() and any(target.iterdir())
    if occupied and not force and not rerun:
        raise OutputError(
            f"{target} is there already and isn't empty",
            "name another folder with --out, or add --force to replace this program's files in it",
        )


@contextlib.contextmanager
def _locked(target: Path) -> Iterator[None]:
    """Hold the folder's lock file; the system drops it when the process ends, however it ends."""
    path = target.with_name(f".{target.name}.lock")
    handle = _lock(path, target)
    try:
        yield
    finally:
        # Windows removes the file by itself, on closing.
        with contextlib.suppress(OSError):
            path.unlink()
        os.close(handle)


def _lock(path: Path, target: Path) -> int:
    busy = OutputError(
        f"another run is writing {target} just now", "wait until it ends, or name another folder"
    )
    if sys.platform == "win32":
        try:
            return os.open(path, os.O_CREAT | os.O_EXCL | os.O_TEMPORARY)
        except FileExistsError:
            raise busy from None
    import fcntl  # not on Windows

    with _plain_errors(target):
        handle = os.open(path, os.O_CREAT | os.O_RDWR, 0o600)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        # The run before may have removed the file between our opening and locking it.
        if os.fstat(handle).st_ino != path.stat().st_ino:
            raise busy
    except (OSError, OutputError):
        os.close(handle)
        raise busy from None
    return handle


def _write(path: Path, content: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _glob_escaped(name: str) -> str:
    return "".join(f"[{c}]" if c in "*?[" else c for c in name)


@contextlib.contextmanager
def _plain_errors(target: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        full = error.errno in (errno.ENOSPC, errno.EDQUOT)
        why = "the disk is full" if full else (error.strerror or "it can't be written").lower()
        advice = "free some space" if full else "choose a place you may write to"
        raise OutputError(f"{target} can't be written: {why}", f"{advice} and run again") from None
