"""Lengths: 1 in = 25.4 mm exactly (international yard and pound agreement, 1959)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trace2pop import units


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("127mm", 127),
        ("12.7 cm", 127),
        ("12,7cm", 127),
        ("5in", 127),
        ("5 1/2in", 139.7),
        ("5-1/2 inch", 139.7),
        ('3/4"', 19.05),
        (".5in", 12.7),
        ("-3mm", -3),
    ],
)
def test_lengths(text: str, mm: float) -> None:
    assert units.parse_length(text) == pytest.approx(mm, abs=1e-12)


@pytest.mark.parametrize(
    "text", ["", "20", "mm", "1/0in", "20 m", "nan mm", "1e9mm", "5x7in", "9" * 50]
)
def test_what_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"length|fraction"):
        units.parse_length(text)


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("5x7in", (127, 177.8)),
        ("5 \N{MULTIPLICATION SIGN} 7 in", (127, 177.8)),
        ("148mm x 21cm", (148, 210)),
        ("4 1/4x5 1/2in", (107.95, 139.7)),
    ],
)
def test_sizes(text: str, size: tuple[float, float]) -> None:
    assert units.parse_size(text) == pytest.approx(size)
    assert units.parse_size(units.format_size(size)) == pytest.approx(size, abs=1e-9)


def test_sizes_are_written_as_makers_say_them() -> None:
    assert units.format_size((127.0, 177.8)) == "5x7in"
    assert units.format_size((148.0, 210.0)) == "148x210mm"


@given(st.floats(0.001, 5000))
def test_written_lengths_read_back(mm: float) -> None:
    assert units.parse_length(units.format_length(mm)) == pytest.approx(mm, rel=1e-9)


@pytest.mark.parametrize("u", [-52.0, 0.0, 7.0])
@pytest.mark.parametrize("v", [0.0, 112.0])
def test_a_place_told_in_words_is_read_back(u: float, v: float) -> None:
    assert units.place_of(units.place(u, v)) == (u, v)
    assert units.place_of(f"{u}, {v} mm") == (u, v)


def test_what_is_no_place_is_none() -> None:
    assert units.place_of("the pen line") is None
    assert units.place_of("hand part 1") is None
