"""Every flat piece of the card, in the order of making."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from functools import partial

from trace2pop.mechanism.keys import with_shoulders
from trace2pop.mechanism.marks import numbers, sharing
from trace2pop.model.card import Beam, Card, CardPlan
from trace2pop.model.pieces import Mockup, Part, Parts
from trace2pop.model.settings import PieceSettings, SupportSettings
from trace2pop.model.stock import Cutter, Stock, Stocks
from trace2pop.stages.parts.base import base_part
from trace2pop.stages.parts.beam import beam_part
from trace2pop.stages.parts.extras import adhesive_parts, envelope_part, liner_part
from trace2pop.stages.parts.gauge import gauge_part
from trace2pop.stages.parts.halves import joint_of_base
from trace2pop.stages.parts.island import island_part
from trace2pop.stages.parts.mockup import layer_joint, mockup_base, mockup_layer, trial_beams
from trace2pop.stages.parts.motif import motif_part
from trace2pop.stages.parts.outer import outer_joint, outer_part, spine_width
from trace2pop.stages.parts.room import Room
from trace2pop.stages.parts.scores import with_scores
from trace2pop.stages.parts.window import window_box

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
    card, cut, room = plan.cut.placed.card, plan.cut, Room(cutter)
    keyed = with_shoulders(plan.beams, card) if settings.keyed else sharing(plan.beams)
    plan = replace(plan, beams=keyed)
    radius = settings.corner_radius
    made = [
        room.whole(partial(motif_part, cut, stocks["motif"], printed=printed), ALONG_CREASE),
        *(
            room.whole(partial(island_part, one, stocks["motif"], printed=printed), ALONG_CREASE)
            for one in cut.islands
        ),
        *room.or_halves(
            partial(base_part, card, plan.beams, stocks["base"], radius, cutter.min_feature),
            ALONG_CREASE,
            partial(joint_of_base, card.height, plan.beams),
        ),
    ]
    made += _beams(plan.beams, card, stocks["beam"], room)
    size = settings.cover_window
    window = window_box(card, plan.beams, size, radius) if size else None
    spine = spine_width(plan.closed, stocks["outer"], settings.spine_form)
    made += room.or_halves(
        partial(outer_part, card, spine, stocks["outer"], radius, window),
        ALONG_CREASE,
        partial(outer_joint, card, spine),
    )
    made.append(
        room.whole(partial(gauge_part, cut, stocks["gauge"], cutter.min_feature), ALONG_CREASE)
    )
    made += _on_request(plan, stocks, settings, room)
    made += _mockup(card, plan.beams, stocks, settings.ruling, room)
    styled = tuple(with_scores(part, settings) for part in made)
    return Parts(plan, styled, tuple(room.findings))


def _on_request(plan: CardPlan, stocks: Stocks, settings: PieceSettings, room: Room) -> list[Part]:
    card, made = plan.cut.placed.card, []
    if settings.adhesive_shapes:
        shapes, found = adhesive_parts(plan.beams, room.cutter.min_feature)
        made += shapes
        room.findings += found
    if settings.liner:
        made.append(room.whole(partial(liner_part, card, stocks["outer"]), ALONG_CREASE))
    if settings.envelope == "make":
        draw = partial(envelope_part, card, plan.closed.thickness, stocks["outer"])
        made.append(room.whole(draw, ALONG_CREASE))
    return made


def mockup(
    card: Card,
    stocks: Stocks,
    cutter: Cutter,
    settings: PieceSettings | None = None,
    supports: SupportSettings | None = None,
) -> Mockup:
    """Return the white mock-up of a card before there is a motif, with three trial beams.

    Raises:
        SheetError: where a half of it is larger than the cutter's sheet.
        SupportError: where the card is too small for the beams.
    """
    settings, supports = settings or PieceSettings(), supports or SupportSettings()
    beams, room = trial_beams(card, supports, stocks["beam"].thickness), Room(cutter)
    made = _mockup(card, beams, stocks, settings.ruling, room)
    made += [replace(part, set="mockup") for part in _beams(beams, card, stocks["mockup"], room)]
    styled = tuple(with_scores(part, settings) for part in made)
    return Mockup(card, beams, styled, tuple(room.findings))


def _beams(beams: Sequence[Beam], card: Card, stock: Stock, room: Room) -> list[Part]:
    """Return one piece for each different beam, with how many there are of it."""
    counts = Counter(beam.part for beam in beams)
    first = {beam.part: beam for beam in reversed(beams)}
    return [
        replace(
            room.whole(
                partial(beam_part, first[part], number, card, stock, room.cutter.min_feature),
                ALONG_FOLDS,
            ),
            quantity=counts[part],
        )
        for part, number in numbers(beams).items()
    ]


def _mockup(
    card: Card, beams: tuple[Beam, ...], stocks: Stocks, ruling: str, room: Room
) -> list[Part]:
    stock = stocks["mockup"]
    return [
        *room.or_halves(
            partial(mockup_base, card, beams, stock, ruling, room.cutter.min_feature),
            ALONG_CREASE,
            partial(joint_of_base, card.height, beams),
        ),
        *room.or_halves(
            partial(mockup_layer, card, stock, ruling), ALONG_CREASE, partial(layer_joint, card)
        ),
    ]
