"""Stages kept from the run before: taken where their inputs, this program and its libraries agree.

A kept stage is never trusted: its checksum, its key and the types of all it holds must be right, or
it counts as not there. It holds plain numbers and texts, nothing that could be run.
"""

import hashlib
import platform
import re
import stat
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import is_dataclass
from functools import cache
from importlib import metadata
from pathlib import Path
from typing import TypeVar

import numpy as np

from trace2pop.places import digest
from trace2pop.records import Later, inner, packed, record, restored, unpacked

T = TypeVar("T")

FOLDER = ".trace2pop/cache"
"""Where a card's folder holds its kept stages. Not of the manifest: safe to delete."""
STAGES = ("capture", "trace", "fit", "cuttable", "supports", "artwork", "print", "trace-picture")
_NAME = re.compile(rf"({'|'.join(STAGES)})(-\d+)?")
MOST_BYTES = 64_000_000
"""A stage that holds more is made again each time: a folder shouldn't swell for a second."""

_LONGEST_FILE = 2_000_000_000
_MAGIC = b"trace2pop kept stage 1\n"


class Cache:
    """The stages of one card, kept from run to run in its folder.

    Without a ``folder`` nothing is kept, and values still go through the same form, so that later
    stages see the same bits with and without a cache. One that isn't ``trusted`` is only written.
    """

    def __init__(self, folder: Path | None = None, *, trusted: bool = True) -> None:
        self._folder = folder / FOLDER if folder else None
        self._trusted = trusted
        self._digests: dict[int, tuple[object, str]] = {}
        self._kept: dict[str, bytes] = {}
        self._times: dict[str, int] = {}
        self._taken: set[int] = set()

    def stage(self, name: str, kind: type[T], given: Sequence[object], make: Callable[[], T]) -> T:
        """Return the value of a stage, from the run before where that had the same ``given``.

        Raises:
            Trace2popError: what ``make`` raises.
        """
        name = self._counted(name)
        key = self._key(name, given)
        found = self._found(name, key, kind, given)
        if found is not None:
            return found
        made = make()
        try:
            parts = record(made, given)
            value = restored(parts, kind, given)
        except (TypeError, ValueError):  # what can't be kept is used as it is
            return made
        if key is not None:
            self._remember(value)
            if parts.size <= MOST_BYTES:
                self._kept[name] = _sealed(key, packed(parts))
        return value

    @property
    def used(self) -> bool:
        """Whether any stage is from the run before."""
        return bool(self._taken)

    def was_taken(self, value: object) -> bool:
        """Whether a stage's value, or what holds it, is from the run before."""
        return id(value) in self._taken

    def keep(self, folder: Path) -> None:
        """Write this run's stages into a card's folder, and remove those of no more use.

        A disk that is full or can't be written costs the cache, never the card.
        """
        place = folder / FOLDER
        with suppress(OSError):
            if place.is_symlink() or place.parent.is_symlink():
                return
            if self._kept:
                place.mkdir(parents=True, exist_ok=True)
            for name, content in self._kept.items():
                if _content(place / name) != content:
                    _replace(place / name, content)
            for path in place.iterdir():
                if _NAME.fullmatch(path.name) and path.name not in self._kept:
                    path.unlink()
            if not self._kept:
                place.rmdir()

    def _counted(self, name: str) -> str:
        """Return the name of a stage's file: a stage that is tried at several sizes has several."""
        times = self._times[name] = self._times.get(name, 0) + 1
        return name if times == 1 else f"{name}-{times}"

    def _key(self, name: str, given: Sequence[object]) -> str | None:
        if self._folder is None:
            return None
        return _sha(name, fingerprint(), *(self._digest(item) for item in given))

    def _digest(self, value: object) -> str:
        """Return the checksum of all a value holds; that of a stage's value is known already."""
        if id(value) in self._digests:
            return self._digests[id(value)][1]
        if isinstance(value, Path):
            return _sha(value.name, _of_file(value))
        if isinstance(value, Later):
            return _sha(value.dtype, str(value.shape), value.sha256)
        if isinstance(value, np.ndarray):
            whole = np.ascontiguousarray(value)
            return _sha(whole.dtype.str, str(whole.shape), hashlib.sha256(whole.data).hexdigest())
        if isinstance(value, dict):
            return _sha("dict", *(self._digest(item) for pair in value.items() for item in pair))
        if isinstance(value, tuple | list):
            return _sha("row", *(self._digest(item) for item in value))
        if is_dataclass(value):
            parts = (self._digest(part) for _, part in inner(value))
            return _sha(type(value).__qualname__, *parts)
        return _sha(type(value).__name__, repr(value))

    def _found(
        self, name: str, key: str | None, kind: type[T], given: Sequence[object]
    ) -> T | None:
        if self._folder is None or key is None or not self._trusted:
            return None
        content = _content(self._folder / name)
        body = _opened(key, content) if content else None
        if content is None or body is None:
            return None
        try:
            value = restored(unpacked(body), kind, given)
        except (ValueError, RecursionError, MemoryError):
            return None
        self._kept[name] = content
        self._remember(value)
        earlier = {id(part) for part in given}
        parts = [part for _, part in inner(value)] if is_dataclass(value) else []
        self._taken |= {id(value), *(id(part) for part in parts if is_dataclass(part))} - earlier
        return value

    def _remember(self, value: object) -> None:
        """Note the checksum of a stage's value, and hold the value: an id lives no longer."""
        self._digests[id(value)] = (value, self._digest(value))


