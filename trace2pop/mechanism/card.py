"""The card's sizes, from what the maker names to base, web and window."""

from trace2pop.errors import FitError, UsageError
from trace2pop.model.card import Card, OuterCard
from trace2pop.model.settings import CardSettings
from trace2pop.model.stock import Stock


def card_of(settings: CardSettings, base: Stock, adhesive: float) -> Card:
    """Return the card for the named closed size.

    The base is smaller than the outer card by the border on each open side. The web runs from the
    lower flange's top face, glued under the base, to the upper flange's top face, glued under the
    motif: ``rise + base thickness + tape - tape``, with one ``adhesive`` thickness in both places.

    Raises:
        UsageError: where border and margin leave nothing of the card.
        FitError: where the rise leaves no window for a motif.
    """
    across, along = _sides(settings)
    lower_tape = upper_tape = adhesive
    card = Card(
        half_width=across - settings.border,
        height=along - 2 * settings.border,
        rise=settings.rise,
        web=settings.rise + base.thickness + lower_tape - upper_tape,
        margin=settings.margin,
        border=settings.border,
        outer=OuterCard(across, along, settings.spine),
    )
    if min(card.half_width, card.height) <= 2 * card.margin:
        raise UsageError(
            f"a border of {card.border:.1f} mm and a margin of {card.margin:.1f} mm leave nothing "
            f"of a card of {across:.1f} x {along:.1f} mm",
            "choose a smaller --border or --margin, or a larger --card",
        )
    if card.reach <= 0:
        most = card.half_width - card.margin - (card.web - card.rise)
        raise FitError(
            f"a rise of {card.rise:.1f} mm leaves no room for a motif: closed, the motif moves "
            f"{card.web:.1f} mm out from the spine, and the card has {card.half_width:.1f} mm from "
            f"spine to fore edge, {card.margin:.1f} mm of it margin",
            f"choose a --rise well under {max(most, 0):.0f} mm, or a larger --card",
        )
    return card


def _sides(settings: CardSettings) -> tuple[float, float]:
    """Return the closed card's sides: from spine to fore edge, and along the spine."""
    short, long = sorted(settings.size)
    return (short, long) if settings.spine == "long" else (long, short)
