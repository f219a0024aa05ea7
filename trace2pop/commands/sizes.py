"""trace2pop sizes: what fits which card, before or after there is a picture."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from trace2pop.console import Console
from trace2pop.errors import Trace2popError, UsageError
from trace2pop.geometry import beziers
from trace2pop.mechanism.sizes import cards_for, windows
from trace2pop.model.settings import Settings
from trace2pop.pipeline import card_without_picture, plan_that_holds, traced
from trace2pop.settings import with_options
from trace2pop.units import format_size

RISES = (5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0)


def sizes(picture: Path | None, options: Mapping[str, object], console: Console) -> None:
    """Print the trade of rise against size, for a motif or for any.

    Raises:
        Trace2popError: where the picture can't be read or traced, or a choice can't be.
    """
    settings = with_options(Settings(), options)
    if picture is not None:
        _for_motif(picture, settings, console)
    elif (settings.motif.width is None) != (settings.motif.height is None):
        raise UsageError(
            "the other side of the art is missing",
            "give both --width and --height, or a picture",
        )
    elif settings.motif.width is not None and settings.motif.height is not None:
        _for_fixed_art(settings.motif.width, settings.motif.height, settings, console)
    else:
        _for_any(settings, console)


def _for_any(settings: Settings, console: Console) -> None:
    _, stocks = card_without_picture(settings)
    rows = windows(settings.card, stocks["base"], settings.stock.adhesive, RISES)
    console.line(f"Largest motif for a card {format_size(settings.card.size)}, closed:")
    console.table(
        ("rise, mm", "width, mm", "height, mm"),
        [(f"{rise:.0f}", *(_pair(window) if window else ("none", ""))) for rise, window in rows],
    )


def _pair(size: tuple[float, float]) -> tuple[str, str]:
    return f"{size[0]:.1f}", f"{size[1]:.1f}"


def _for_fixed_art(width: float, height: float, settings: Settings, console: Console) -> None:
    """Print which cards take art of a fixed size, its crease in the middle."""
    card, _ = card_without_picture(settings)
    rows = cards_for(card, width / 2, height)
    console.line(f"Cards that take art of {width:.1f} x {height:.1f} mm, smallest first:")
    if not rows:
        console.line("none of the listed ones; see trace2pop list cards")
        return
    console.table(
        ("card", "size, closed", "highest rise, mm"),
        [(row.title, format_size(row.size), f"{rise:.1f}") for row, rise in rows],
    )


def _for_motif(picture: Path, settings: Settings, console: Console) -> None:
    """Print the largest size that closes and holds at each rise, and the beams it needs."""
    motif = traced(picture, settings)
    free = replace(settings.motif, width=None, height=None, scale=None)
    table = []
    for rise in RISES:
        lifted = replace(settings, motif=free, card=replace(settings.card, rise=rise))
        try:
            plan = plan_that_holds(motif, lifted)
        except Trace2popError as error:
            table.append((f"{rise:.0f}", "none", "", str(error)))
            continue
        left, head, right, foot = beziers.bounds(plan.cut.placed.outline.outer)
        beams = str(len(plan.beams))
        table.append((f"{rise:.0f}", f"{right - left:.1f}", f"{foot - head:.1f}", beams))
    console.line(f"{picture.name} on a card {format_size(settings.card.size)}, closed:")
    console.table(("rise, mm", "width, mm", "height, mm", "beams"), table)
