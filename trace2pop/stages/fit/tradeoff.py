"""The trade: the higher the motif floats, the smaller it must be."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from trace2pop.errors import FitError
from trace2pop.mechanism.sizes import with_rise
from trace2pop.model.artwork import Motif
from trace2pop.model.card import Card, PlacedMotif
from trace2pop.model.settings import FragileSettings, MotifSettings, SupportSettings
from trace2pop.stages.fit.stage import fit


@dataclass(frozen=True, eq=False)
class TradeRow:
    """The largest motif at one rise; ``placed`` is None where none fits, and ``why`` says why."""

    rise: float
    window: tuple[float, float] | None
    placed: PlacedMotif | None
    why: str


def trade_off(
    motif: Motif,
    card: Card,
    rises: Iterable[float],
    settings: MotifSettings,
    supports: SupportSettings,
    fragile: FragileSettings,
) -> tuple[TradeRow, ...]:
    """Return the largest ``motif`` on ``card`` at each rise; a size asked for is ignored."""
    free = replace(settings, width=None, height=None, scale=None)
    rows = []
    for rise in rises:
        lifted = with_rise(card, rise)
        window = lifted.window if lifted.reach > 0 else None
        placed, why = None, "the rise leaves no window"
        if window is not None:
            try:
                placed, why = fit(motif, lifted, free, supports, fragile), ""
            except FitError as error:
                why = str(error)
        rows.append(TradeRow(rise, window, placed, why))
    return tuple(rows)
