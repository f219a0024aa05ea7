"""trace2pop explain: what a finding means, why it has its limit, and how to get past it."""

from dataclasses import dataclass
from functools import cache
from typing import Any

from trace2pop import data, limits
from trace2pop.choices import nearest
from trace2pop.console import Console
from trace2pop.errors import UsageError
from trace2pop.model.finding import Severity


@dataclass(frozen=True)
class Explanation:
    """The words on one finding, or on a family of findings.

    ``names`` are the findings it stands for; ``part`` is the heading it belongs under.
    """

    name: str
    names: tuple[str, ...]
    part: str
    severity: Severity
    title: str
    means: str
    why: str
    past: str


@cache
def explanations() -> tuple[Explanation, ...]:
    """Return every explanation, in the order of the table."""
    return tuple(_explanation(name, row) for name, row in data.table("findings").items())


def explain(name: str | None, console: Console) -> None:
    """Print what there is to say on a finding; without a name, all their names.

    Raises:
        UsageError: where there is no finding of that name.
    """
    if name is None:
        _all(console)
        return
    known = {one: row for row in explanations() for one in (row.name, *row.names)}
    if name not in known:
        raise UsageError(
            f"there is no finding {name}{nearest(name, tuple(known))}",
            "trace2pop explain, without a name, lists them all",
        )
    row = known[name]
    console.line(f"{name} ({row.severity}): {row.title}")
    for heading, text in (
        ("What it means", row.means),
        ("Why the limit", row.why),
        ("How to get past it", row.past),
    ):
        console.line("")
        console.line(heading)
        console.paragraph(f"  {text}")


def _all(console: Console) -> None:
    part = ""
    for row in explanations():
        if row.part != part:
            if part:
                console.line("")
            part = row.part
            console.line(part)
        for name in row.names or (row.name,):
            console.line(f"  {name:<22}{row.title}")


def _explanation(name: str, row: dict[str, Any]) -> Explanation:
    values = {
        key: value.value
        for key, value in vars(limits).items()
        if key.isupper() and key != "PRACTICE"
    }
    texts = {key: str(row[key]).format_map(values) for key in ("title", "means", "why", "past")}
    return Explanation(name, tuple(row.get("names", ())), row["part"], row["severity"], **texts)
