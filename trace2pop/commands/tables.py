"""trace2pop list: the papers, cards, envelopes and cutters the program knows."""

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from trace2pop import data
from trace2pop.console import Console
from trace2pop.model.settings import Settings
from trace2pop.units import format_length, format_size

TABLES = ("stocks", "cards", "envelopes", "cutters")


def list_table(name: str, console: Console, own: Settings | None = None) -> None:
    """Print a table's rows: what to write in card.toml, and what it stands for.

    With the maker's settings, their own papers and cutter as well, as they will be used.
    """
    rows = []
    for key, row in (data.table(name) | dict(_own_rows(name, own))).items():
        facts = [str(row["title"])] if "title" in row else []
        if "grammage" in row:
            facts.append(f"{row['thickness']:.2f} mm thick")
        facts += [
            f"{column} {format_size(tuple(row[column]))}"
            for column in ("sheet", "area", "size")
            if column in row
        ]
        if "min_feature" in row:
            facts.append(f"strips from {format_length(row['min_feature'])}")
        rows.append((key, ", ".join(facts)))
    console.result(rows)
    console.paragraph(f"Sources and full rows: trace2pop/data/{name}.toml")


def _own_rows(name: str, settings: Settings | None) -> Iterator[tuple[str, dict[str, Any]]]:
    if settings is None:
        return
    if name == "stocks":
        for paper in settings.stock.paper:
            yield paper.name, asdict(data.stock_of(paper.name, settings.stock.paper))
    elif name == "cutters":
        cutter = data.cutter_of(settings.cutter)
        if cutter.name == data.OWN:
            yield cutter.name, asdict(cutter)
