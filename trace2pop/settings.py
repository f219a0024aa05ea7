"""The maker's choices: read from the settings file and the command line, written back in full."""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import MISSING, Field, dataclass, field, fields, replace
from pathlib import Path
from typing import Any, cast, get_args, get_type_hints

from trace2pop import data
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
from trace2pop.model.settings import Choice, GivenBeam, OwnPaper, Settings
from trace2pop.toml_lines import Lines, Step

PICTURE_KEYS = ("file", "sha256")
_MOST_BYTES = 1_000_000


@dataclass(frozen=True)
class Project:
    """A picture and every choice made for it.

    ``picture`` is absolute. ``sha256`` is the checksum the settings file states, None where it
    states none; ``picture_line`` the line on which it names the picture.
    """

    picture: Path
    settings: Settings = field(default_factory=Settings)
    sha256: str | None = None
    picture_line: int | None = field(default=None, compare=False)


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
            value = parse(choice, raw, _own_names(settings, section, choice))
        except ValueError as error:
            said = ", ".join(raw) if isinstance(raw, list) else raw
            raise UsageError(
                f"--{choice.option} {said}: {error}", "correct the option and run again"
            ) from None
        if choice.form == "rows":
            value = (*getattr(getattr(settings, section), key), *cast(tuple[object, ...], value))
        settings = _set(settings, section, key, value)
    return settings


def _own_names(settings: Settings, section: str, choice: Choice) -> tuple[str, ...]:
    """Return the names of the maker's own rows that a choice may say."""
    rows = getattr(getattr(settings, section), choice.own) if choice.own else ()
    return tuple(row.name for row in rows)


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
        if path.stat().st_size > _MOST_BYTES:
            raise UsageError(
                f"{path}: too long for a settings file", "give a picture or a card.toml"
            )
        text = path.read_text("utf-8-sig")
        tables = tomllib.loads(text)
    except OSError as error:
        raise UsageError(
            f"{path}: the settings file can't be read ({error.strerror})",
            "check its name and place",
        ) from None
    except UnicodeDecodeError:
        raise UsageError(
            f"{path}: not a text file", "give a picture, or a card.toml saved as UTF-8 text"
        ) from None
    except tomllib.TOMLDecodeError as error:
        raise _unreadable(path.name, str(error), len(text.splitlines())) from None
    except (ValueError, RecursionError):
        raise UsageError(
            f"{path.name}: a value in it is out of all bounds",
            "write each choice plainly on its own line",
        ) from None
    return _Reader(path, text).project(tables)


def _unreadable(name: str, error: str, last: int) -> UsageError:
    """Return the error for a line that is no TOML; ``last`` is the file's last line."""
    what, _, place = error.partition(" (at ")
    line = re.match(r"line (\d+)", place)
    where = f"{name}, line {line[1] if line else last}"
    if "Cannot overwrite" in what or "Cannot declare" in what:
        return UsageError(f"{where}: this is set a second time", "take one of the two out")
    return UsageError(
        f"{where}: this can't be read ({what[:1].lower()}{what[1:]})",
        'write key = value, with texts and lengths between quotes, such as rise = "20mm"',
    )


