"""The cache gives back what was put in, and nothing where a byte is wrong."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests import examples
from trace2pop import cache
from trace2pop.model.artwork import Motif

MOTIF = examples.motif()
STORED = cache.encode(MOTIF)


def test_a_motif_comes_back_whole() -> None:
    again = cache.decode(STORED)
    assert isinstance(again, Motif)
    assert np.array_equal(again.artwork.rgb, MOTIF.artwork.rgb)
    assert np.array_equal(again.outline.outer, MOTIF.outline.outer)
    assert (again.axis, again.kind, again.artwork.scale) == (
        MOTIF.axis,
        MOTIF.kind,
        MOTIF.artwork.scale,
    )
    assert cache.encode(again) == STORED


@given(st.integers(0, len(STORED) - 1), st.integers(1, 255))
def test_a_damaged_file_is_not_trusted(place: int, flip: int) -> None:
    damaged = bytearray(STORED)
    damaged[place] ^= flip
    assert cache.decode(bytes(damaged)) is None


@given(st.binary(max_size=200))
def test_any_bytes_are_refused(content: bytes) -> None:
    import hashlib

    assert cache.decode(content) is None
    cache.decode(hashlib.sha256(content).digest() + content)


def test_computed_once_then_read(tmp_path) -> None:
    first = cache.Cache(tmp_path)
    first.through("trace", ("a", 1), lambda: MOTIF, Motif)
    for name, content in first.kept.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(content)

    def never() -> Motif:
        pytest.fail("computed again")

    second = cache.Cache(tmp_path)
    second.through("trace", ("a", 1), never, Motif)
    assert second.kept == first.kept
    third = cache.Cache(tmp_path)
    third.through("trace", ("a", 2), lambda: MOTIF, Motif)
    assert third.kept.keys() != first.kept.keys()
