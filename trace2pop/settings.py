"""The maker's choices: read from the settings file and the command line, written back in full."""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import Field, dataclass, field, fields, replace
from pathlib import Path
from typing import Any, get_args, get_type_hints

from trace2pop.choices import (
    choices,
    describe_range,
    nearest,
    parse,
    quoted,
    section_type,
    written,
)
from trace2pop.errors import UsageError
from trace2pop.model.settings import Choice, Settings

PICTURE_KEYS = ("file", "sha256")


@dataclass(frozen=True)
class Project:
    """A picture and every choice made for it.

    ``picture`` is absolute. ``sha256`` is the checksum the settings file states, None where it
    states none.
    """

    picture: Path
    settings: Settings = field(default_factory=Settings)
    sha256: str | None = None


def with_options(settings: Settings, options: Mapping[str, object]) -> Settings:
    """Return ``settings`` with command line options, named as in ``Choice.option``, laid over.

    Raises:
        UsageError: where a value can't be.
    """
    for section, key, choice in choices():
        raw = options.get(choice.option)
        if raw is None:
            continue
        try:
            value = parse(choice, raw)
        except ValueError as error:
            raise UsageError(
                f"--{choice.option} {raw}: {error}", "correct the option and run again"
            ) from None
        settings = _set(settings, section, key, value)
    return settings


def _set(settings: Settings, section: str, key: str, value: object) -> Settings:
    part = replace(getattr(settings, section), **{key: value})
    return replace(settings, **{section: part})


def read(path: Path) -> Project:
    """Read a settings file.

    Raises:
        UsageError: naming the line, where the file can't be read, a key is unknown or a value
            can't be.
    """
    try:
        text = path.read_text("utf-8")
        tables = tomllib.loads(text)
    except OSError as error:
        raise UsageError(
            f"{path}: the settings file can't be read ({error.strerror})",
            "check its name and place",
        ) from None
    except UnicodeDecodeError:
        raise UsageError(f"{path}: not a text file", "give a picture or a card.toml") from None
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise UsageError(f"{path}: {error}", "mend that line and run again") from None
    return _Reader(path, text).project(tables)


class _Reader:
    """Turns the tables of one settings file into a project, naming lines where they are wrong."""

    def __init__(self, path: Path, text: str) -> None:
        self.path = path
        self.lines = text.splitlines()

    def project(self, tables: dict[str, Any]) -> Project:
        sections = tuple(item.name for item in fields(Settings))
        settings = Settings()
        for name, table in tables.items():
            if name not in sections:
                raise self.wrong(
                    name, None, f"there is no section [{name}]{nearest(name, sections)}"
                )
            if not isinstance(table, dict):
                raise self.wrong(name, None, f"{name} is a section: write [{name}] on its own line")
            settings = self.section(settings, name, table)
        picture = tables.get("picture", {})
        file = picture.get("file")
        if not isinstance(file, str) or not file:
            raise self.wrong(
                "picture", None, 'no picture is named: write file = "..." in [picture]'
            )
        sha256 = picture.get("sha256")
        return Project(
            (self.path.parent / file).resolve(),
            settings,
            sha256 if isinstance(sha256, str) else None,
        )

    def section(self, settings: Settings, name: str, table: dict[str, Any]) -> Settings:
        known = {item.name: item for item in fields(section_type(name))}
        extra = PICTURE_KEYS if name == "picture" else ()
        for key, raw in table.items():
            if key in extra:
                continue
            if key not in known:
                near = nearest(key, (*known, *extra))
                raise self.wrong(name, key, f"there is no choice {key} in [{name}]{near}")
            settings = _set(settings, name, key, self.value(name, key, known[key], raw))
        return settings

    def value(self, section: str, key: str, item: "Field[Any]", raw: object) -> object:
        choice: Choice = item.metadata["choice"]
        try:
            if choice.form == "rows":
                return _rows(get_args(get_type_hints(section_type(section))[key])[0], raw)
            return parse(choice, raw)
        except ValueError as error:
            raise self.wrong(section, key, f"{key}: {error}") from None

    def wrong(self, section: str, key: str | None, message: str) -> UsageError:
        line = self.line_of(section, key)
        return UsageError(
            f"{self.path.name}, line {line}: {message}", "mend that line and run again"
        )

    def line_of(self, section: str, key: str | None) -> int:
        here, heading = "", 1
        for number, line in enumerate(self.lines, start=1):
            header = re.match(r"\s*\[+\s*([\w-]+)", line)
            if header:
                here = header[1]
                heading = number if here == section else heading
            named = re.match(r"""\s*["']?([\w-]+)["']?\s*[=.]""", line)
            if named and (
                (here == section and named[1] == key) or (not here and named[1] == section)
            ):
                return number
        return heading


def _rows(row_type: Any, raw: object) -> tuple[object, ...]:
    if not isinstance(raw, list) or not all(isinstance(row, dict) for row in raw):
        raise ValueError("write each as a table of its own, between [[ ]]")
    known = {item.name: item.metadata["choice"] for item in fields(row_type)}
    rows = []
    for row in raw:
        unknown = [key for key in row if key not in known]
        if unknown:
            raise ValueError(f"there is no key {unknown[0]}{nearest(unknown[0], tuple(known))}")
        try:
            rows.append(row_type(**{key: parse(known[key], value) for key, value in row.items()}))
        except TypeError:
            raise ValueError(f"each needs {', '.join(known)}") from None
    return tuple(rows)


def write(project: Project, picture: str, sha256: str) -> str:
    """Return the settings file of a project: every choice in force, each with its meaning.

    ``picture`` is the picture's path as the file shall name it, relative to itself.
    """
    lines = [
        "# A floating-layer card. Change a value and run:  trace2pop make card.toml",
        "# Lengths carry their unit: mm, cm or in. A line that starts with # is not in force.",
    ]
    for section in fields(Settings):
        values = getattr(project.settings, section.name)
        summary = (section_type(section.name).__doc__ or "").splitlines()[0]
        lines += ["", f"# {summary}", f"[{section.name}]"]
        if section.name == "picture":
            lines += [f"file = {quoted(picture)}", f"sha256 = {quoted(sha256)}"]
        rows: list[str] = []
        for item in fields(values):
            choice: Choice = item.metadata["choice"]
            value = getattr(values, item.name)
            if choice.form == "rows":
                rows += _row_lines(f"{section.name}.{item.name}", choice, value)
            else:
                lines += _choice_lines(item.name, choice, value)
        lines += rows
    return "\n".join(lines) + "\n"


def _choice_lines(key: str, choice: Choice, value: object) -> list[str]:
    comment = f"# {choice.text}: {describe_range(choice)}"
    if value is None:
        return [comment, f"# {key} ="]
    return [comment, f"{key} = {written(choice, value)}"]


def _row_lines(name: str, choice: Choice, rows: tuple[Any, ...]) -> list[str]:
    lines = [f"# {choice.text}: [[{name}]]"]
    for row in rows:
        lines.append(f"[[{name}]]")
        for item in fields(row):
            value = getattr(row, item.name)
            if value is not None:
                lines.append(f"{item.name} = {written(item.metadata['choice'], value)}")
    return lines
