"""Edges so rough that a blade would follow every crumb of the crayon."""

import shapely

from trace2pop.geometry import beziers
from trace2pop.model.finding import Finding
from trace2pop.model.outline import Outline

_CURVES_PER_MM = 2.0
"""Common practice: drawn edges take one curve in two or more millimetres, crayon four in one."""

_LEAST = 200
"""Curves below which no motif is tiresome to cut."""


def ragged_edge(outline: Outline) -> tuple[Finding, ...]:
    """Return what to say of an outer edge with many more curves than its length needs."""
    curves = len(outline.outer)
    around = float(shapely.LinearRing(beziers.flatten(outline.outer)).length)
    if curves < max(_LEAST, _CURVES_PER_MM * around):
        return ()
    return (
        Finding(
            "ragged-edge",
            "warning",
            "the outline",
            round(curves / around, 2),
            _CURVES_PER_MM,
            f"the edge is ragged: {curves} curves in {around:.0f} mm, so a blade stops and turns "
            "at every crumb; --tolerance 0.3mm smooths it, --offset 1mm cuts a margin round it",
        ),
    )
