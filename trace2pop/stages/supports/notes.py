"""What the maker may want to know about the beams that were chosen."""

from collections.abc import Sequence

import numpy as np
import shapely

from trace2pop.model.card import STIFFENER, HandPart, Sag
from trace2pop.model.finding import Finding
from trace2pop.units import place

_SPECK = 4.0
"""A part smaller than this, in mm2, isn't worth telling of."""


def on_sag(sag: Sag) -> tuple[Finding, ...]:
    """Return a finding for each end that stands out free."""
    return tuple(
        Finding(
            rule="free-end",
            severity="warning",
            where=place(*end.at),
            measured=round(end.sag, 2),
            limit=sag.limit,
            advice=(
                "No beam has room near this end of the motif, or none beside the others, so it "
                "stands out free: it droops "
                f"{end.sag / sag.handling_load:.2f} mm by its own weight, {end.sag:.1f} mm when "
                "handled. Glue a strip of the same paper behind it, or choose heavier paper "
                "(--motif-stock), narrower flanges (--flanges), or make it wider."
            ),
        )
        for end in sag.free
    )


def on_wires(parts: Sequence[HandPart], sag: Sag) -> tuple[Finding, ...]:
    """Return a finding for each wire that stiffens a limb."""
    return tuple(
        Finding(
            rule="stiffened",
            severity="warning",
            where=f"hand part {part.id}",
            measured=round(part.cut_length, 1),
            limit=None,
            advice=(
                "No beam has room near this end of the motif, and by its own weight it would droop "
                f"more than {sag.limit:.2f} mm. Glue {part.cut_length:.0f} mm of steel wire, "
                f"{part.diameter:.1f} mm thick, along its back, where the template shows it; the "
                "motif is cut as it was drawn. Copper and aluminium wire are too soft. For no "
                "wire: heavier paper for the motif (--motif-stock), or --stiffen never."
            ),
        )
        for part in parts
        if part.kind == STIFFENER
    )


def on_crease_held(stiff: shapely.Geometry, sag: Sag) -> tuple[Finding, ...]:
    """Return a finding for each part ``stiff`` that only the crease holds."""
    found = []
    for piece in shapely.get_parts(stiff):
        within = shapely.dwithin(piece, shapely.points(sag.points), 1e-3)
        if piece.area < _SPECK or not within.any():
            continue
        own = float(np.abs(sag.depth[within]).max()) / sag.handling_load
        left, top, right, foot = piece.bounds
        found.append(
            Finding(
                rule="crease-held",
                severity="warning",
                where=place(*map(float, piece.representative_point().coords[0])),
                measured=round(own, 2),
                limit=sag.limit,
                advice=(
                    f"A part of the motif {right - left:.0f} x {foot - top:.0f} mm large hangs on "
                    "the crease alone: no beam has room under it. The fold's stiffness lets it "
                    f"droop {own:.2f} mm by its own weight. Crease it lightly there and flatten "
                    "it again; or draw it wider, or take it off."
                ),
            )
        )
    return tuple(found)
