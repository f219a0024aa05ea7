"""The files of a card: every format's bytes by their names in its folder."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache as once
from typing import Self, TypeVar

import numpy as np
from numpy.typing import NDArray

from trace2pop.cache import Cache
from trace2pop.commands.beside import Beside
from trace2pop.formats.camera import Image
from trace2pop.formats.guide_pdf import guide_pdf
from trace2pop.formats.page import page_html
from trace2pop.formats.picture_trace import trace_picture
from trace2pop.formats.pictures import picture_files
from trace2pop.formats.piece_files import piece_files
from trace2pop.formats.plan_json import card_json
from trace2pop.formats.preview import Film, as_png, preview
from trace2pop.formats.print_pdf import print_files
from trace2pop.formats.sheet_pdf import sheets_pdf
from trace2pop.formats.studio import artwork
from trace2pop.model.card import CutMotif
from trace2pop.model.pieces import Sheets
from trace2pop.model.settings import PrintSettings, Settings
from trace2pop.pipeline import Made

T = TypeVar("T")

_LARGE = 64_000_000
"""Bytes of artwork from which files are made one by one: two at once would take twice the room."""


@dataclass(frozen=True, eq=False)
class _Artwork:
    """The artwork at final size as the screen shows it, kept for the next run."""

    rgb: NDArray[np.uint8]


@dataclass(frozen=True, eq=False)
class _Files:
    """Finished files, as they are kept for the next run."""

    names: tuple[str, ...]
    contents: tuple[NDArray[np.uint8], ...]


@dataclass(frozen=True, eq=False)
class _Previews:
    """The artwork as the screen shows it, what gives the picture, the film and its first half."""

    art: Image
    picture: Callable[[], Image]
    film: Film
    opening: Callable[[], list[Image]]


class CardFiles:
    """All files of a card but its settings, several made at a time; a context.

    What ``cache`` kept and a moved beam doesn't touch, the artwork, its pages and the picture of
    the trace, comes from there.
    """

    def __init__(self, cache: Cache | None = None) -> None:
        self._cache = cache or Cache()
        self._beside = Beside()
        self._previews: _Previews | None = None

    def __enter__(self) -> Self:
        self._beside.__enter__()
        return self

    def __exit__(self, *error: object) -> None:
        self._beside.__exit__(*error)

    def begin(self, value: object) -> None:
        """Begin with the previews where ``value`` is the card laid on its sheets.

        They take longest, and need nothing of the guide.
        """
        if isinstance(value, Sheets) and not _large(value):
            self._previews = self._drawn(value)

    def made(self, made: Made, settings: Settings) -> dict[str, bytes]:
        """Return every file by its name; ``made`` is the card whose sheets were begun with."""
        sheets, cache = made.sheets, self._cache
        names = {part.name: f"parts/{part.name}.svg" for part in sheets.parts.parts}
        names |= {sheet.name: f"sheets/{sheet.name}.svg" for sheet in sheets.sheets}
        previews = self._previews or self._drawn(sheets)
        page = self._begun(sheets, lambda: page_html(made.guide, previews.art))
        trace = _trace_picture(made, cache)
        pictures = self._begun(sheets, lambda: picture_files(made.guide, trace))
        half = len(previews.film.takes) // 2
        opened = self._begun(sheets, lambda: _taken(previews.film.takes[half:]))
        printed = _printed(made, settings.print, cache)
        pieces = piece_files(sheets, settings.files, printed=printed)
        mockup = sheets_pdf(made.mockup, sheets.parts, "White mock-up at true size")
        return {
            "card.json": card_json(sheets, made.stocks, made.findings, names),
            **pieces,
            "mockup.pdf": mockup,
            "guide.pdf": guide_pdf(made.guide, previews.picture()),
            "preview.png": as_png(previews.picture()),
            "preview.gif": _gif(previews, opened),
            "page.html": page(),
            **pictures(),
        }

    def _drawn(self, sheets: Sheets) -> "_Previews":
        art = _art(sheets.parts.plan.cut, self._cache)
        picture, film = self._begun(sheets, lambda: preview(sheets, art)), Film(sheets, art)
        opening = self._begun(sheets, lambda: _taken(film.takes[: len(film.takes) // 2]))
        return _Previews(art, picture, film, opening)

    def _begun(self, sheets: Sheets, make: Callable[[], T]) -> Callable[[], T]:
        return once(make) if _large(sheets) else self._beside.begin(make)


def card_files(made: Made, settings: Settings, cache: Cache | None = None) -> dict[str, bytes]:
    """Return every file of a card but its settings; ``cache`` as for ``CardFiles``."""
    with CardFiles(cache) as files:
        return files.made(made, settings)


def _taken(takes: Sequence[Callable[[], Image]]) -> list[Image]:
    return [take() for take in takes]


def _gif(previews: _Previews, opened: Callable[[], list[Image]]) -> bytes:
    # The second half first: nobody may have begun it, while the first is being taken.
    last = opened()
    return previews.film.gif([*previews.opening(), *last])


def _large(sheets: Sheets) -> bool:
    cols, rows = sheets.parts.plan.cut.placed.motif.artwork.size_px
    return 3 * cols * rows > _LARGE


def _art(cut: CutMotif, cache: Cache) -> NDArray[np.uint8]:
    return cache.stage("artwork", _Artwork, (cut,), lambda: _Artwork(artwork(cut))).rgb


def _trace_picture(made: Made, cache: Cache) -> bytes:
    given = (made.plan.cut, made.guide.words)
    name = "trace.png"
    return _kept(cache, "trace-picture", given, lambda: {name: trace_picture(made.guide)})[name]


def _printed(made: Made, printer: PrintSettings, cache: Cache) -> dict[str, bytes]:
    """Return the artwork pages: they hang on the motif and where it lies on its sheets only."""
    sheets = made.sheets
    parts = tuple(part for part in sheets.parts.parts if part.printed)
    named = {part.name for part in parts}
    laid = tuple(
        sheet for sheet in sheets.sheets if named & {item.part for item in sheet.placements}
    )
    given = (made.plan.cut, parts, laid, printer)
    return _kept(cache, "print", given, lambda: print_files(sheets, printer))


def _kept(
    cache: Cache, name: str, given: tuple[object, ...], make: Callable[[], Mapping[str, bytes]]
) -> dict[str, bytes]:
    def made() -> _Files:
        files = make()
        contents = tuple(np.frombuffer(content, np.uint8) for content in files.values())
        return _Files(tuple(files), contents)

    files = cache.stage(name, _Files, given, made)
    return {n: c.tobytes() for n, c in zip(files.names, files.contents, strict=True)}
