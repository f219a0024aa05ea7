"""The stages in order, and nothing else."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from trace2pop import data
from trace2pop.cache import Cache
from trace2pop.mechanism.card import card_of
from trace2pop.mechanism.proof import proved
from trace2pop.model.artwork import Artwork, Motif
from trace2pop.model.card import Card, CardPlan, CutMotif, PlacedMotif
from trace2pop.model.finding import Finding
from trace2pop.model.guide import Guide
from trace2pop.model.pieces import Sheet, Sheets
from trace2pop.model.settings import Settings, StockSettings, SupportSettings
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


def make_card(
    picture: Path,
    settings: Settings,
    progress: Progress = lambda _: None,
    cache: Cache | None = None,
) -> Made:
    """Turn a picture into a card. Stages that ``cache`` kept for the same inputs come from there.

    Raises:
        Trace2popError: a subclass for each cause that stops the run; see ``errors``.
    """
    cache = cache or Cache()
    stocks = stocks_of(settings.stock)
    cutter = data.cutters()[settings.cutter.name]
    motif = traced(picture, settings, progress, cache)
    placed = placed_on_card(motif, settings, cache)
    progress(placed)
    plan = proved(plan_of(placed, settings, progress, cache), settings, stocks)
    printed = settings.motif.paper == "printed"
    pieces = parts(plan, stocks, cutter, settings.pieces, printed=printed)
    progress(pieces)
    laid = sheets(pieces, cutter, settings.cutter)
    progress(laid)
    book = guide(laid, settings.guide, settings.stock.adhesive)
    return Made(laid, mockup_pages(pieces, settings.guide.paper), book, stocks)


def traced(
    picture: Path,
    settings: Settings,
    progress: Progress = lambda _: None,
    cache: Cache | None = None,
) -> Motif:
    """Return the motif in a picture: the first two stages."""
    cache = cache or Cache()
    artwork = cache.stage(
        "capture", Artwork, (picture, settings.picture), lambda: capture(picture, settings.picture)
    )
    progress(artwork)
    width = settings.picture.drawn_width
    motif = cache.stage(
        "trace",
        Motif,
        (artwork, settings.trace, width),
        lambda: trace(artwork, settings.trace, drawn_width=width),
    )
    progress(motif)
    return motif


def placed_on_card(motif: Motif, settings: Settings, cache: Cache | None = None) -> PlacedMotif:
    """Return the motif at its final size on the card."""
    stocks = stocks_of(settings.stock)
    cutter = data.cutters()[settings.cutter.name]
    card = card_of(settings.card, stocks["base"], settings.stock.adhesive)
    least = minimum_width(settings.fragile, stocks["motif"], cutter)
    fragile = replace(settings.fragile, min_width=least)
    radius = settings.pieces.corner_radius
    # For the size counts what beams are like, not where single ones are put or what they hold.
    given = settings.supports
    beams = SupportSettings(
        inset=given.inset,
        flanges=given.flanges,
        taper=given.taper,
        slit_clearance=given.slit_clearance,
    )
    return (cache or Cache()).stage(
        "fit",
        PlacedMotif,
        (motif, card, settings.motif, beams, fragile, radius),
        lambda: fit(motif, card, settings.motif, beams, fragile, corner_radius=radius),
    )


def plan_of(
    placed: PlacedMotif,
    settings: Settings,
    progress: Progress = lambda _: None,
    cache: Cache | None = None,
) -> CardPlan:
    """Return the plan of a motif at its size: what comes off, and the beams."""
    cache = cache or Cache()
    stocks = stocks_of(settings.stock)
    cutter = data.cutters()[settings.cutter.name]
    cut = cache.stage(
        "cuttable",
        CutMotif,
        (placed, settings.fragile, stocks["motif"], cutter),
        lambda: cuttable(placed, settings.fragile, stocks["motif"], cutter),
    )
    progress(cut)
    adhesive = settings.stock.adhesive
    plan = cache.stage(
        "supports",
        CardPlan,
        (cut, settings.supports, stocks, adhesive),
        lambda: supports(cut, settings.supports, stocks, adhesive),
    )
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
