"""The stages in order, and nothing else."""

import functools
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from trace2pop import data
from trace2pop.cache import Cache
from trace2pop.errors import SupportError, Trace2popError
from trace2pop.geometry.beziers import bounds
from trace2pop.holding import Holding
from trace2pop.mechanism.card import card_of
from trace2pop.mechanism.marks import numbered
from trace2pop.mechanism.proof import proved
from trace2pop.mechanism.sizes import LOWEST_RISE
from trace2pop.model.artwork import Artwork, Motif
from trace2pop.model.card import Card, CardPlan, CutMotif, PlacedMotif
from trace2pop.model.finding import Finding
from trace2pop.model.guide import Guide, Traded
from trace2pop.model.pieces import Sheet, Sheets
from trace2pop.model.settings import Settings, StockSettings, SupportSettings
from trace2pop.model.stock import Role, Stocks
from trace2pop.stages.cuttable import cuttable, minimum_width
from trace2pop.stages.fit import fit
from trace2pop.stages.guide import guide
from trace2pop.stages.parts import parts
from trace2pop.stages.sheets import mockup_pages, sheets
from trace2pop.stages.supports import SagError, supports

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
    cutter = data.cutter_of(settings.cutter)
    motif = traced(picture, settings, progress, cache)
    held = plan_that_holds(motif, settings, progress, cache)
    held = numbered(held, cutter.min_feature, keyed=settings.pieces.keyed)
    plan = proved(held, settings, stocks)
    printed = settings.motif.paper == "printed"
    pieces = parts(plan, stocks, cutter, settings.pieces, printed=printed)
    progress(pieces)
    laid = sheets(pieces, cutter, settings.cutter)
    progress(laid)
    others = at_other_rises(motif, plan, settings, cache) if settings.guide.trade else ()
    book = guide(laid, settings.guide, settings.stock.adhesive, others)
    return Made(laid, mockup_pages(pieces, settings.guide.paper), book, stocks)


def traced(
    picture: Path,
    settings: Settings,
    progress: Progress = lambda _: None,
    cache: Cache | None = None,
) -> Motif:
    """Return the motif in a picture: the first two stages.

    A card made again needs neither, and they are slow to import: only where they are used.
    """
    cache = cache or Cache()

    def captured() -> Artwork:
        from trace2pop.stages.capture import capture

        return capture(picture, settings.picture)

    artwork = cache.stage("capture", Artwork, (picture, settings.picture), captured)
    progress(artwork)
    width = settings.picture.drawn_width

    def outlined() -> Motif:
        from trace2pop.stages.trace import trace

        return trace(artwork, settings.trace, drawn_width=width)

    motif = cache.stage("trace", Motif, (artwork, settings.trace, width), outlined)
    progress(motif)
    return motif


def placed_on_card(motif: Motif, settings: Settings, cache: Cache | None = None) -> PlacedMotif:
    """Return the motif at its final size on the card."""
    stocks = stocks_of(settings.stock)
    cutter = data.cutter_of(settings.cutter)
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


def plan_that_holds(
    motif: Motif,
    settings: Settings,
    progress: Progress = lambda _: None,
    cache: Cache | None = None,
) -> CardPlan:
    """Return the plan of a motif at the largest size that closes, or a smaller one that holds.

    Raises:
        Trace2popError: where the size or the beams were asked for and don't hold, or no size does.
    """
    kept = cache or Cache()
    plan = Holding(
        settings,
        # The search asks for the same size again: for what holds there with other flanges.
        functools.cache(lambda chosen: placed_on_card(motif, chosen, kept)),
        lambda placed, chosen: plan_of(placed, chosen, kept),
    ).run()
    for value in (plan.cut.placed, plan.cut, plan):
        progress(value)
    return plan


def at_other_rises(
    motif: Motif, plan: CardPlan, settings: Settings, cache: Cache | None = None
) -> tuple[Traded, ...]:
    """Return the motif's size and beams at half, one and a half and twice the rise.

    Sizes and beams asked for are left aside: they were meant for this rise.
    """
    own = plan.cut.placed.card.rise
    free = replace(settings.motif, width=None, height=None, scale=None)
    beams = replace(settings.supports, beam=(), count=None, only_given=False)
    rows = []
    for rise in (max(LOWEST_RISE, round(own / 2)), round(1.5 * own), round(2.0 * own)):
        card = replace(settings.card, rise=float(rise))
        try:
            found = plan_that_holds(
                motif, replace(settings, motif=free, supports=beams, card=card), cache=cache
            )
        except Trace2popError:
            rows.append(Traded(float(rise), None))
        else:
            left, top, right, foot = bounds(found.cut.placed.outline.outer)
            rows.append(Traded(float(rise), (right - left, foot - top), len(found.beams)))
    return tuple(row for row in rows if row.rise != own)


def plan_of(placed: PlacedMotif, settings: Settings, cache: Cache | None = None) -> CardPlan:
    """Return the plan of a motif at its size: what comes off, and the beams."""
    cache = cache or Cache()
    stocks = stocks_of(settings.stock)
    cutter = data.cutter_of(settings.cutter)
    cut = cache.stage(
        "cuttable",
        CutMotif,
        (placed, settings.fragile, stocks["motif"], cutter),
        lambda: cuttable(placed, settings.fragile, stocks["motif"], cutter),
    )
    adhesive = settings.stock.adhesive
    found = cache.stage(
        "supports",
        _Outcome,
        (cut, settings.supports, stocks, adhesive),
        lambda: _supported(cut, settings.supports, stocks, adhesive),
    )
    if found.plan is not None:
        return found.plan
    if found.excess is not None:
        raise SagError(found.refusal, found.advice, found.excess, anywhere=found.anywhere)
    raise SupportError(found.refusal, found.advice)


@dataclass(frozen=True, eq=False)
class _Outcome:
    """What looking for beams came to. That there are none takes as long to find out."""

    plan: CardPlan | None
    refusal: str = ""
    advice: str = ""
    excess: float | None = None
    anywhere: bool = False


def _supported(
    cut: CutMotif, settings: SupportSettings, stocks: Stocks, adhesive: float
) -> _Outcome:
    try:
        return _Outcome(supports(cut, settings, stocks, adhesive))
    except SupportError as error:
        if isinstance(error, SagError):
            return _Outcome(None, str(error), error.advice, error.excess, error.anywhere)
        return _Outcome(None, str(error), error.advice)


def stocks_of(settings: StockSettings) -> Stocks:
    """Return the chosen paper of each kind of piece."""
    roles: tuple[Role, ...] = ("motif", "base", "beam", "outer", "mockup", "gauge")
    return {role: data.stock_of(getattr(settings, role), settings.paper) for role in roles}


def card_without_picture(settings: Settings) -> tuple[Card, Stocks]:
    """Return the card and its papers, for what can be made before there is a picture."""
    stocks = stocks_of(settings.stock)
    return card_of(settings.card, stocks["base"], settings.stock.adhesive), stocks
