"""trace2pop make: one picture, or one settings file, to one folder."""

import os
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from trace2pop import output, places
from trace2pop.cache import Cache
from trace2pop.commands.check import check_written
from trace2pop.commands.describe import describe
from trace2pop.commands.features import with_places
from trace2pop.commands.files import CardFiles
from trace2pop.console import Console
from trace2pop.errors import CheckError, PictureError, Trace2popError, UsageError
from trace2pop.model.finding import Finding
from trace2pop.model.settings import GivenBeam
from trace2pop.pipeline import Made, make_card
from trace2pop.settings import Project, read, with_options, write

SETTINGS_FILE = "card.toml"


def make(
    source: Path,
    out: Path | None,
    options: Mapping[str, object],
    *,
    force: bool,
    console: Console,
    extra: Mapping[str, bytes] = MappingProxyType({}),
    keep: bool = False,
    again: bool = False,
) -> None:
    """Make the folder of a card and say what it holds; ``extra`` files go into it too.

    ``keep`` says that stages are kept in the folder, and taken from it where they hold still.

    ``again`` says that the folder may be there: files of its manifest are replaced that nobody
    changed.

    Raises:
        Trace2popError: whatever stopped the run; the folder is then as it was.
    """
    project, target, rerun = _project(source, out, options)
    plain = rerun and not options

    def delivered(cache: Cache) -> tuple[Made, dict[str, bytes], output.Delivered]:
        with CardFiles(cache) as drawn:
            said = _said(console, cache, drawn.begin)
            made = make_card(project.picture, project.settings, said, cache)
            # On a plain re-run the settings file stays as the maker wrote it.
            settings = source.read_bytes() if plain else settings_text(project, target, made)
            files = {**drawn.made(made, project.settings), SETTINGS_FILE: settings, **extra}
        return made, files, delivery.deliver(files, check_written)

    with output.opened(target, force=force, rerun=rerun or again) as delivery:
        cache = Cache(target if keep else None)
        try:
            made, files, done = delivered(cache)
        except Exception as error:
            plain_cause = isinstance(error, Trace2popError) and not isinstance(error, CheckError)
            if plain_cause or not cache.used:
                raise
            # What was kept may be to blame, however well it was sealed: all of it anew.
            cache = Cache(target, trusted=False)
            made, files, done = delivered(cache)
        cache.keep(target)
    changed = _changed_picture(project, source)
    console.findings((*made.findings, *changed, *_kept_findings(done, files)))
    _report(made, done, console)


def _said(
    console: Console, cache: Cache, begin: Callable[[object], None]
) -> Callable[[object], None]:
    """Return what says of each stage what it found, and whether it is from the run before.

    Each value is then given to ``begin``.
    """

    def say(value: object) -> None:
        name, found = describe(value)
        console.stage(name, f"{found} (as before)" if cache.was_taken(value) else found)
        begin(value)

    return say


def _project(
    source: Path, out: Path | None, options: Mapping[str, object]
) -> tuple[Project, Path, bool]:
    """Return the project, the folder it goes to, and whether that is the settings file's own."""
    if source.suffix.lower() == ".toml":
        project = read(source)
        home = source.resolve().parent
        target = home if out is None else Path(os.path.abspath(out))  # noqa: PTH100  # keeps a link as named
        rerun = target == home and (target / output.MANIFEST).exists()
    else:
        if out is None:
            raise UsageError(
                "no folder is named for the card", "add --out and the name of a new folder"
            )
        project, rerun = Project(source.resolve()), False
        target = Path(os.path.abspath(out))  # noqa: PTH100  # keeps a link as named
    _picture_there(project, source)
    settings = with_options(project.settings, options)
    return replace(project, settings=settings), target, rerun


def _picture_there(project: Project, source: Path) -> None:
    if project.picture_line is not None and not places.there(project.picture):
        raise PictureError(
            f"{source.name}, line {project.picture_line}: there is no picture {project.picture}",
            "put it there, or name its place, seen from the settings file, after file =",
        )


def settings_text(project: Project, target: Path, made: Made) -> bytes:
    """Return the settings file that belongs into ``target``: every choice, and the beams chosen."""
    picture = os.path.relpath(project.picture, target)
    checksum = places.file_digest(project.picture)
    given = {(beam.u, beam.v0, beam.v1) for beam in project.settings.supports.beam}
    chosen = tuple(
        GivenBeam(round(beam.u, 2), round(beam.v0, 2), round(beam.v1, 2), round(beam.flange, 2))
        for beam in made.plan.beams
        if (beam.u, beam.v0, beam.v1) not in given
    )
    project = replace(project, settings=with_places(project.settings, made))
    return write(project, Path(picture).as_posix(), checksum, chosen).encode()


def _changed_picture(project: Project, source: Path) -> list[Finding]:
    """Return what to say where the picture isn't the one the settings were made for."""
    if not project.sha256 or places.file_digest(project.picture) == project.sha256:
        return []
    text = (
        f"it has changed since {source.name} was written, and the card was made from it as it is "
        f"now; if that is meant, take the line that begins with sha256 out of {source.name}"
    )
    return [Finding("picture-changed", "warning", project.picture.name, None, None, text)]


def _kept_findings(delivered: output.Delivered, files: Mapping[str, bytes]) -> list[Finding]:
    """Return what was kept; a changed settings file is what a re-run is for, so it isn't told."""
    return [
        Finding(
            "file-kept",
            "warning",
            name,
            None,
            None,
            "you changed this file, so it was kept; delete it and run again to have it made anew",
        )
        for name in delivered.kept
        if name != SETTINGS_FILE or (delivered.folder / name).read_bytes() != files[name]
    ]


def _report(made: Made, delivered: output.Delivered, console: Console) -> None:
    cut = made.plan.cut
    hand = sum(part.choice == "hand" for part in cut.hand_parts) + len(cut.islands)
    console.result(
        [
            ("folder", str(delivered.folder)),
            ("next", "open guide.pdf and page.html; cut what is in sheets/"),
            ("beams", ", ".join(f"{b.part} at {b.u:+.1f} mm" for b in made.plan.beams)),
            ("by hand", f"{hand} part{'s' * (hand > 1)}" if hand else "nothing"),
        ]
    )
