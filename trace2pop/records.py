"""The frozen values as plain records: JSON and arrays, read back by the types they must have.

Nothing of a record is ever run. What doesn't have the shape its type asks for is refused.
"""

import dataclasses
import hashlib
import json
import math
import types
import zlib
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

import numpy as np
from numpy.typing import NDArray

T = TypeVar("T")

Plain = None | bool | int | float | str | list["Plain"] | dict[str, str | int]
Array = NDArray[Any]

DTYPES = ("|b1", "|u1", "<i4", "<i8", "<f4", "<f8")
_PACK_FROM = 65_536
"""Bytes from which an array is compressed."""
_MOST_PACKED = 1100
"""More than deflate can save: at most 1032 to 1 (zlib's technical notes)."""
_LATER_FROM = 4_000_000
"""Bytes from which an array of a dataclass is unpacked when it is first looked at."""
_PACKED = "_packed"


@dataclasses.dataclass(frozen=True, eq=False)
class Later:
    """A large array still packed: ``sha256`` in hex is that of its bytes."""

    dtype: str
    shape: tuple[int, ...]
    blob: bytes
    sha256: str

    def unpacked(self) -> Array:
        """Return the array.

        Raises:
            ValueError: where the bytes aren't those of such an array.
        """
        array = _array(self.dtype, self.shape, self.blob)
        if _sum(array) != self.sha256:
            raise ValueError("an array of other bytes")
        return array


@dataclasses.dataclass(frozen=True, eq=False)
class Record:
    """A value taken apart: a tree that JSON can hold, and its arrays in C order."""

    tree: Plain
    arrays: tuple[Array | Later, ...]

    @property
    def size(self) -> int:
        """The bytes of its arrays."""
        return sum(array.nbytes for array in self.arrays if isinstance(array, np.ndarray))


def record(value: object, known: Sequence[object] = ()) -> Record:
    """Take a value apart; what hangs on one of ``known`` is only named.

    Raises:
        TypeError: where it holds something that isn't a plain value, an array or a dataclass.
    """
    writer = _Writer(known)
    return Record(writer.tree(value), tuple(writer.arrays))


def restored(found: Record, kind: type[T], known: Sequence[object] = ()) -> T:
    """Put a value of type ``kind`` together again; ``known`` as they were for ``record``.

    Raises:
        ValueError: where the record isn't one of such a value.
    """
    reader = _Reader(found.arrays, known)
    result: T = reader.value(found.tree, kind)
    return result


def packed(found: Record) -> bytes:
    """Return a record as bytes: length of the JSON, the JSON, the arrays one after the other."""
    rows, blobs = [], []
    for array in map(_whole, found.arrays):
        large = array.nbytes >= _PACK_FROM
        blob = zlib.compress(array.data, 1) if large else array.tobytes()
        sums = [_sum(array)] if array.nbytes >= _LATER_FROM else []
        rows.append([array.dtype.str, array.shape, len(blob), *sums])
        blobs.append(blob)
    head = json.dumps({"tree": found.tree, "arrays": rows}).encode()
    return b"".join([len(head).to_bytes(8, "big"), head, *blobs])


def unpacked(content: bytes) -> Record:
    """Return the record that ``packed`` wrote.

    Raises:
        ValueError: where the bytes aren't those of a record.
    """
    size = int.from_bytes(content[:8], "big")
    try:
        parts = json.loads(content[8 : 8 + size])
        tree, rows = parts["tree"], parts["arrays"]
        arrays: list[Array | Later] = []
        at = 8 + size
        for dtype, shape, length, *sums in rows:
            blob = content[at : at + length]
            _fitting(dtype, tuple(shape), len(blob))
            later = [Later(dtype, tuple(shape), blob, str(found)) for found in sums]
            arrays.append(later[0] if later else _array(dtype, tuple(shape), blob))
            at += length
    except (KeyError, TypeError, AttributeError, RecursionError, zlib.error) as error:
        raise ValueError("no record") from error
    return Record(tree, tuple(arrays))


def _fitting(dtype: str, shape: tuple[int, ...], length: int) -> int:
    """Return the bytes of an array that may have been packed into ``length``."""
    if dtype not in DTYPES or any(type(side) is not int or side < 0 for side in shape):
        raise ValueError("no array")
    size = math.prod(shape) * np.dtype(dtype).itemsize
    if size > _MOST_PACKED * length + _PACK_FROM:
        raise ValueError("an array of another size")
    return size


def _array(dtype: str, shape: tuple[int, ...], blob: bytes) -> Array:
    size = _fitting(dtype, shape, len(blob))
    if size >= _PACK_FROM:
        blob = zlib.decompressobj().decompress(blob, size + 1)
    if len(blob) != size:
        raise ValueError("an array of another size")
    # Of a bytearray, so that the array can be written to as any other.
    return np.frombuffer(bytearray(blob), dtype).reshape(shape)


def _sum(array: Array) -> str:
    return hashlib.sha256(np.ascontiguousarray(array).data).hexdigest()


def _whole(array: Array | Later) -> Array:
    return array.unpacked() if isinstance(array, Later) else array


def inner(value: Any) -> Iterator[tuple[str, object]]:
    """Yield name and value of each field of a dataclass, what is packed still as ``Later``."""
    waiting = getattr(value, _PACKED, {})
    for item in dataclasses.fields(value):
        still = item.name in waiting and item.name not in vars(value)
        yield item.name, waiting[item.name] if still else getattr(value, item.name)


def _named(known: Sequence[object]) -> Iterator[tuple[str, object]]:
    """Yield a name for each dataclass and array that hangs on ``known``, the nearest first."""
    for number, value in enumerate(known):
        yield from _below(f"{number}", value)