@cache
def fingerprint() -> str:
    """Return the checksum of this program's own code and tables, and of what it is run with."""
    parts = [sys.version, platform.machine(), *_libraries()]
    root = Path(__file__).parent
    for path in sorted(root.rglob("*")):
        if path.is_file() and path.suffix not in (".pyc", ".pyo"):
            parts += [path.relative_to(root).as_posix(), digest(path.read_bytes())]
    return _sha(*parts)


def _libraries() -> list[str]:
    """Return name and version of each library the program needs, as far as they are there."""
    with suppress(metadata.PackageNotFoundError):
        rows = metadata.requires("trace2pop") or ()
        named = [re.match(r"[\w.-]+", row) for row in rows if 'extra == "dev"' not in row]
        return [_version(match[0]) for match in named if match]
    return []


def _version(name: str) -> str:
    try:
        return f"{name} {metadata.version(name)}"
    except metadata.PackageNotFoundError:
        return name


def _of_file(path: Path) -> str:
    """Return the checksum of a file's bytes; of its size and date where it is beyond any picture.

    What is no plain file isn't read: it could be without end.
    """
    with suppress(OSError):
        found = path.stat()
        if stat.S_ISREG(found.st_mode) and found.st_size <= _LONGEST_FILE:
            with path.open("rb") as file:
                return hashlib.file_digest(file, "sha256").hexdigest()
        return f"{found.st_size} {found.st_mtime_ns}"
    return "not there"


def _sha(*parts: str) -> str:
    return digest("\0".join(f"{len(part)} {part}" for part in parts).encode())


def _sealed(key: str, body: bytes) -> bytes:
    return b"".join([_MAGIC, f"{key}\n{_seal(key, body)}\n".encode(), body])


def _seal(key: str, body: bytes) -> str:
    seal = hashlib.sha256(key.encode())
    seal.update(body)
    return seal.hexdigest()


def _opened(key: str, content: bytes) -> bytes | None:
    """Return what is sealed in a kept file, None where key or seal aren't right."""
    head = len(_MAGIC) + 2 * 65
    body = content[head:]
    right = b"".join([_MAGIC, f"{key}\n{_seal(key, body)}\n".encode()])
    return body if content[:head] == right else None


def _content(path: Path) -> bytes | None:
    """Return a plain file's bytes, None where there is none or it is too large to be ours."""
    with suppress(OSError):
        found = path.lstat()
        if stat.S_ISREG(found.st_mode) and found.st_size <= 2 * MOST_BYTES:
            return path.read_bytes()
    return None


def _replace(path: Path, content: bytes) -> None:
    aside = path.with_name(f"{path.name}.new")
    try:
        aside.unlink(missing_ok=True)
        aside.write_bytes(content)
        aside.replace(path)
    finally:
        with suppress(OSError):
            aside.unlink(missing_ok=True)
