"""Which line of a settings file a key stands on: tomllib reads values, but tells no lines."""

import re

_HEADER = re.compile(r"\s*(\[{1,2})\s*([^\]\[]+?)\s*\]")
_KEY = re.compile(r"""\s*((?:[\w-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[\w-]+|"[^"]*"|'[^']*'))*)\s*=""")

Step = str | int


class Lines:
    """The lines of one settings file, found by the way to a value: section, key, row, key."""

    def __init__(self, text: str) -> None:
        self._known: dict[tuple[Step, ...], int] = {(): 1}
        here: tuple[Step, ...] = ()
        rows: dict[tuple[Step, ...], int] = {}
        for number, line in enumerate(text.splitlines(), start=1):
            if header := _HEADER.match(line):
                here = _steps(header[2])
                self._add(here, number)
                if header[1] == "[[":
                    row = rows.get(here, 0)
                    rows[here] = row + 1
                    here = (*here, row)
                    self._add(here, number)
            elif key := _KEY.match(line):
                self._add((*here, *_steps(key[1])), number)

    def of(self, *way: Step) -> int:
        """Return the line of the value at the end of ``way``, or of the last step that is there."""
        while way not in self._known:
            way = way[:-1]
        return self._known[way]

    def _add(self, way: tuple[Step, ...], number: int) -> None:
        for length in range(1, len(way) + 1):
            self._known.setdefault(way[:length], number)


def _steps(name: str) -> tuple[Step, ...]:
    parts = re.findall(r"""[\w-]+|"[^"]*"|'[^']*'""", name)
    return tuple(part.strip("\"'") for part in parts)
