"""trace2pop trace: the outline of a picture's motif, without a card."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from trace2pop import limits, output
from trace2pop.commands.describe import describe
from trace2pop.console import Console
from trace2pop.errors import TraceError
from trace2pop.formats.picture_trace import traced_picture
from trace2pop.formats.trace_files import outline_svg, trace_json
from trace2pop.model.artwork import Motif
from trace2pop.model.settings import Settings
from trace2pop.pipeline import traced
from trace2pop.settings import with_options
from trace2pop.stages.trace import candidates


def trace(
    picture: Path,
    out: Path,
    options: Mapping[str, object],
    *,
    in_place: bool,
    force: bool,
    console: Console,
) -> None:
    """Make a folder with outline.svg in drawn mm, trace.png to look at, and trace.json.

    Where the outline is doubtful the folder is made all the same, so that the maker can look.

    Raises:
        Trace2popError: where the picture can't be read or traced or the folder can't be written,
            and, once it is written, where the outline is doubtful and isn't trusted.
    """
    settings = with_options(Settings(), options)
    looked_at = replace(settings, trace=replace(settings.trace, trust=True))
    with output.opened(out.absolute(), force=force, rerun=False) as delivery:
        motif, refusal = _looked_at(picture, looked_at, console)
        things = candidates(motif.artwork, settings.trace)
        delivery.deliver(
            {
                "outline.svg": outline_svg(motif, in_place=in_place),
                "trace.png": traced_picture(motif, things),
                "trace.json": trace_json(motif, things, in_place=in_place),
            }
        )
    console.findings((*motif.artwork.findings, *motif.findings))
    console.result([("folder", str(out)), ("next", "look at trace.png: is the line right?")])
    if refusal is not None:
        raise TraceError(str(refusal), f"look at {out / 'trace.png'}; {refusal.advice}")
    if motif.confidence < limits.CONFIDENCE.value and not settings.trace.trust:
        raise TraceError(
            f"the outline is doubtful, {motif.confidence:.0%} sure",
            f"look at {out / 'trace.png'} where it is ringed; say --trust where it is right",
        )


def _looked_at(
    picture: Path, settings: Settings, console: Console
) -> tuple[Motif, TraceError | None]:
    """Return the motif and, where none is free of the edge, the largest thing and the refusal."""

    def say(value: object) -> None:
        console.stage(*describe(value))

    try:
        return traced(picture, settings, say), None
    except TraceError as refusal:
        if settings.trace.take:
            raise
        first = replace(settings, trace=replace(settings.trace, take="1"))
        try:
            return traced(picture, first, say), refusal
        except TraceError:
            raise refusal from None
