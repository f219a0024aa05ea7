"""The card's sizes, from what the maker names to base, web and window."""

from trace2pop.errors import FitError
from trace2pop.model.card import Card, OuterCard
from trace2pop.model.settings import CardSettings
from trace2pop.model.stock import Stock


def card_of(settings: CardSettings, base: Stock, adhesive: float) -> Card:
    """Return the card for the named closed size.

    The base is smaller than the outer card by the border on each open side. The web runs from the
    lower flange's top face, glued under the base, to the upper flange's top face, glued under the
    motif: ``rise + base thickness + tape - tape``, with one ``adhesive`` thickness in both places.

    Raises:
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
    width, height = card.window
    if width <= 0 or height <= 0:
        most = card.half_width - card.margin - (card.web - card.rise)
        raise FitError(
            f"a rise of {card.rise:.1f} mm leaves no room for a motif in a card "
            f"{across:.1f} mm from spine to fore edge",
            f"choose a rise well under {max(most, 0):.1f} mm, or a larger card",
        )
    return card


def _sides(settings: CardSettings) -> tuple[float, float]:
    """Return the closed card's sides: from spine to fore edge, and along the spine."""
    short, long = sorted(settings.size)
    return (short, long) if settings.spine == "long" else (long, short)
