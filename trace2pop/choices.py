"""The forms a choice can take: as the maker writes it, and back.

Every choice is described once, beside its field in ``model.settings``; this module knows only the
forms.
"""

import difflib
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from typing import Any, cast, get_type_hints

from trace2pop import data, units
from trace2pop.model.card import Treatment
from trace2pop.model.settings import Choice, FeatureChoice, Settings


def choices() -> Iterator[tuple[str, str, Choice]]:
    """Yield (section, key, choice) of every single choice, in the order they are written."""
    for section in fields(Settings):
        for item in fields(section_type(section.name)):
            if "choice" in item.metadata:
                yield section.name, item.name, item.metadata["choice"]


def section_type(section: str) -> type:
    """Return the dataclass of a section."""
    hint: type = get_type_hints(Settings)[section]
    return hint


def parse(choice: Choice, raw: object, own: tuple[str, ...] = ()) -> object:
    """Return the value of a choice as written by the maker; ``own`` are words of theirs.

    Raises:
        ValueError: with one sentence that says what would be right.
    """
    if choice.form == "rows":
        if choice.option != "feature" or not isinstance(raw, list):
            raise ValueError("this is a list of tables; it is set in the settings file only")
        return tuple(_feature(item) for item in raw)
    if choice.form == "lengths":
        items = raw.split(",") if isinstance(raw, str) else raw
        if not isinstance(items, list) or not items:
            raise ValueError("write one or more lengths, such as 9mm, 7mm")
        return tuple(_in_range(choice, _single("length", item)) for item in items)
    if choice.form not in ("word", "text") and raw in choice.words:
        return raw
    if choice.form == "size":
        size = _named_size(choice.listed, raw) if choice.listed else None
        return tuple(_in_range(choice, side) for side in size or _single("size", raw))
    value = _single(choice.form, raw)
    if choice.form == "word":
        return value if value in own else _word(choice, str(value))
    if choice.form == "text" and choice.words:
        named = [word.strip().lower() for word in str(value).split(",") if word.strip()]
        return ", ".join(_word(choice, word) for word in named)
    return _in_range(choice, value)


def _feature(raw: str) -> FeatureChoice:
    """Return what to do about one thin feature, written as 3=keep."""
    number, _, do = (part.strip().lower() for part in raw.partition("="))
    example = "write the feature's number and what to do, such as 3=keep"
    if not number.isdecimal() or not do:
        raise ValueError(example)
    known = {item.name: item.metadata["choice"] for item in fields(FeatureChoice)}
    try:
        count = int(_in_range(known["number"], int(number)))
        return FeatureChoice(cast(Treatment, _word(known["do"], do)), number=count)
    except ValueError as error:
        raise ValueError(f"{error}; {example}") from None


def _named_size(table: str, raw: object) -> tuple[float, float] | None:
    """Return the size listed under a name, None where it is no name; iso- may be left out."""
    rows = {name: tuple(row["size"]) for name, row in data.table(table).items()}
    word = str(raw).strip().lower()
    found = [name for name in rows if word in (name, name.removeprefix("iso-"))]
    if len(found) > 1:
        sizes = " or ".join(units.format_size(rows[name]) for name in found)
        raise ValueError(f"{word} is more than one size: write {sizes}")
    return rows[found[0]] if found else None


def _single(form: str, raw: object) -> Any:
    if form in ("word", "text"):
        if not isinstance(raw, str):
            raise ValueError("write this between quotes")
        return raw
    if form == "flag":
        if not isinstance(raw, bool):
            raise ValueError("write true or false")
        return raw
    if form in ("length", "size"):
        if not isinstance(raw, str):
            shown = f"{raw}mm" if form == "length" and isinstance(raw, int | float) else "20mm"
            example = shown if form == "length" else "5x7in"
            raise ValueError(f'write it with its unit and between quotes, such as "{example}"')
        return units.parse_length(raw) if form == "length" else units.parse_size(raw)
    return _number(form, raw)


def _number(form: str, raw: object) -> float:
    if isinstance(raw, bool) or not isinstance(raw, int | float | str):
        raise ValueError("write a number")
    try:
        value = float(raw)
    except (ValueError, OverflowError):
        raise ValueError("write a number") from None
    if form != "count":
        return value
    if not value.is_integer():
        raise ValueError("write a whole number")
    return int(value)


def _in_range(choice: Choice, value: Any) -> Any:
    if isinstance(value, str | bool):
        return value
    low = choice.low if choice.low is not None else float("-inf")
    high = choice.high if choice.high is not None else float("inf")
    if not low <= value <= high:
        raise ValueError(f"it can be {describe_range(choice)}")
    return value


def _word(choice: Choice, word: str) -> str:
    known = words(choice)
    if word.lower() in known:
        return word.lower()
    if known and word not in known:
        raise ValueError(f"it can be {', '.join(known)}{nearest(word, known)}")
    return word


def words(choice: Choice) -> tuple[str, ...]:
    """Return the words a choice may be, from its own list or its table; empty for free text."""
    return tuple(data.table(choice.listed)) if choice.listed else choice.words


def describe_range(choice: Choice) -> str:
    """Return what a choice may be, in words."""
    if choice.form in ("word", "text", "flag"):
        return ", ".join(words(choice)) or {"flag": "true or false"}.get(choice.form, "any text")
    if choice.form == "rows":
        return "such as 3=keep; may be given again"
    unit = {"length": " mm", "lengths": " mm", "size": " mm", "angle": " degrees"}
    suffix = unit.get(choice.form, "")
    named = (f"a name of trace2pop list {choice.listed}",) if choice.listed else ()
    return ", or ".join((f"{choice.low:.6g} to {choice.high:.6g}{suffix}", *choice.words, *named))


def nearest(word: str, known: tuple[str, ...]) -> str:
    """Return a question that names the known word nearest to ``word``; empty if none is near."""
    near = difflib.get_close_matches(word, known, 1, 0.5)
    return f"; did you mean {near[0]}?" if near else ""


def written(choice: Choice, value: Any) -> str:
    """Return a value as the settings file writes it."""
    if is_dataclass(value):
        raise TypeError("rows are written as tables")
    if isinstance(value, str):
        return quoted(value)
    match choice.form:
        case "length":
            return quoted(units.format_length(value))
        case "lengths":
            return f"[{', '.join(quoted(units.format_length(item)) for item in value)}]"
        case "size":
            return quoted(units.format_size(value))
        case "flag":
            return "true" if value else "false"
        case _:
            return units.plain_number(value)


def quoted(text: str) -> str:
    """Return a text as TOML writes it between quotes."""
    plain = text.replace("\\", "\\\\").replace('"', '\\"')
    safe = "".join(c if c >= " " and c != "\x7f" else f"\\u{ord(c):04X}" for c in plain)
    return f'"{safe}"'
