"""Every flat piece of the card, in the order of making."""

from trace2pop.model.card import CardPlan
from trace2pop.model.pieces import Part, Parts
from trace2pop.model.settings import PieceSettings
from trace2pop.model.stock import Cutter, Stocks
from trace2pop.stages.parts.base import base_part
from trace2pop.stages.parts.beam import beam_part
from trace2pop.stages.parts.gauge import gauge_part
from trace2pop.stages.parts.mockup import mockup_base, mockup_layer
from trace2pop.stages.parts.motif import motif_part
from trace2pop.stages.parts.outer import outer_part, spine_width

ALONG_CREASE = 90.0
ALONG_FOLDS = 0.0


def parts(
    plan: CardPlan,
    stocks: Stocks,
    cutter: Cutter,
    settings: PieceSettings | None = None,
    *,
    printed: bool = True,
) -> Parts:
    """Return the pieces of a planned card. ``printed`` says that the motif is printed artwork.

    Raises:
        SheetError: where a piece that must stay whole is larger than the cutter's sheet.
        SupportError: where a beam can't be drawn as planned.
    """
    settings = settings or PieceSettings()
    card, cut = plan.cut.placed.card, plan.cut
    spine = spine_width(plan.closed, stocks["outer"], settings.spine_form)
    radius = settings.corner_radius
    made: list[Part] = [
        motif_part(cut, stocks["motif"], ALONG_CREASE, printed=printed),
        base_part(card, plan.beams, stocks["base"], ALONG_CREASE, radius),
        *(beam_part(beam, card, stocks["beam"], ALONG_FOLDS) for beam in plan.beams),
        outer_part(card, spine, stocks["outer"], ALONG_CREASE, radius),
        gauge_part(cut, stocks["gauge"], ALONG_CREASE),
        mockup_base(card, plan.beams, stocks["mockup"], ALONG_CREASE, settings.ruling),
        mockup_layer(card, stocks["mockup"], ALONG_CREASE, settings.ruling),
    ]
    return Parts(plan, tuple(made))
