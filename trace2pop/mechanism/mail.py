"""Which envelope takes the closed card, and what post offices say to it."""

from collections.abc import Iterable
from typing import Any

from trace2pop import data
from trace2pop.limits import ENVELOPE_EASE, ENVELOPE_FOLDS, ENVELOPE_PAPER
from trace2pop.mechanism.springs import GRAVITY, weight
from trace2pop.model.closing import Mail, Verdict
from trace2pop.model.stock import NamedSize, Stock

_SLACK = 1e-6

_ENVELOPE_GRAMMAGE = 100.0
"""g/m2 of a bought envelope's paper; common practice, no published source."""


def inside(width: float, height: float, thickness: float) -> tuple[float, float]:
    """Return the least inside (shorter, longer side) of an envelope for a closed card.

    A flat envelope drawn over a card of that ``thickness`` loses as much of its width and height:
    its two faces are as long as the card's two faces and its two edges. A little ease is needed to
    slide the card in.
    """
    short, long = sorted((width, height))
    ease = thickness + ENVELOPE_EASE.value
    return short + ease, long + ease


def envelope_for(width: float, height: float, thickness: float) -> NamedSize | None:
    """Return the smallest listed envelope, by area, that takes a closed card; None if none does."""
    need = inside(width, height, thickness)
    rows = sorted(data.envelopes().values(), key=lambda row: row.size[0] * row.size[1])
    return next((row for row in rows if need[0] <= row.size[0] and need[1] <= row.size[1]), None)


def envelope_to_make(width: float, height: float, thickness: float) -> tuple[float, float]:
    """Return the front (longer, shorter side) of an envelope folded by hand for a closed card.

    What a bought one needs inside, and room for folds made by hand.
    """
    short, long = inside(width, height, thickness)
    return long + ENVELOPE_FOLDS.value, short + ENVELOPE_FOLDS.value


def mass(pieces: Iterable[tuple[float, Stock]]) -> float:
    """Return the mass in g of pieces given as (area in mm2, stock)."""
    return sum(weight(area, stock) for area, stock in pieces) * 1000 / GRAVITY


def mail_of(
    width: float, height: float, thickness: float, card_mass: float, made_of: Stock | None = None
) -> Mail:
    """Return envelope and verdicts for a closed card.

    ``card_mass`` in g without the envelope. It goes in the nearest listed envelope; where none
    takes it, one is reckoned that just does; ``made_of`` a paper, in the one made to its size.
    """
    envelope = None if made_of else envelope_for(width, height, thickness)
    short, long = envelope.size if envelope else inside(width, height, thickness)
    paper, grammage = ENVELOPE_PAPER.value, _ENVELOPE_GRAMMAGE
    if made_of:
        long, short = envelope_to_make(width, height, thickness)
        paper, grammage = made_of.thickness, made_of.grammage
    # Two faces, and flaps of about half a face in all.
    filled = card_mass + 2.5 * short * long * 1e-6 * grammage
    verdicts = tuple(
        _verdict(row, short, long, thickness + 2 * paper, filled)
        for row in data.table("postal").values()
    )
    made = made_of is not None
    return Mail(envelope, (short, long), thickness + 2 * paper, filled, verdicts, made=made)


def _verdict(row: dict[str, Any], short: float, long: float, thick: float, grams: float) -> Verdict:
    """Judge a filled envelope by one row of the postal table."""
    against: list[str] = []
    remarks: list[str] = []
    low, high = row.get("min", (0.0, 0.0)), row.get("max", (1e9, 1e9))
    if short < low[0] - _SLACK or long < low[1] - _SLACK:
        against.append(f"smaller than {low[0]:.0f} x {low[1]:.0f} mm")
    if short > high[0] + _SLACK or long > high[1] + _SLACK:
        against.append(f"larger than {high[0]:.0f} x {high[1]:.0f} mm")
    thinnest, thickest = row.get("thickness", (0.0, 1e9))
    if not thinnest - _SLACK <= thick <= thickest + _SLACK:
        against.append(f"{thick:.1f} mm thick, limit {thickest:.1f} mm")
    if grams > row["weight"]:
        against.append(f"{grams:.0f} g, limit {row['weight']:.0f} g")
    if short + long + thick > row.get("sum", 1e9):
        against.append(f"length, width and depth over {row['sum']:.0f} mm together")
    least, most = row.get("ratio", (0.0, 1e9))
    if not least - _SLACK <= long / short <= most + _SLACK:
        words = f"{long / short:.2f} times as long as high, asked for {least:g}"
        words += f" to {most:g}" if most < 1e9 else " or more"
        beyond = row.get("beyond_ratio")
        (remarks if beyond else against).append(f"{words}; {beyond}" if beyond else words)
    if "uneven" in row:
        remarks.append(row["uneven"])
    return Verdict(
        operator=row["operator"],
        service=row["title"],
        taken=not against,
        reasons=tuple(against),
        remarks=tuple(remarks),
        source=row["source"],
        year=row["year"],
    )
