"""A folder that appears whole or not at all, and never loses what the maker put there."""

import contextlib
import errno
import hashlib
import json
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
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
        others stay as they are, also those that come while this goes on.

        Raises:
            OutputError: where the disk is full or the place can't be written.
        """
        with _plain_errors(self.target):
            kept = [] if self.force else _makers(self.target, files)
            if self.target.exists():
                self._carry_over(files, kept)
            for name, content in files.items():
                if name not in kept:
                    _write(self.staging / name, content)
            manifest = {name: digest(content) for name, content in sorted(files.items())}
            _write(self.staging / MANIFEST, json.dumps(manifest, indent=1).encode() + b"\n")
        judge(self.staging)
        with _plain_errors(self.target):
            kept += self._swap(files, kept)
        return Delivered(self.target, tuple(kept))

    def _carry_over(self, files: Mapping[str, bytes], kept: Sequence[str]) -> None:
        """Link into the new folder what stays of the old one."""
        stale = set(_manifest(self.target)) - set(files) - set(changed_files(self.target))
        replaced = set(files) - set(kept)
        for name in _names(self.target):
            if name not in stale and name not in replaced and name != MANIFEST:
                _link(self.target / name, self.staging / name)
        for folder in _folders(self.target):
            (self.staging / folder).mkdir(parents=True, exist_ok=True)
            shutil.copystat(self.target / folder, self.staging / folder)

    def _swap(self, files: Mapping[str, bytes], kept: Sequence[str]) -> list[str]:
        """Put the new folder in the old one's place; return what the maker changed meanwhile."""
        self.staging.chmod(0o777 & ~_umask())
        if not self.target.exists():
            self.staging.rename(self.target)
            return []
        old = self.staging.with_name(self.staging.name + "-old")
        self.target.rename(old)
        try:
            self.staging.rename(self.target)
        except BaseException:  # an interrupt too
            old.rename(self.target)
            raise
        late = [] if self.force else [n for n in _makers(old, files) if n not in kept]
        done = {*_manifest(old), MANIFEST, *(files if self.force else ())} - set(late)
        for name in _names(old):
            if name not in done and not _same_file(old / name, self.target / name):
                _move(old / name, self.target / name)
        shutil.rmtree(old, ignore_errors=True)
        return late


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
        if not left.is_dir() or left.is_symlink():
            continue
        if left.name.endswith("-old"):
            if not target.exists():
                left.rename(target)
                continue
            own = _manifest(left)
            for name in _names(left):
                if name not in own and not os.path.lexists(target / name):
                    _move(left / name, target / name)
        shutil.rmtree(left, ignore_errors=True)


def _names(folder: Path) -> list[str]:
    """Return all that lies in a folder and isn't a folder, relative to it.

    Raises:
        OSError: where a part of it can't be listed: what isn't seen can't be kept.
    """
    found = []
    for place, folders, names in os.walk(folder, onerror=_give_up):
        links = [name for name in folders if (Path(place) / name).is_symlink()]
        found += [(Path(place) / name).relative_to(folder).as_posix() for name in (*names, *links)]
    return sorted(found)


def _folders(folder: Path) -> list[str]:
    """Return all folders below a folder, those within others first, for their times to last."""
    places = [Path(place).relative_to(folder).as_posix() for place, _, _ in os.walk(folder)]
    return sorted(places[1:], reverse=True)


def _give_up(error: OSError) -> None:
    raise error


def _move(source: Path, destination: Path) -> None:
    destination.parent.mkdir(parents=True, exist_ok=True)
    source.replace(destination)


def _same_file(one: Path, other: Path) -> bool:
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


def _link(source: Path, destination: Path) -> None:
    """Give a file a second name: what is written to it meanwhile isn't lost. Else copy it."""
    destination.parent.mkdir(parents=True, exist_ok=True)
    try:
        os.link(source, destination, follow_symlinks=False)
    except OSError:
        shutil.copy2(source, destination, follow_symlinks=False)


def _makers(target: Path, files: Mapping[str, bytes]) -> list[str]:
    """Return the names of ``files`` that in ``target`` are the maker's, by change or by origin."""
    own = _manifest(target)
    foreign = [name for name in files if name not in own and os.path.lexists(target / name)]
    return [*changed_files(target), *foreign]


def changed_files(target: Path) -> list[str]:
    """Return the manifest's files that are there but no longer as they were written.

    A folder or a link in such a file's place is the maker's too.
    """
    changed = []
    for name, checksum in _manifest(target).items():
        path = target / name
        plain = path.is_file() and not path.is_symlink()
        if os.path.lexists(path) and not (plain and digest(path.read_bytes()) == checksum):
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