def _below(name: str, value: object) -> Iterator[tuple[str, object]]:
    if isinstance(value, np.ndarray):
        yield name, value
    elif isinstance(value, tuple):
        for number, item in enumerate(value):
            yield from _below(f"{name}.{number}", item)
    elif dataclasses.is_dataclass(value) and not isinstance(value, Later):
        yield name, value
        for field, held in inner(value):
            yield from _below(f"{name}.{field}", held)


class _Writer:
    def __init__(self, known: Sequence[object]) -> None:
        # The objects themselves are kept beside their names, or their ids could be given anew.
        self.known = {id(value): (name, value) for name, value in reversed([*_named(known)])}
        self.arrays: list[Array] = []

    def tree(self, value: object) -> Plain:
        if id(value) in self.known:
            return {"known": self.known[id(value)][0]}
        if isinstance(value, np.generic):
            value = value.item()
        if value is None or isinstance(value, bool | int | float | str):
            return value
        if isinstance(value, tuple):
            return [self.tree(item) for item in value]
        if isinstance(value, np.ndarray):
            if value.dtype.str not in DTYPES:
                raise TypeError(f"an array of {value.dtype}")
            self.arrays.append(np.ascontiguousarray(value))
            return {"array": len(self.arrays) - 1}
        if dataclasses.is_dataclass(value):
            return [self.tree(getattr(value, item.name)) for item in dataclasses.fields(value)]
        raise TypeError(f"a {type(value).__name__}")


class _Reader:
    def __init__(self, arrays: Sequence[Array | Later], known: Sequence[object]) -> None:
        self.arrays = arrays
        self.known = dict(_named(known))

    def value(self, tree: object, hint: Any) -> Any:
        if get_origin(hint) in (Union, types.UnionType):
            return self.one_of(tree, get_args(hint))
        if isinstance(tree, dict):
            return self.pointed(tree, hint)
        if get_origin(hint) is tuple:
            return self.row(tree, get_args(hint))
        if get_origin(hint) is Literal:
            return _held(tree, isinstance(tree, str) and tree in get_args(hint))
        if dataclasses.is_dataclass(hint):
            return self.made(tree, hint)
        if hint is float and type(tree) is int:
            return float(tree)
        return _held(tree, hint in (bool, int, float, str, type(None)) and type(tree) is hint)

    def one_of(self, tree: object, hints: Sequence[Any]) -> Any:
        for hint in hints:
            try:
                return self.value(tree, hint)
            except ValueError:
                continue
        raise ValueError(f"no {hints}")

    def pointed(self, tree: dict[str, Any], hint: Any) -> Any:
        """Return the array or known value that a pointer names."""
        wanted: Any = np.ndarray if get_origin(hint) is np.ndarray else hint
        if [*tree] == ["known"]:
            value = self.known.get(str(tree["known"]))
        else:
            number = tree.get("array")
            inside = type(number) is int and 0 <= number < len(self.arrays)
            value = _whole(self.arrays[number]) if inside else None  # type: ignore[index]  # an int by then
        _held(value, isinstance(wanted, type) and isinstance(value, wanted))
        if isinstance(value, np.ndarray):
            _held(value, value.dtype == get_args(get_args(hint)[1])[0])
        return value

    def row(self, tree: object, hints: Sequence[Any]) -> tuple[Any, ...]:
        rows = _held(tree, isinstance(tree, list))
        if len(hints) == 2 and hints[1] is Ellipsis:
            return tuple(self.value(item, hints[0]) for item in rows)
        _held(rows, len(rows) == len(hints))
        return tuple(self.value(item, hint) for item, hint in zip(rows, hints, strict=True))

    def made(self, tree: object, kind: Any) -> Any:
        hints = _hints(kind)
        rows = _held(tree, isinstance(tree, list) and len(tree) == len(hints))
        values, later = {}, {}
        for item, (name, hint) in zip(rows, hints.items(), strict=True):
            waiting = self.waiting(item, hint)
            if waiting is not None and not hasattr(kind, name):
                later[name] = waiting
            else:
                values[name] = self.value(item, hint)
        return _unhurried(kind, values, later) if later else kind(**values)

    def waiting(self, tree: object, hint: Any) -> Later | None:
        """Return the packed array that a pointer names where a field is just that."""
        if get_origin(hint) is not np.ndarray or not isinstance(tree, dict):
            return None
        number = tree.get("array")
        if type(number) is not int or not 0 <= number < len(self.arrays):
            return None
        found, wanted = self.arrays[number], np.dtype(get_args(get_args(hint)[1])[0])
        return found if isinstance(found, Later) and found.dtype == wanted.str else None


def _unhurried(kind: Any, values: Mapping[str, object], later: Mapping[str, Later]) -> Any:
    """Return a value of ``kind`` whose ``later`` fields are unpacked when they are looked at.

    Its own way of being made is left aside: all its fields are given.
    """
    result = object.__new__(_waiting(kind))
    vars(result).update(values, **{_PACKED: later})
    return result


@cache
def _waiting(kind: Any) -> Any:
    named = {"__qualname__": kind.__qualname__, "__module__": kind.__module__}
    return type(kind.__name__, (kind,), {**named, "__getattr__": _looked_at})


def _looked_at(self: object, name: str) -> Array:
    later = vars(self).get(_PACKED, {}).get(name)
    if later is None:
        raise AttributeError(name)
    array: Array = vars(self).setdefault(name, later.unpacked())
    return array


@cache
def _hints(kind: Any) -> dict[str, Any]:
    hints = get_type_hints(kind)
    return {item.name: hints[item.name] for item in dataclasses.fields(kind)}


def _held(value: Any, right: bool) -> Any:
    if not right:
        raise ValueError("not a record of this kind")
    return value
