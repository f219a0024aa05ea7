"""What fits which card: the window for a rise, the rise and the card for a motif.

All of it follows from the closing law (docs/mechanism.md): closed, a motif point lies the web's
length further from the spine than from the crease, so ``reach + web + margin <= half width``.
"""

from collections.abc import Iterable
from dataclasses import replace

from trace2pop import data
from trace2pop.errors import FitError
from trace2pop.mechanism.card import card_of
from trace2pop.model.card import Card, OuterCard
from trace2pop.model.settings import CardSettings
from trace2pop.model.stock import NamedSize, Stock

LOWEST_RISE = 5.0
"""Lowest rise a card may have, as in the settings."""

_SLACK = 1e-9


def windows(
    settings: CardSettings, base: Stock, adhesive: float, rises: Iterable[float]
) -> tuple[tuple[float, tuple[float, float] | None], ...]:
    """Return (rise, window) for each rise: the largest motif there is, None where there is none."""
    rows: list[tuple[float, tuple[float, float] | None]] = []
    for rise in rises:
        try:
            card = card_of(replace(settings, rise=rise), base, adhesive)
        except FitError:
            rows.append((rise, None))
        else:
            rows.append((rise, card.window))
    return tuple(rows)


def with_rise(card: Card, rise: float) -> Card:
    """Return the card with another rise; its papers and tapes stay."""
    return replace(card, rise=rise, web=card.web + rise - card.rise)


def with_size(card: Card, size: tuple[float, float]) -> Card:
    """Return the card with another closed size, folded along the same kind of side."""
    short, long = sorted(size)
    across, along = (short, long) if card.outer.spine == "long" else (long, short)
    return replace(
        card,
        half_width=across - card.border,
        height=along - 2 * card.border,
        outer=OuterCard(across, along, card.outer.spine),
    )


def highest_rise(card: Card, reach: float) -> float:
    """Return the highest rise at which a motif point ``reach`` from its crease stays inside.

    May be negative: then the motif is too wide for the card lying flat.
    """
    return card.half_width - card.margin - reach - (card.web - card.rise)


def rise_for(card: Card, reach: float) -> float | None:
    """Return ``highest_rise`` rounded down to 0.1 mm, None where that is too low to build."""
    rise = int(highest_rise(card, reach) * 10 + _SLACK) / 10
    return rise if rise >= LOWEST_RISE else None


def takes(card: Card, reach: float, height: float) -> bool:
    """Whether a motif of that ``reach`` and ``height`` closes inside the card."""
    return reach <= card.reach + _SLACK and height <= card.window[1] + _SLACK


def smallest_card(card: Card, reach: float, height: float) -> NamedSize | None:
    """Return the smallest listed card, by area, that takes the motif at ``card``'s rise.

    ``reach`` is the motif's largest distance from its crease, ``height`` its size along it. The
    card folds along the same kind of side as ``card``, with the same border and margin.
    """
    listed = sorted(data.cards().values(), key=lambda row: row.size[0] * row.size[1])
    return next((row for row in listed if takes(with_size(card, row.size), reach, height)), None)


def cards_for(card: Card, reach: float, height: float) -> tuple[tuple[NamedSize, float], ...]:
    """Return the listed cards that take art of a fixed size, smallest first, with the highest rise.

    That is rounded down to 0.1 mm and never under ``LOWEST_RISE``.
    """
    listed = sorted(data.cards().values(), key=lambda row: row.size[0] * row.size[1])
    rows = []
    for row in listed:
        sized = with_size(card, row.size)
        rise = rise_for(sized, reach)
        if rise is not None and takes(with_rise(sized, rise), reach, height):
            rows.append((row, rise))
    return tuple(rows)
