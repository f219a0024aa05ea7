"""What a finished plan is proved by, beyond its bending: it closes, it stands, hands may err."""

from collections.abc import Iterable
from dataclasses import replace

import shapely

from trace2pop.errors import CheckError
from trace2pop.geometry import beziers
from trace2pop.limits import STANDS
from trace2pop.mechanism.beam import flange_pair
from trace2pop.mechanism.closing import FlatBeam, FlatCard, Papers, closing
from trace2pop.mechanism.mail import mail_of, mass
from trace2pop.mechanism.springs import sway_of
from trace2pop.mechanism.tolerance import tolerance_finding, tolerance_of
from trace2pop.mechanism.wire import grams
from trace2pop.model.card import STIFFENER, CardPlan
from trace2pop.model.closing import Closing, Mail, Proof, Sway
from trace2pop.model.finding import Finding
from trace2pop.model.settings import Settings
from trace2pop.model.stock import Stock, Stocks


def proved(plan: CardPlan, settings: Settings, stocks: Stocks) -> CardPlan:
    """Return the plan with its proof, and what that finds.

    The drawing's scale matters to hands only where the maker asked for a multiple of the drawn
    size.

    Raises:
        CheckError: where the plan doesn't close. Its pieces are checked again once they are
            written.
    """
    cut = plan.cut
    card = cut.placed.card
    motif = beziers.polygon(cut.outline)
    parts = [part for part in cut.hand_parts if part.choice == "hand"]
    known = cut.placed.motif.artwork.scale.uncertainty
    proof = Proof(
        closing=_closes(plan, motif, stocks, settings.stock.adhesive),
        sway=sway_of(card, motif, plan.beams, stocks),
        tolerance=tolerance_of(
            card,
            motif,
            settings.hands,
            () if settings.fragile.bends else parts,
            scale_sigma=(known or 0.0) if settings.motif.scale is not None else 0.0,
        ),
        mail=mail_of(
            card.outer.width,
            card.outer.height,
            plan.closed.thickness,
            _mass(plan, motif, stocks),
            stocks["outer"] if settings.pieces.envelope == "make" else None,
        ),
    )
    found = (*_leaning(proof.sway), *tolerance_finding(proof.tolerance), *_thick(proof.mail))
    return replace(plan, proof=proof, findings=(*plan.findings, *found))


def _closes(plan: CardPlan, motif: shapely.Polygon, stocks: Stocks, adhesive: float) -> Closing:
    card = plan.cut.placed.card
    flat = FlatCard(
        base=shapely.box(-card.half_width, 0, card.half_width, card.height),
        motif=motif,
        beams=tuple(
            FlatBeam(b.part, b.u, b.v0, b.v1, card.web, b.flange, b.taper_deg) for b in plan.beams
        ),
        papers=Papers(
            stocks["base"].thickness, stocks["motif"].thickness, stocks["beam"].thickness, adhesive
        ),
        margin=card.margin,
    )
    found = closing(flat)
    if found.faults:
        fault = found.faults[0]
        raise CheckError(
            f"the planned card doesn't close: {fault.where}, {fault.kind} {fault.measured:.2f} "
            f"where {fault.limit:.2f} is the limit",
            "please report it, with the picture and card.toml; another --rise or --card may do",
        )
    return found


def _mass(plan: CardPlan, motif: shapely.Polygon, stocks: Stocks) -> float:
    """Return the finished card's mass in g: outer card, base, motif and beams, wires behind it."""
    card, spine = plan.cut.placed.card, plan.closed.spine

    def pieces() -> Iterable[tuple[float, Stock]]:
        yield (2 * card.outer.width + spine) * card.outer.height, stocks["outer"]
        yield 2 * card.half_width * card.height, stocks["base"]
        yield motif.area, stocks["motif"]
        for beam in plan.beams:
            web = card.web * (beam.v1 - beam.v0)
            flanges = flange_pair(beam.u, beam.v0, beam.v1, beam.flange, beam.taper_deg).area
            yield 2 * web + 2 * flanges, stocks["beam"]

    wires = [part for part in plan.cut.hand_parts if part.kind == STIFFENER]
    return mass(pieces()) + sum(grams(part.diameter, part.cut_length) for part in wires)


def _leaning(sway: Sway) -> tuple[Finding, ...]:
    if sway.ratio >= STANDS.value:
        return ()
    return (
        Finding(
            rule="layer-leans",
            severity="warning",
            where="beams",
            measured=round(sway.ratio, 1),
            limit=STANDS.value,
            advice=(
                "The folds of the beams hold the floating layer upright only "
                f"{sway.ratio:.1f} times as strongly as its weight tips it over. Use heavier beam "
                "stock or a lower --rise."
            ),
        ),
    )


def _thick(mail: Mail) -> tuple[Finding, ...]:
    """Say so where no post in the table takes the card as a letter for being thick."""
    letters = [row for row in mail.verdicts if row.service == "letter"]
    thick = [row for row in letters if any("thick" in reason for reason in row.reasons)]
    if len(thick) < len(letters):
        return ()
    reasons = "; ".join(f"{row.operator}: {', '.join(row.reasons)}" for row in thick)
    return (
        Finding(
            rule="thick-for-a-letter",
            severity="note",
            where="closed card",
            measured=round(mail.thickness, 1),
            limit=None,
            advice=(
                f"In its envelope the card is {mail.thickness:.1f} mm thick, too thick to go as a "
                f"letter ({reasons}). It goes as a larger item; ask at the counter. Thinner "
                "papers, or beams that don't meet when closed, make it thinner."
            ),
        ),
    )
