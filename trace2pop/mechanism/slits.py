"""A beam's slit in the base, and what the base's paper asks of slits."""

from trace2pop import limits
from trace2pop.model.card import Slit
from trace2pop.model.stock import Stock


def slit_margin(height: float) -> float:
    """Return the solid paper a base keeps at head and foot."""
    return max(limits.SLIT_EDGE.value, limits.SLIT_EDGE_SHARE.value * height)


def slit_for(v0: float, v1: float, clearance: float, beam: Stock) -> Slit:
    """Return the slit of a beam whose fold line runs from ``v0`` to ``v1``.

    A plain cut opens far enough for thin paper; a thick doubled web gets a slot.
    """
    doubled = 2 * beam.thickness
    slot = doubled > limits.SLOT_FROM.value
    width = doubled + limits.SLOT_CLEARANCE.value if slot else 0.0
    return Slit(v0 - clearance / 2, v1 + clearance / 2, width)
