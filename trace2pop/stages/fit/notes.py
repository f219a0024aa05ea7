"""What the maker may want to know about the size that was found."""

from trace2pop.model.artwork import Motif
from trace2pop.model.card import Card
from trace2pop.model.finding import Finding
from trace2pop.model.settings import FragileSettings
from trace2pop.stages.fit.feelers import counts_body_only
from trace2pop.stages.fit.size import Upright
from trace2pop.stages.fit.upright import body_only

_SQUARE_DEG = 10.0
_OFF_MIDDLE, _BENDING = 1.01, 1.05
"""Gains in size from which on each note is worth reading."""


def on_axis(motif: Motif, upright: Upright) -> tuple[Finding, ...]:
    """Say so where the motif is symmetric, but lies on its side."""
    axis = motif.axis
    if axis is None or not axis.lies or upright.axis is not None:
        return ()
    tilt = 90 if abs(axis.tilt_deg - 90) < _SQUARE_DEG else round(axis.tilt_deg)
    return (
        Finding(
            rule="axis-across",
            severity="warning",
            where="motif",
            measured=round(axis.tilt_deg, 1),
            limit=None,
            advice=(
                "The motif is symmetric, but the line its halves mirror each other at lies across "
                f"the picture. If it was drawn or photographed sideways, say --turn {180 - tilt} "
                f"or --turn {-tilt}: then the crease lies on that line."
            ),
        ),
    )


def on_size(
    upright: Upright, card: Card, scale: float, fragile: FragileSettings
) -> tuple[Finding, ...]:
    """Return what keeps the motif smaller than it could be."""
    return (*_crease_off_middle(upright, card, scale), *_feelers(upright, card, scale, fragile))


def _crease_off_middle(upright: Upright, card: Card, scale: float) -> tuple[Finding, ...]:
    alone = upright.box.largest(upright.box.middle, card)
    if upright.axis is not None or alone < scale * _OFF_MIDDLE:
        return ()
    width, could = scale * upright.box.width, alone * upright.box.width
    return (
        Finding(
            rule="crease-off-middle",
            severity="note",
            where="crease",
            measured=round(width, 1),
            limit=round(could, 1),
            advice=(
                "The middle of the motif has too little solid paper for the beam on the crease, so "
                f"the crease lies off the middle and the motif is {width:.0f} mm wide instead of "
                f"{could:.0f} mm. Narrower flanges (--flanges) or a smaller --inset may gain some "
                "of it back."
            ),
        ),
    )


def _feelers(
    upright: Upright, card: Card, scale: float, fragile: FragileSettings
) -> tuple[Finding, ...]:
    """Say so where feelers that will be added by hand are what keeps the motif small."""
    if counts_body_only(fragile) or fragile.spurs != "hand":
        return ()
    could = body_only(upright, card, fragile, rough=True).box.most
    if could < scale * _BENDING:
        return ()
    return (
        Finding(
            rule="feelers-set-the-size",
            severity="note",
            where="motif",
            measured=round(scale * upright.whole.width, 1),
            limit=round(could * upright.whole.width, 1),
            advice=(
                "Thin parts that are added by hand reach the edge of the window first. If they may "
                "bend when the card closes, --bends allows a motif up to "
                f"{100 * (could / scale - 1):.0f} % larger."
            ),
        ),
    )
