"""Folders and files on the disk: listed, linked, locked, written whole; errors in plain words."""

import contextlib
import errno
import hashlib
import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

from trace2pop.errors import BusyError, OutputError


def digest(content: bytes) -> str:
    """Return the SHA-256 of ``content`` in hex."""
    return hashlib.sha256(content).hexdigest()


def file_digest(path: Path) -> str:
    """Return the SHA-256 of a file in hex, read piece by piece.

    Raises:
        OSError: where it can't be read.
    """
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


@contextlib.contextmanager
def plain_errors(target: Path) -> Iterator[None]:
    """Turn what the system says about a place into an ``OutputError`` that names ``target``."""
    try:
        yield
    except OSError as error:
        full = error.errno in (errno.ENOSPC, errno.EDQUOT)
        why = "the disk is full" if full else (error.strerror or "it can't be written").lower()
        advice = "free some space" if full else "choose a place you may write to"
        raise OutputError(f"{target} can't be written: {why}", f"{advice} and run again") from None


def there(path: Path) -> bool:
    """Whether there is something of that name; a name the system can't have is not there."""
    try:
        path.stat()
    except (OSError, ValueError):
        return False
    return True


def names_in(folder: Path) -> list[str]:
    """Return all that lies in a folder and isn't a folder, relative to it.

    Raises:
        OSError: where a part of it can't be listed: what isn't seen can't be kept.
    """
    found = []
    for place, folders, names in os.walk(folder, onerror=_give_up):
        links = [name for name in folders if (Path(place) / name).is_symlink()]
        found += [(Path(place) / name).relative_to(folder).as_posix() for name in (*names, *links)]
    return sorted(found)


def folders_in(folder: Path) -> list[str]:
    """Return all folders below a folder, those within others first, for their times to last."""
    places = [Path(place).relative_to(folder).as_posix() for place, _, _ in os.walk(folder)]
    return sorted(places[1:], reverse=True)


def _give_up(error: OSError) -> None:
    raise error


def move(source: Path, destination: Path) -> None:
    """Move a file, its folder made."""
    destination.parent.mkdir(parents=True, exist_ok=True)
    source.replace(destination)


def same_file(one: Path, other: Path) -> bool:
    """Whether two names are of one file, or a link and its copy."""
    try:
        if one.is_symlink() and other.is_symlink():
            return one.readlink() == other.readlink()
        first, second = one.lstat(), other.lstat()
    except OSError:
        return False
    same = first.st_ino == second.st_ino and first.st_dev == second.st_dev
    alike = first.st_size == second.st_size and first.st_mtime_ns == second.st_mtime_ns
    return same or alike


def link(source: Path, destination: Path) -> None:
    """Give a file a second name: what is written to it meanwhile isn't lost. Else copy it."""
    destination.parent.mkdir(parents=True, exist_ok=True)
    try:
        os.link(source, destination, follow_symlinks=False)
    except OSError:
        shutil.copy2(source, destination, follow_symlinks=False)


def write(path: Path, content: bytes) -> None:
    """Write a file, its folder made."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)


def write_whole(path: Path, content: bytes) -> None:
    """Put one file in place whole or not at all.

    Raises:
        OSError: where that can't be done.
    """
    aside = path.with_name(f".{path.name}.building")
    try:
        aside.write_bytes(content)
        aside.replace(path)
    except OSError:
        aside.unlink(missing_ok=True)
        raise


@contextlib.contextmanager
def locked(target: Path) -> Iterator[None]:
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
    busy = BusyError(
        f"another run is writing {target} just now", "wait until it ends, or name another folder"
    )
    if sys.platform == "win32":
        try:
            return os.open(path, os.O_CREAT | os.O_EXCL | os.O_TEMPORARY)
        except FileExistsError:
            raise busy from None
    import fcntl  # not on Windows

    with plain_errors(target):
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


def umask() -> int:
    """Return the process's file mode mask."""
    mask = os.umask(0)
    os.umask(mask)
    return mask


def glob_escaped(name: str) -> str:
    """Return a name as a pattern that fits only it."""
    return "".join(f"[{c}]" if c in "*?[" else c for c in name)
