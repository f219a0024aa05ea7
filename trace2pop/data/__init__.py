"""Tables of stocks, cards, envelopes and cutters, each row with its source."""

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

from trace2pop.model.material import Material
from trace2pop.model.stock import Cutter, NamedSize, Stock


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


def cards() -> dict[str, NamedSize]:
    """Return the finished cards' sizes by name."""
    return _sizes("cards")


def envelopes() -> dict[str, NamedSize]:
    """Return the envelopes by name."""
    return _sizes("envelopes")


def _sizes(name: str) -> dict[str, NamedSize]:
    return {
        key: NamedSize(name=key, **{**row, "size": tuple(row["size"])})
        for key, row in table(name).items()
    }


def materials() -> tuple[Material, ...]:
    """Return the materials of parts added by hand, thinnest first within each kind."""
    return tuple(Material(name=name, **row) for name, row in table("materials").items())
