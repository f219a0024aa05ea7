"""Folds as springs: what keeps the open layer upright, and the closed card from lying flat.

A scored fold is taken as an elastic hinge, as in Pradier et al., "An Experimental Study and Model
Determination of the Mechanical Stiffness of Paper Folds", J. Mech. Des. 138(4), 041401, 2016 (their
spring is nonlinear; one stiffness is enough for the small turns here). Its stiffness is written as
the sheet's bending stiffness over a length, ``limits.FOLD_LENGTH``: assumed.
"""

from collections.abc import Sequence

import numpy as np
import shapely

from trace2pop.limits import FOLD_LENGTH, FOLD_REST
from trace2pop.model.card import Beam, Card
from trace2pop.model.closing import Sway
from trace2pop.model.stock import Stock, Stocks

GRAVITY = 9.80665
"""m/s2, standard gravity."""

_FOLDS_PER_BEAM = 4
"""Two layers of web, each folded at its foot and at its top."""


def fold_stiffness(stock: Stock) -> float:
    """Return a fold's stiffness per mm of its length, in N mm per radian and mm.

    The grain's direction in a beam isn't known here: the mean of both moduli, as sqrt(E1 * E2).
    """
    modulus = 1000 * float(np.sqrt(stock.e_along * stock.e_across))
    bending = modulus * stock.thickness**3 / 12
    return bending / FOLD_LENGTH.value


def weight(area: float, stock: Stock) -> float:
    """Return the weight in N of ``area`` mm2 of paper."""
    return area * 1e-6 * stock.grammage * 1e-3 * GRAVITY


def sway_of(card: Card, motif: shapely.Geometry, beams: Sequence[Beam], stocks: Stocks) -> Sway:
    """Return what holds the open layer upright against tipping over sideways.

    Leaning by s turns every fold of every beam by s, so the folds restore with the sum of their
    stiffnesses; the motif's weight on top of webs of length w tips with m g w per radian.
    """
    folds = sum(_FOLDS_PER_BEAM * (beam.v1 - beam.v0) for beam in beams)
    stiffness = folds * fold_stiffness(stocks["beam"])
    tipping = weight(motif.area, stocks["motif"]) * card.web
    return Sway(
        stiffness=stiffness,
        tipping=tipping,
        ratio=stiffness / tipping,
        hung=card.web * tipping / stiffness,
    )


def resting_gap(
    card: Card,
    motif: shapely.Geometry,
    beams: Sequence[Beam],
    stocks: Stocks,
    *,
    spine: float,
    thickness: float,
) -> float:
    """Return how far the closed, unpressed card stands open at its fore edge, lying on a table.

    Every fold is taken to rest ``limits.FOLD_REST`` from where pressing left it. Opening by A turns
    the folds of base and motif and the single fold of an outer card by A, the two scores of a spine
    and the four folds of a beam by A/2 each; the upper half's weight closes. With C the stiffness
    of the folds that turn by A and B that of those that turn by A/2, the work of a small opening
    balances where

        rest * (C + B / 2) - weight * arm = A * (C + B / 4)

    Never less than the stack's own thickness.
    """
    rest = float(np.radians(FOLD_REST.value))
    slits = sum(beam.slit.v1 - beam.slit.v0 for beam in beams if beam.u == 0)
    crease = motif.intersection(shapely.LineString([(0, -1), (0, card.height + 1)])).length
    outer = card.outer.height * fold_stiffness(stocks["outer"])
    whole = crease * fold_stiffness(stocks["motif"])
    whole += (card.height - slits) * fold_stiffness(stocks["base"])
    halves = sum(beam.v1 - beam.v0 for beam in beams) * fold_stiffness(stocks["beam"])
    halves *= _FOLDS_PER_BEAM
    whole, halves = (whole, halves + 2 * outer) if spine else (whole + outer, halves)
    moment = rest * (whole + halves / 2) - _closing_moment(card, motif, stocks)
    opening = max(moment, 0.0) / (whole + halves / 4)
    return max(thickness, 2 * card.outer.width * float(np.sin(opening / 2)))


def _closing_moment(card: Card, motif: shapely.Geometry, stocks: Stocks) -> float:
    """Return the moment in N mm of the upper half's weight about the spine, lying level."""
    outer = weight(card.outer.width * card.outer.height, stocks["outer"]) * card.outer.width / 2
    base = weight(card.half_width * card.height, stocks["base"]) * card.half_width / 2
    right = motif.intersection(shapely.box(0, -1, card.half_width, card.height + 1))
    arm = right.centroid.x + card.web if right.area else 0.0
    return outer + base + weight(right.area, stocks["motif"]) * arm
