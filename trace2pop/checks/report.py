"""What a check found: one row a rule and place, good ones too."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from trace2pop.checks.rules import RULES

BLOCKED, SHOWS, HARMLESS = "blocked", "shows", "harmless"
"""A wrong insertion doesn't go in, goes in and can be seen, or leaves the card as good."""

SHOWN = 3
"""How many failures of one rule are told one by one."""


@dataclass(frozen=True)
class Row:
    """One thing judged.

    ``rule`` is a key of ``rules.RULES``; ``where`` a file, a piece or a place on the card;
    ``measured`` and ``limit`` are in the rule's unit, None where there is no number. ``text`` says
    in words what is wrong, empty where ``passed``; ``told`` in a word how it came out, where there
    is more to know than that it passed.
    """

    rule: str
    where: str
    measured: float | None
    limit: float | None
    passed: bool
    text: str = ""
    told: str = ""


@dataclass(frozen=True)
class Report:
    """All rows of a folder, in the order of checking."""

    rows: tuple[Row, ...]

    @property
    def passed(self) -> bool:
        """Whether every row passed."""
        return all(row.passed for row in self.rows)

    @property
    def failures(self) -> tuple[Row, ...]:
        """The rows that failed."""
        return tuple(row for row in self.rows if not row.passed)

    @property
    def failed_rules(self) -> tuple[str, ...]:
        """The names of the rules with a failure, each once, in the order of ``RULES``."""
        failed = {row.rule for row in self.failures}
        return tuple(rule for rule in RULES if rule in failed)

    def table(self) -> list[tuple[str, str]]:
        """Return one line a rule: its title, and what was found in the maker's words.

        Wrong ways to put a beam in that are not blocked, but show, have a line each.
        """
        lines = []
        for name, rule in RULES.items():
            rows = [row for row in self.rows if row.rule == name]
            if rows:
                bad = [row for row in rows if not row.passed]
                verdict = f"{len(bad)} of {len(rows)} wrong" if bad else f"ok ({len(rows)})"
                told = Counter(row.told for row in rows if row.told)
                if told:
                    verdict += f": {told[BLOCKED]} blocked, {told[SHOWS]} go in but show"
                    verdict += f", {told[HARMLESS]} do no harm" if told[HARMLESS] else ""
                lines += [(rule.title, verdict), *_shown_ways(rows)]
        return lines

    def messages(self) -> list[str]:
        """Return a sentence for each failure, what to do next after the last one of each rule."""
        told = []
        for name in self.failed_rules:
            bad = [row for row in self.failures if row.rule == name]
            told += [f"{name}: {row.where}: {row.text}" for row in bad[:SHOWN]]
            more = f"{len(bad) - SHOWN} more like it; " if len(bad) > SHOWN else ""
            told[-1] += f"; {more}{RULES[name].advice}"
        return told


@dataclass
class Judge:
    """Gathers rows while a folder is checked."""

    rows: list[Row] = field(default_factory=list)

    def at_most(self, rule: str, where: str, measured: float, limit: float, text: str) -> bool:
        """Record that ``measured`` must not pass ``limit``; ``text`` says it where it does."""
        return self._record(rule, where, measured, limit, measured <= limit, text)

    def at_least(self, rule: str, where: str, measured: float, limit: float, text: str) -> bool:
        """Record that ``measured`` must reach ``limit``."""
        return self._record(rule, where, measured, limit, measured >= limit, text)

    def same(
        self, rule: str, where: str, measured: float, wanted: float, slack: float, text: str
    ) -> bool:
        """Record that ``measured`` must be ``wanted``, give or take ``slack``."""
        good = abs(measured - wanted) <= slack
        return self._record(rule, where, measured, wanted, good, text)

    def holds(self, rule: str, where: str, good: bool, text: str, told: str = "") -> bool:
        """Record something without a number; ``told`` says how it came out."""
        return self._record(rule, where, None, None, good, text, told)

    def _record(
        self,
        rule: str,
        where: str,
        measured: float | None,
        limit: float | None,
        good: bool,
        text: str,
        told: str = "",
    ) -> bool:
        said = "" if good else text
        self.rows.append(
            Row(rule, where, _rounded(measured), _rounded(limit), bool(good), said, told)
        )
        return bool(good)

    def __iter__(self) -> Iterator[Row]:
        return iter(self.rows)


def _shown_ways(rows: Iterable[Row]) -> list[tuple[str, str]]:
    """Return a line for each beam and slit with the wrong ways that go in."""
    ways: dict[str, list[str]] = {}
    for row in rows:
        if row.told == SHOWS:
            place, _, way = row.where.partition(", ")
            ways.setdefault(place, []).append(way)
    return [(f"  {place}", f"shows {', '.join(found)}") for place, found in ways.items()]


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(float(value), 4)
