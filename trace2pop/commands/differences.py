"""What differs between two written cards, in numbers."""

from collections.abc import Iterator
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np
import shapely

from trace2pop.checks.folder import Folder
from trace2pop.checks.plan import PlanBeam
from trace2pop.choices import section_type, written
from trace2pop.errors import UsageError
from trace2pop.model.settings import Choice, Settings
from trace2pop.settings import read

NEAR = 20.0
"""Beams whose middles are nearer than this, mm, count as one that was moved."""
_ALIKE = 5e-5
"""Half the last of the four decimals that card.json has."""


@dataclass(frozen=True)
class Difference:
    """One thing in which two cards differ, in words; ``by`` is empty where it has no number."""

    name: str
    first: str
    second: str
    by: str = ""


_NUMBERS: tuple[tuple[str, tuple[str, ...], str, int], ...] = (
    ("base, half its width", ("card", "half_width"), "mm", 1),
    ("base, height", ("card", "height"), "mm", 1),
    ("rise", ("card", "rise"), "mm", 1),
    ("margin", ("card", "margin"), "mm", 1),
    ("outer card, width", ("card", "outer", "width"), "mm", 1),
    ("outer card, height", ("card", "outer", "height"), "mm", 1),
    ("largest motif, width", ("window", "width"), "mm", 1),
    ("largest motif, height", ("window", "height"), "mm", 1),
    ("motif, width", ("motif", "width"), "mm", 1),
    ("motif, height", ("motif", "height"), "mm", 1),
    ("motif, reach left", ("motif", "reach_left"), "mm", 1),
    ("motif, reach right", ("motif", "reach_right"), "mm", 1),
    ("sag", ("sag", "max"), "mm", 2),
    ("closed, reach", ("closed", "reach"), "mm", 1),
    ("closed, thickness", ("closed", "thickness"), "mm", 1),
    ("may show when closed", ("tolerance", "chance"), "%", 1),
    ("folds over tipping", ("sway", "ratio"), "times", 1),
    ("mass in its envelope", ("mail", "mass"), "g", 1),
)


def numbers(first: Folder, second: Folder) -> Iterator[Difference]:
    """Yield the numbers of the plan that differ."""
    for name, way, unit, decimals in _NUMBERS:
        values = [_number(folder, way) for folder in (first, second)]
        one, two = (None if v is None else v * (100 if unit == "%" else 1) for v in values)
        if one is None or two is None:
            continue
        if abs(one - two) > _ALIKE:
            yield _number_row(f"{name}, {unit}", one, two, decimals)
    yield from _counts(first, second)


def _number_row(name: str, one: float, two: float, decimals: int) -> Difference:
    """Return two numbers with as many decimals as it takes to see them differ."""
    while decimals < 4 and abs(two - one) < 0.5 * 10**-decimals:
        decimals += 1
    return Difference(
        name, f"{one:.{decimals}f}", f"{two:.{decimals}f}", f"{two - one:+.{decimals}f}"
    )


def _counts(first: Folder, second: Folder) -> Iterator[Difference]:
    rows = (
        ("beams", lambda folder: len(folder.plan.beams), ""),
        ("parts by hand", lambda folder: len(folder.plan.hand), ""),
        ("their length together", lambda f: round(sum(p.length for p in f.plan.hand), 1), "mm"),
        ("sheets", lambda folder: len(folder.plan.sheets), ""),
        ("pieces", lambda folder: sum(part.quantity for part in folder.plan.parts), ""),
    )
    for name, count, unit in rows:
        one, two = count(first), count(second)
        if one != two:
            yield Difference(
                f"{name}{', ' * bool(unit)}{unit}", f"{one:g}", f"{two:g}", f"{two - one:+g}"
            )


def outlines(first: shapely.Geometry, second: shapely.Geometry) -> Iterator[Difference]:
    """Yield how far apart two motifs' edges are, and what paper only one of them has."""
    apart = max(_farthest(first, second), _farthest(second, first))
    if apart <= _ALIKE:
        return
    alone = [
        shapely.difference(one, two).area / 100 for one, two in ((first, second), (second, first))
    ]
    yield Difference("edge, at most apart, mm", "", "", f"{apart:.2f}")
    yield Difference(
        "paper the other lacks, cm2",
        f"{alone[0]:.2f}",
        f"{alone[1]:.2f}",
        f"{alone[1] - alone[0]:+.2f}",
    )


