"""Lengths as makers write them, and back; the only conversion factors."""

import math
import re
from fractions import Fraction

MM_PER_INCH = 25.4
PT_PER_INCH = 72

_UNITS = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "in": Fraction(254, 10),
    "inch": Fraction(254, 10),
    "inches": Fraction(254, 10),
    '"': Fraction(254, 10),
    "″": Fraction(254, 10),
}
_NUMBER = r"(?:\d+\s+\d+/\d+|\d+-\d+/\d+|\d+/\d+|\d+(?:[.,]\d*)?|[.,]\d+)"
_UNIT = r'(?:mm|cm|inches|inch|in|"|″)'
_LENGTH = re.compile(rf"\s*(-?{_NUMBER})\s*({_UNIT})\s*", re.IGNORECASE)
_TIMES = "[x\N{MULTIPLICATION SIGN}]"
_SIZE = re.compile(
    rf"\s*({_NUMBER})\s*({_UNIT})?\s*{_TIMES}\s*({_NUMBER})\s*({_UNIT})\s*", re.IGNORECASE
)
_PLACE = re.compile(r"(-?\d+(?:\.\d+)?), (-?\d+(?:\.\d+)?) mm")
_IN_WORDS = re.compile(
    r"(?:the crease|(?P<away>\d+) mm (?P<side>left|right) of the crease), "
    r"(?P<down>-?\d+) mm below the base's head edge"
)
_MAX_TEXT = 40


def parse_length(text: str) -> float:
    """Return the mm of a length such as ``127mm``, ``12.7 cm``, ``5.5in`` or ``5 1/2in``.

    Raises:
        ValueError: with one sentence for the maker, where the text is no length.
    """
    match = _LENGTH.fullmatch(text) if len(text) <= _MAX_TEXT else None
    if not match:
        raise ValueError("write a length with its unit, such as 20mm, 2cm, 0.75in or 3/4in")
    return float(_number(match[1]) * _UNITS[match[2].lower()])


def parse_size(text: str) -> tuple[float, float]:
    """Return width and height in mm of a size such as ``5x7in`` or ``148mm x 210mm``.

    Raises:
        ValueError: with one sentence for the maker, where the text is no size.
    """
    match = _SIZE.fullmatch(text) if len(text) <= 2 * _MAX_TEXT else None
    if not match:
        raise ValueError("write a size as width x height with its unit, such as 5x7in or 148x210mm")
    width, width_unit, height, height_unit = match.groups()
    return (
        float(_number(width) * _UNITS[(width_unit or height_unit).lower()]),
        float(_number(height) * _UNITS[height_unit.lower()]),
    )


def _number(text: str) -> Fraction:
    try:
        sign = -1 if text.startswith("-") else 1
        pieces = text.lstrip("-").replace("-", " ").replace(",", ".").split()
        return sign * sum((Fraction(piece) for piece in pieces), Fraction(0))
    except ZeroDivisionError:
        raise ValueError("a fraction can't have 0 below its line") from None


def format_length(mm: float) -> str:
    """Return ``mm`` as text that ``parse_length`` reads back to the same value."""
    return _inches(mm) or f"{plain_number(mm)}mm"


def plain_number(value: float) -> str:
    """Return the shortest text that reads back to the same number."""
    return text if float(text := f"{value:.10g}") == value else repr(float(value))


def format_size(size: tuple[float, float]) -> str:
    """Return a size as text that ``parse_size`` reads back: inches where a side needs them."""
    width, height = (Fraction(side).limit_denominator(10**6) / _UNITS["in"] for side in size)
    inches = _inches(size[0]) or _inches(size[1])
    if inches and all((16 * side).denominator == 1 for side in (width, height)):
        return f"{float(width):.10g}x{float(height):.10g}in"
    return f"{plain_number(size[0])}x{plain_number(size[1])}mm"


def _inches(mm: float) -> str | None:
    """Return ``mm`` in inches where that is a whole number of sixteenths and mm are not round."""
    sixteenths = mm / MM_PER_INCH * 16
    plain = math.isclose(mm * 2, round(mm * 2), abs_tol=1e-9)
    if plain or not math.isclose(sixteenths, round(sixteenths), abs_tol=1e-9):
        return None
    return f"{round(sixteenths) / 16:.10g}in"


def in_words(where: str) -> str:
    """Return a finding's place in words: one on the open card is written "u, v mm"."""
    found = _PLACE.fullmatch(where)
    return place(float(found[1]), float(found[2])) if found else where


def place(u: float, v: float) -> str:
    """Return a place on the open card in words."""
    below = f"{v:.0f} mm below the base's head edge"
    if abs(u) < 0.5:
        return f"the crease, {below}"
    return f"{abs(u):.0f} mm {'right' if u > 0 else 'left'} of the crease, {below}"


def place_of(where: str) -> tuple[float, float] | None:
    """Return (u, v) of a finding's place, written "u, v mm" or in words; None of any other."""
    told = _IN_WORDS.fullmatch(where)
    if told:
        away = float(told["away"] or 0)
        return (-away if told["side"] == "left" else away), float(told["down"])
    found = _PLACE.fullmatch(where)
    return (float(found[1]), float(found[2])) if found else None
