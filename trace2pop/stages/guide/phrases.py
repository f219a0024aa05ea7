"""The guide's words in the chosen language, from its catalogue file."""

from collections.abc import Sequence
from typing import Any, Literal

from trace2pop import data
from trace2pop.errors import UsageError


class Phrases:
    """Looks up phrases by dotted name and fills in numbers."""

    def __init__(self, language: str) -> None:
        try:
            self._table: dict[str, Any] = dict(data.table(f"text_{language}"))
        except FileNotFoundError:
            raise UsageError(
                f"there is no guide in the language {language!r}",
                "choose one of those that trace2pop make --help names",
            ) from None

    def __call__(self, name: str, /, **values: str) -> str:
        """Return the phrase ``name``, its braces filled in.

        Raises:
            KeyError: where the catalogue lacks the phrase or a value is missing.
        """
        found = self._find(name)
        assert isinstance(found, str), name
        return found.format(**values)

    def several(self, name: str, /, **values: str) -> tuple[str, ...]:
        """Return the phrases of a list."""
        return tuple(str(item).format(**values) for item in self._find(name))

    def pairs(self, name: str, /, **values: str) -> tuple[tuple[str, str], ...]:
        """Return the rows of a list of two phrases each."""
        return tuple(
            (str(first).format(**values), str(second).format(**values))
            for first, second in self._find(name)
        )

    def section(self, name: str) -> dict[str, str]:
        """Return all phrases of a section by their names."""
        return {key: str(value) for key, value in self._find(name).items()}

    def number(self, value: float, decimals: int = 1) -> str:
        """Return a number as the language writes it, without needless zeros."""
        text = f"{value:.{decimals}f}"
        if "." in text:
            text = text.rstrip("0").rstrip(".")
        return ("0" if text == "-0" else text).replace(".", self("decimal"))

    def mm(self, value: float, decimals: int = 1) -> str:
        """Return a length with its unit."""
        return f"{self.number(value, decimals)}\N{NO-BREAK SPACE}mm"

    def size(self, width: float, height: float, decimals: int = 1) -> str:
        """Return width by height with their unit."""
        times = "\N{NO-BREAK SPACE}\N{MULTIPLICATION SIGN}\N{NO-BREAK SPACE}"
        return f"{self.number(width, decimals)}{times}{self.mm(height, decimals)}"

    def listed(self, items: Sequence[str], joined: Literal["and", "or"] = "and") -> str:
        """Return items in a row, the last one joined by the language's "and" or "or"."""
        if len(items) < 2:
            return "".join(items)
        return f"{', '.join(items[:-1])} {self(joined)} {items[-1]}"

    def _find(self, name: str) -> Any:
        found: Any = self._table
        for key in name.split("."):
            found = found[key]
        return found
