"""trace2pop list: the papers, cards, envelopes and cutters the program knows."""

from trace2pop import data
from trace2pop.console import Console
from trace2pop.units import format_length, format_size

TABLES = ("stocks", "cards", "envelopes", "cutters")


def list_table(name: str, console: Console) -> None:
    """Print a table's rows: what to write in card.toml, and what it stands for."""
    rows = []
    for key, row in data.table(name).items():
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
