"""Tables of stocks, cards, envelopes and cutters, each row with its source."""

import re
import tomllib
from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from importlib.resources import files
from typing import Any

from trace2pop.model.material import Material
from trace2pop.model.settings import CutterSettings, OwnPaper
from trace2pop.model.stock import Cutter, NamedSize, Stock

OWN = "own"
"""What a cutter is called whose measures the maker gave."""

_USUAL = "cover-216"
"""The paper whose stiffness one of the maker's has where they don't say: all covers' is alike."""

_NAME = re.compile(r"[\w.-]{1,40}")


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
    title = f"your {area[0]:g} x {area[1]:g} mm cutter" if "area" in own else f"your {listed.title}"
    return replace(listed, name=OWN, title=title, source="the maker's own", **own)


def paper_fault(row: OwnPaper) -> str:
    """Return in words why a paper of the maker's can't be used as it is said; empty where it can.

    Under a new name it says what it is like, or all that the sag and the sheets go by.
    """
    if not _NAME.fullmatch(row.name):
        return f"name: {row.name!r} is no name: take letters, digits, points and dashes, 40 at most"
    if row.name in stocks():
        return f"like: {row.name} is in the list itself" if row.like else ""
    needed = ("grammage", "thickness", "sheet")
    lacking = [key for key in needed if getattr(row, key) is None]
    if row.like or not lacking:
        return ""
    return (
        f"{row.name} is not in the list, so [[stock.paper]] needs {' and '.join(lacking)}, or the "
        'listed paper it is like: like = "cover-216"'
    )


def stock_of(name: str, own: Iterable[OwnPaper]) -> Stock:
    """Return a paper by name, listed or the maker's, with what they say of it."""
    own = tuple(own)
    new = next((row for row in own if row.name == name and name not in stocks()), None)
    stock = replace(stocks()[new.like or _USUAL], name=name) if new else stocks()[name]
    for row in own:
        if row.name == name:
            given = _given(row, ("title", "grammage", "thickness", "sheet", "e_along", "e_across"))
            if row.grain:
                given["grain_deg"] = 0.0 if row.grain == "width" else 90.0
            given.setdefault("title", name if new else f"{stock.title}, yours")
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
