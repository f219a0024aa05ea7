"""Tables of stocks, cards, envelopes and cutters, each row with its source."""

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

from trace2pop.model.stock import Cutter, Stock


@cache
def table(name: str) -> dict[str, dict[str, Any]]:
    """Return the rows of ``name``.toml by their names, in the file's order."""
    return tomllib.loads(files(__name__).joinpath(f"{name}.toml").read_text("utf-8"))


def stocks() -> dict[str, Stock]:
    """Return the paper stocks by name."""
    return {
        name: Stock(name=name, **{**row, "sheet": tuple(row["sheet"])})
        for name, row in table("stocks").items()
    }


def cutters() -> dict[str, Cutter]:
    """Return the cutters by name."""
    return {
        name: Cutter(name=name, **{**row, "area": tuple(row["area"])})
        for name, row in table("cutters").items()
    }