class _Reader:
    """Turns the tables of one settings file into a project, naming lines where they are wrong."""

    def __init__(self, path: Path, text: str) -> None:
        self.path = path
        self.lines = Lines(text)

    def project(self, tables: dict[str, Any]) -> Project:
        sections = tuple(item.name for item in fields(Settings))
        settings = Settings()
        for name, table in tables.items():
            if name not in sections:
                raise self.wrong(self.unknown(name, sections), name)
            if not isinstance(table, dict):
                raise self.wrong(f"{name} is a section: write [{name}] on its own line", name)
            settings = self.section(settings, name, table)
        picture = tables.get("picture", {})
        file, sha256 = picture.get("file"), picture.get("sha256")
        if not isinstance(file, str) or not file or "\0" in file:
            raise self.wrong(
                'no picture is named: write file = "..." in [picture]', "picture", "file"
            )
        if sha256 is not None and not isinstance(sha256, str):
            raise self.wrong("sha256: write this between quotes", "picture", "sha256")
        line = self.lines.of("picture", "file")
        return Project((self.path.parent / file).resolve(), settings, sha256, line)

    def section(self, settings: Settings, name: str, table: dict[str, Any]) -> Settings:
        known = {item.name: item for item in fields(section_type(name))}
        extra = PICTURE_KEYS if name == "picture" else ()
        # Rows first: other choices of the section may say their names.
        rows = [key for key in table if key in known and _is_rows(known[key])]
        for key, raw in sorted(table.items(), key=lambda item: item[0] not in rows):
            if key in extra:
                continue
            if key not in known:
                near = self.elsewhere(key) or nearest(key, (*known, *extra))
                raise self.wrong(f"there is no choice {key} in [{name}]{near}", name, key)
            choice: Choice = known[key].metadata["choice"]
            own = _own_names(settings, name, choice)
            value = (
                self.rows(raw, name, key)
                if key in rows
                else self.parsed(choice, raw, own, name, key)
            )
            settings = _set(settings, name, key, value)
        return settings

    def rows(self, raw: object, section: str, key: str) -> tuple[object, ...]:
        row_type = _row_type(f"{section}.{key}")
        if not isinstance(raw, list) or not all(isinstance(row, dict) for row in raw):
            head = f"[[{section}.{key}]]"
            raise self.wrong(f"{key}: begin each with {head} on its own line", section, key)
        known = {item.name: item for item in fields(row_type)}
        needed = [name for name, item in known.items() if item.default is MISSING]
        result = []
        for number, row in enumerate(raw):
            values = {}
            for name, value in row.items():
                way = (section, key, number, name)
                if name not in known:
                    near = nearest(name, tuple(known))
                    raise self.wrong(f"there is no {name} in [[{section}.{key}]]{near}", *way)
                values[name] = self.parsed(known[name].metadata["choice"], value, (), *way)
            lacking = [name for name in needed if name not in values]
            if lacking:
                text = f"[[{section}.{key}]] needs {' and '.join(lacking)}"
                raise self.wrong(text, section, key, number)
            result.append(row_type(**values))
            fault = data.paper_fault(result[-1]) if row_type is OwnPaper else ""
            if fault:
                raise self.wrong(fault, section, key, number)
        return tuple(result)

    def parsed(self, choice: Choice, raw: object, own: tuple[str, ...], *way: Step) -> object:
        try:
            return parse(choice, raw, own)
        except ValueError as error:
            raise self.wrong(f"{way[-1]}: {error}", *way) from None

    def unknown(self, name: str, sections: tuple[str, ...]) -> str:
        near = self.elsewhere(name) or nearest(name, sections)
        return f"there is no section [{name}]{near}"

    def elsewhere(self, key: str) -> str:
        """Return a hint where ``key`` is a choice of another section."""
        homes = [section for section, known, _ in choices() if known == key]
        return f"; {key} belongs under [{homes[0]}]" if len(homes) == 1 else ""

    def wrong(self, message: str, *way: Step) -> UsageError:
        return UsageError(
            f"{self.path.name}, line {self.lines.of(*way)}: {message}",
            "mend that line and run again",
        )


def _is_rows(item: "Field[Any]") -> bool:
    return bool(item.metadata["choice"].form == "rows")


def _row_type(name: str) -> Any:
    """Return the dataclass of the rows of ``section.key``."""
    section, key = name.split(".")
    return get_args(get_type_hints(section_type(section))[key])[0]


def write(project: Project, picture: str, sha256: str, beams: tuple[GivenBeam, ...] = ()) -> str:
    """Return the settings file of a project: every choice in force, each with its meaning.

    ``picture`` is the picture's path as the file shall name it, relative to itself. ``beams`` are
    those the program chose; they are written as remarks, ready to be moved.
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
            lines += [
                "# the drawing: its path from this file's folder",
                f"file = {quoted(picture)}",
                "# its checksum: where the drawing has changed you are told so",
                f"sha256 = {quoted(sha256)}",
            ]
        rows: list[str] = []
        for item in fields(values):
            choice: Choice = item.metadata["choice"]
            value = getattr(values, item.name)
            if choice.form == "rows":
                rows += _row_lines(f"{section.name}.{item.name}", choice, value)
            else:
                lines += _choice_lines(item.name, choice, value)
        lines += rows
        if section.name == "supports":
            lines += _chosen_lines(beams)
    return "\n".join(lines) + "\n"


def _choice_lines(key: str, choice: Choice, value: object) -> list[str]:
    comment = f"# {choice.text}: {describe_range(choice)}"
    if value is None:
        return [comment, f"# {key} ="]
    return [comment, f"{key} = {written(choice, value)}"]


def _row_lines(name: str, choice: Choice, rows: tuple[Any, ...]) -> list[str]:
    lines = [f"# {choice.text}: [[{name}]], and in each"]
    for item in fields(_row_type(name)):
        described: Choice = item.metadata["choice"]
        lines.append(f"#   {item.name} = {described.text}: {describe_range(described)}")
    for row in rows:
        lines.append(f"[[{name}]]")
        for item in fields(row):
            value = getattr(row, item.name)
            if value is not None:
                lines.append(f"{item.name} = {written(item.metadata['choice'], value)}")
    return lines


def _chosen_lines(beams: tuple[GivenBeam, ...]) -> list[str]:
    """Return the beams the program chose, as remarks."""
    if not beams:
        return []
    lines = [
        "# The beams as they were chosen when this file was written. To move one, take the # from",
        "# its lines and change it: the others are chosen anew round it. Give all of them, and say",
        "# only_given = true above, to have no other.",
    ]
    for beam in beams:
        lines.append("# [[supports.beam]]")
        for item in fields(beam):
            value = getattr(beam, item.name)
            lines.append(f"# {item.name} = {written(item.metadata['choice'], value)}")
    return lines
