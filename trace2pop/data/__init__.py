"""Tables of stocks, cards, envelopes and cutters, each row with its source."""

import tomllib
from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from importlib.resources import files
from typing import Any

from trace2pop.model.material import Material
from trace2pop.model.settings import CutterSettings, OwnPaper
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


def cutter_of(settings: CutterSettings) -> Cutter:
    """Return the chosen cutter, with what the maker says of their own."""
    listed = cutters()[settings.name]
    own = _given(settings, ("area", "inset", "min_feature"))
    if not own:
        return listed
    area = own.get("area", listed.area)
    title = f"cutter with {area[0]:g} x {area[1]:g} mm" if "area" in own else listed.title
    return replace(listed, title=title, source="the maker's own", **own)


def stock_of(name: str, own: Iterable[OwnPaper]) -> Stock:
    """Return a paper by name, with what the maker says of their own."""
    stock = stocks()[name]
    for row in own:
        if row.name == name:
            given = _given(row, ("title", "grammage", "thickness", "sheet", "e_along", "e_across"))
            if row.grain:
                given["grain_deg"] = 0.0 if row.grain == "width" else 90.0
            given.setdefault("title", f"{stock.title}, yours")
            stock = replace(stock, source="the maker's own", **given)
    return stock


def _given(row: object, names: Iterable[str]) -> dict[str, Any]:
    values = {name: getattr(row, name) for name in names}
    return {name: value for name, value in values.items() if value is not None}


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