def beams(first: Folder, second: Folder) -> Iterator[Difference]:
    """Yield beams that were moved, changed, added or taken away, from left to right."""
    ones, others = (sorted(folder.plan.beams, key=_middle) for folder in (first, second))
    partner = _partners(ones, others)
    for number, beam in enumerate(ones):
        if number in partner:
            yield from _changed(beam, others[partner[number]])
        else:
            yield Difference(_called(beam), _said(beam), "none")
    for number, beam in enumerate(others):
        if number not in partner.values():
            yield Difference(_called(beam), "none", _said(beam))


def _partners(ones: list[PlanBeam], others: list[PlanBeam]) -> dict[int, int]:
    """Return which beam became which: nearest pairs first, one on the crease never another."""
    pairs = sorted(
        (_distance(one, other), number, there)
        for number, one in enumerate(ones)
        for there, other in enumerate(others)
        if (abs(one.u) < _ALIKE) == (abs(other.u) < _ALIKE)
    )
    partner: dict[int, int] = {}
    for apart, number, there in pairs:
        near = apart <= NEAR or abs(ones[number].u) < _ALIKE
        if near and number not in partner and there not in partner.values():
            partner[number] = there
    return partner


def _changed(beam: PlanBeam, near: PlanBeam) -> Iterator[Difference]:
    for what, key in (("u", "u"), ("from", "v0"), ("to", "v1"), ("flange", "flange")):
        one, two = getattr(beam, key), getattr(near, key)
        if abs(one - two) > _ALIKE:
            yield _number_row(f"{_called(beam)}: {what}, mm", one, two, 1)


def choices_made(first: Path, second: Path) -> Iterator[Difference]:
    """Yield the choices of card.toml that differ; where one can't be read, that is said."""
    try:
        one, two = (read(folder / "card.toml").settings for folder in (first, second))
    except UsageError as error:
        yield Difference("card.toml", "", "", str(error))
        return
    for section in fields(Settings):
        for item in fields(section_type(section.name)):
            choice: Choice = item.metadata["choice"]
            values = [getattr(getattr(each, section.name), item.name) for each in (one, two)]
            if values[0] != values[1]:
                said = [_choice(choice, value) for value in values]
                yield Difference(f"{section.name}.{item.name}", *said)


def findings(first: Folder, second: Folder) -> Iterator[Difference]:
    """Yield what only one of the cards is told about."""
    told = [_rules(folder) for folder in (first, second)]
    for rule in dict.fromkeys((*told[0], *told[1])):
        counts = [rules.count(rule) for rules in told]
        if counts[0] != counts[1]:
            yield Difference(rule, *(f"{count}" if count else "none" for count in counts))


def _rules(folder: Folder) -> list[str]:
    rows = (
        folder.plan.root.value.get("findings") if isinstance(folder.plan.root.value, dict) else None
    )
    return [str(row.get("rule")) for row in rows or () if isinstance(row, dict)]


def _number(folder: Folder, way: tuple[str, ...]) -> float | None:
    value = folder.plan.root.value
    for key in way:
        value = value.get(key) if isinstance(value, dict) else None
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _farthest(shape: shapely.Geometry, other: shapely.Geometry) -> float:
    points = shapely.points(shapely.get_coordinates(shape))
    return float(shapely.distance(points, other.boundary).max(initial=0.0))


def _middle(beam: PlanBeam) -> tuple[float, float]:
    return beam.u, (beam.v0 + beam.v1) / 2


def _distance(one: PlanBeam, two: PlanBeam) -> float:
    return float(np.hypot(*np.subtract(_middle(one), _middle(two))))


def _called(beam: PlanBeam) -> str:
    return f"beam at {beam.u:+.1f}"


def _said(beam: PlanBeam) -> str:
    return f"{beam.v0:.1f} to {beam.v1:.1f} mm"


def _choice(choice: Choice, value: object) -> str:
    if value is None:
        return "not said"
    if isinstance(value, tuple) and choice.form == "rows":
        return f"{len(value)} given" if value else "none"
    return written(choice, value).strip('"')
