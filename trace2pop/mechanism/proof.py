"""What a finished plan is proved by, beyond its bending: that it stands, and that hands may err."""

from dataclasses import replace

from trace2pop.geometry import beziers
from trace2pop.limits import STANDS
from trace2pop.mechanism.springs import sway_of
from trace2pop.mechanism.tolerance import tolerance_finding, tolerance_of
from trace2pop.model.card import CardPlan
from trace2pop.model.closing import Sway
from trace2pop.model.finding import Finding
from trace2pop.model.settings import Settings
from trace2pop.model.stock import Stocks


def proved(plan: CardPlan, settings: Settings, stocks: Stocks) -> CardPlan:
    """Return the plan with its sway and tolerance, and what they find.

    The drawing's scale matters only where the maker asked for a multiple of the drawn size.
    """
    cut = plan.cut
    card = cut.placed.card
    motif = beziers.polygon(cut.outline)
    parts = [part for part in cut.hand_parts if part.choice == "hand"]
    known = cut.placed.motif.artwork.scale.uncertainty
    sway = sway_of(card, motif, plan.beams, stocks)
    tolerance = tolerance_of(
        card,
        motif,
        settings.hands,
        () if settings.fragile.bends else parts,
        scale_sigma=(known or 0.0) if settings.motif.scale is not None else 0.0,
    )
    findings = (*plan.findings, *_leaning(sway), *tolerance_finding(tolerance))
    return replace(plan, sway=sway, tolerance=tolerance, findings=findings)


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
                "stock, a lower --rise or more beams (--supports)."
            ),
        ),
    )
