"""The stages in order, and nothing else."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from trace2pop import data
from trace2pop.mechanism.card import card_of
from trace2pop.mechanism.proof import proved
from trace2pop.model.artwork import Motif
from trace2pop.model.card import Card, CardPlan, PlacedMotif
from trace2pop.model.finding import Finding
from trace2pop.model.guide import Guide
from trace2pop.model.pieces import Sheet, Sheets
from trace2pop.model.settings import Settings, StockSettings
from trace2pop.model.stock import Role, Stocks
from trace2pop.stages.capture import capture
from trace2pop.stages.cuttable import cuttable, minimum_width
from trace2pop.stages.fit import fit
from trace2pop.stages.guide import guide
from trace2pop.stages.parts import parts
from trace2pop.stages.sheets import mockup_pages, sheets
from trace2pop.stages.supports import supports
from trace2pop.stages.trace import trace

Progress = Callable[[object], None]
"""Called with the value each stage made, as soon as it is there."""


@dataclass(frozen=True, eq=False)
class Made:
    """A finished card, before it becomes files. Every earlier value hangs on the later ones."""

    sheets: Sheets
    mockup: tuple[Sheet, ...]
    guide: Guide
    stocks: Stocks

    @property
    def plan(self) -> CardPlan:
        """The card plan all pieces were made from."""
        return self.sheets.parts.plan

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All that was found, in the order of the stages."""
        plan = self.plan
        placed = plan.cut.placed
        stages = (placed.motif.artwork, placed.motif, placed, plan.cut, plan, self.sheets.parts)
        return tuple(finding for stage in (*stages, self.sheets) for finding in stage.findings)


def make_card(picture: Path, settings: Settings, progress: Progress = lambda _: None) -> Made:
    """Turn a picture into a card.

    Raises:
        Trace2popError: a subclass for each cause that stops the run; see ``errors``.
    """
    stocks = stocks_of(settings.stock)
    cutter = data.cutters()[settings.cutter.name]
    motif = traced(picture, settings, progress)
    card = card_of(settings.card, stocks["base"], settings.stock.adhesive)
    fragile = replace(
        settings.fragile, min_width=minimum_width(settings.fragile, stocks["motif"], cutter)
    )
    radius = settings.pieces.corner_radius
    placed = fit(motif, card, settings.motif, settings.supports, fragile, corner_radius=radius)
    progress(placed)
    plan = proved(plan_of(placed, settings, progress), settings, stocks)
    printed = settings.motif.paper == "printed"
    pieces = parts(plan, stocks, cutter, settings.pieces, printed=printed)
    progress(pieces)
    laid = sheets(pieces, cutter, settings.cutter)
    progress(laid)
    book = guide(laid, settings.guide, settings.stock.adhesive)
    return Made(laid, mockup_pages(pieces, settings.guide.paper), book, stocks)


def traced(picture: Path, settings: Settings, progress: Progress = lambda _: None) -> Motif:
    """Return the motif in a picture: the first two stages."""
    artwork = capture(picture, settings.picture)
    progress(artwork)
    motif = trace(artwork, settings.trace, drawn_width=settings.picture.drawn_width)
    progress(motif)
    return motif


def plan_of(
    placed: PlacedMotif, settings: Settings, progress: Progress = lambda _: None
) -> CardPlan:
    """Return the plan of a motif at its size: what comes off, and the beams."""
    stocks = stocks_of(settings.stock)
    cutter = data.cutters()[settings.cutter.name]
    cut = cuttable(placed, settings.fragile, stocks["motif"], cutter)
    progress(cut)
    plan = supports(cut, settings.supports, stocks, settings.stock.adhesive)
    progress(plan)
    return plan


def stocks_of(settings: StockSettings) -> Stocks:
    """Return the chosen paper of each kind of piece."""
    roles: tuple[Role, ...] = ("motif", "base", "beam", "outer", "mockup", "gauge")
    return {role: data.stocks()[getattr(settings, role)] for role in roles}


def card_without_picture(settings: Settings) -> tuple[Card, Stocks]:
    """Return the card and its papers, for what can be made before there is a picture."""
    stocks = stocks_of(settings.stock)
    return card_of(settings.card, stocks["base"], settings.stock.adhesive), stocks
