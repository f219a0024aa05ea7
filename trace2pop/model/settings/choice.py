"""How a choice is described: once, beside its field, for settings file, command line and docs."""

from dataclasses import dataclass, field
from typing import Any, Literal, TypeVar

T = TypeVar("T")

Form = Literal[
    "length", "size", "angle", "number", "count", "word", "text", "flag", "lengths", "rows"
]


@dataclass(frozen=True)
class Choice:
    """How a choice is written: its form, meaning, range and, for words, what may be said.

    ``low`` and ``high`` are inclusive, in the form's own unit (mm, degrees, plain). ``option`` is
    the long option's name; ``listed`` names the table of ``trace2pop list`` that holds the words,
    ``own`` the rows of the same section whose names may be said too.
    """

    form: Form
    text: str
    option: str
    low: float | None = None
    high: float | None = None
    words: tuple[str, ...] = ()
    listed: str | None = None
    own: str | None = None


def choice(
    default: T,
    form: Form,
    option: str,
    text: str,
    *,
    low: float | None = None,
    high: float | None = None,
    words: tuple[str, ...] = (),
    listed: str | None = None,
    own: str | None = None,
) -> T:
    """Return a dataclass field that carries a ``Choice``."""
    described = Choice(form, text, option, low, high, words, listed, own)
    return field(default=default, metadata={"choice": described})


def needed(text: str, low: float, high: float) -> Any:
    """Return the field of a length that each row of a list of tables must give."""
    return field(metadata={"choice": Choice("length", text, "", low=low, high=high)})
