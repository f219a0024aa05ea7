"""Values of earlier runs, kept beside the output. Safe to delete; never trusted when damaged.

A value is stored as JSON and plain arrays, so that reading one back can run nothing. Each file is
named by a key made from all that the value depends on, and starts with the checksum of the rest.
"""

import dataclasses
import functools
import hashlib
import importlib
import json
import math
import os
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

T = TypeVar("T")
Array = np.ndarray[Any, Any]

FOLDER = ".trace2pop/cache"
_MODULES = ("artwork", "card", "finding", "outline", "settings", "stock")
_CHECKSUM = 32


class Cache:
    """The cache of one output folder.

    ``read`` may be None for a run that has nothing to read from. What a run computes or used is
    collected in ``kept`` (relative name to bytes), to be written with the run's other files.
    """

    def __init__(self, folder: Path | None) -> None:
        self.folder = folder
        self.kept: dict[str, bytes] = {}

    def through(self, stage: str, inputs: object, compute: Callable[[], T], kind: type[T]) -> T:
        """Return the value of ``stage`` for ``inputs``: from the cache, else computed and kept."""
        name = f"{FOLDER}/{stage}-{key(inputs)[:32]}.bin"
        content = self._stored(name)
        value = decode(content) if content is not None else None
        if content is None or not isinstance(value, kind):
            value = compute()
            content = encode(value)
        self.kept[name] = content
        return value

    def _stored(self, name: str) -> bytes | None:
        if self.folder is None:
            return None
        try:
            return (self.folder / name).read_bytes()
        except OSError:
            return None


def key(inputs: object) -> str:
    """Return the name of what depends on ``inputs`` and on this version of the program."""
    return hashlib.sha256(f"{_program()} {inputs!r}".encode()).hexdigest()


@functools.cache
def _program() -> str:
    """Return a checksum of the program's own text, so that no version reads another's values."""
    digest = hashlib.sha256()
    root = Path(str(files("trace2pop")))
    for path in sorted(root.rglob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()


def encode(value: object) -> bytes:
    """Return a tree of model values as bytes: checksum, header length, header, arrays."""
    arrays: list[Array] = []
    tree = _plain(value, arrays)
    rows = [[array.dtype.str, list(array.shape)] for array in arrays]
    header = json.dumps({"tree": tree, "arrays": rows}).encode()
    body = b"".join(
        [len(header).to_bytes(8, "big"), header, *(array.tobytes() for array in arrays)]
    )
    return hashlib.sha256(body).digest() + body


def decode(content: bytes) -> object:
    """Return the value of ``encode``'s bytes, None where they are damaged."""
    body = memoryview(content)[_CHECKSUM:]
    if hashlib.sha256(body).digest() != content[:_CHECKSUM]:
        return None
    try:
        start = 8 + int.from_bytes(body[:8], "big")
        header = json.loads(bytes(body[8:start]))
        arrays = []
        for dtype, shape in header["arrays"]:
            count = math.prod(shape)
            arrays.append(np.frombuffer(body, np.dtype(dtype), count, start).reshape(shape))
            start += arrays[-1].nbytes
        return _rebuilt(header["tree"], arrays)
    except (ValueError, KeyError, TypeError, IndexError):
        return None


def _plain(value: Any, arrays: list[Array]) -> Any:
    if dataclasses.is_dataclass(value):
        items = {
            item.name: _plain(getattr(value, item.name), arrays)
            for item in dataclasses.fields(value)
        }
        return {"value": type(value).__name__, "fields": items}
    if isinstance(value, np.ndarray):
        arrays.append(value)
        return {"array": len(arrays) - 1}
    if isinstance(value, tuple):
        return {"tuple": [_plain(item, arrays) for item in value]}
    if value is None or isinstance(value, bool | int | float | str):
        return value
    raise TypeError(f"a {type(value).__name__} can't be kept")


def _rebuilt(tree: Any, arrays: list[Array]) -> Any:
    if not isinstance(tree, dict):
        return tree
    if "array" in tree:
        return arrays[tree["array"]]
    if "tuple" in tree:
        return tuple(_rebuilt(item, arrays) for item in tree["tuple"])
    kind = _kinds()[tree["value"]]
    return kind(**{name: _rebuilt(item, arrays) for name, item in tree["fields"].items()})


@functools.cache
def _kinds() -> dict[str, type]:
    """Return the model's dataclasses by name: the only types a cache file can make."""
    found = {}
    for name in _MODULES:
        module = importlib.import_module(f"trace2pop.model.{name}")
        for item in vars(module).values():
            if isinstance(item, type) and dataclasses.is_dataclass(item):
                found[item.__name__] = item
    return found


def picture_key(picture: Path) -> tuple[str, str]:
    """Return the name and checksum of a picture file."""
    with picture.open("rb") as handle:
        return os.fspath(picture.name), hashlib.file_digest(handle, "sha256").hexdigest()
