"""The only printer: progress on standard error, results on standard output."""

import sys
from collections import Counter
from collections.abc import Iterable, Sequence
from textwrap import wrap
from typing import TextIO

from trace2pop.errors import Trace2popError, harmless
from trace2pop.model.finding import Finding
from trace2pop.units import in_words

WIDTH = 80
_MOST_ALIKE = 3


class Console:
    """Prints plain lines of at most 80 characters; never by colour alone.

    ``verbosity`` is -1 for errors only, 0 for stages and results, 1 for details too.
    """

    def __init__(self, verbosity: int = 0) -> None:
        self.verbosity = verbosity

    def stage(self, name: str, found: str) -> None:
        """Say that a stage is done and what it found."""
        if self.verbosity >= 0:
            print(f"{name:<10} {harmless(found)}", file=sys.stderr, flush=True)

    def detail(self, text: str) -> None:
        """Say something only those who asked for details read."""
        if self.verbosity > 0:
            print(f"{'':<10} {harmless(text)}", file=sys.stderr, flush=True)

    def findings(self, findings: Iterable[Finding]) -> None:
        """Print findings, most serious first: what to do next, and the name to ``explain``."""
        if self.verbosity < 0:
            return
        order = {"doubt": 0, "warning": 1, "note": 2}
        told = Counter[str]()
        for finding in sorted(findings, key=lambda item: order[item.severity]):
            if finding.severity == "note" and self.verbosity < 1:
                continue
            told[finding.rule] += 1
            if told[finding.rule] > _MOST_ALIKE and self.verbosity < 1:
                continue
            where = in_words(finding.where)
            self.paragraph(
                f"{finding.severity}: {where}: {finding.advice} [{finding.rule}]", sys.stderr
            )
        for rule, count in told.items():
            if count > _MOST_ALIKE and self.verbosity < 1:
                more = count - _MOST_ALIKE
                self.paragraph(f"{more} more like it, all in card.json [{rule}]", sys.stderr)

    def result(self, rows: Sequence[tuple[str, str]]) -> None:
        """Print a table of names and values."""
        if self.verbosity < 0:
            return
        column = max(len(name) for name, _ in rows) + 2
        for name, value in rows:
            first, *rest = wrap(harmless(value), WIDTH - column) or [""]
            print(f"{name:<{column}}{first}")
            for line in rest:
                print(f"{'':<{column}}{line}")

    def table(self, head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """Print rows under their headings, the last column wrapped to the width."""
        widths = [max(map(len, column)) for column in zip(head, *rows, strict=True)]
        indent = sum(widths[:-1]) + 2 * (len(widths) - 1)
        for row in (head, *rows):
            first, *rest = wrap(row[-1], max(20, WIDTH - indent)) or [""]
            cells = [f"{cell:<{width}}  " for cell, width in zip(row[:-1], widths, strict=False)]
            print("".join(cells) + first)
            for line in rest:
                print(f"{'':<{indent}}{line}")

    def line(self, text: str) -> None:
        """Print one line of a result."""
        print(harmless(text))

    def paragraph(self, text: str, stream: TextIO | None = None) -> None:
        """Print a text wrapped to the width, continued lines indented."""
        for number, line in enumerate(wrap(harmless(text), WIDTH - 2, break_long_words=False)):
            print(line if number == 0 else f"  {line}", file=stream or sys.stdout)

    def error(self, error: Trace2popError) -> None:
        """Print an error on one line: what happened, and what to do next."""
        joint = " " if str(error).endswith("?") else "; "
        print(f"trace2pop: {error}{joint}{error.advice}", file=sys.stderr, flush=True)
