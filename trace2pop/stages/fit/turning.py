"""The turn that lets the motif grow most."""

import numpy as np
import shapely

from trace2pop.geometry import beziers
from trace2pop.model.artwork import Motif
from trace2pop.model.card import Card
from trace2pop.model.outline import FloatArray
from trace2pop.model.settings import FragileSettings
from trace2pop.stages.fit.crease import CentreBeam
from trace2pop.stages.fit.feelers import counts_body_only
from trace2pop.stages.fit.size import largest
from trace2pop.stages.fit.upright import rotation, turned

_STEP_DEG = 0.25
_COARSE_DEG = 5.0
_GAIN = 1e-4
"""A turn must let the motif grow by this share to be taken before a smaller turn."""


def best_turn(motif: Motif, card: Card, beam: CentreBeam, fragile: FragileSettings) -> float:
    """Return the turn from -90 to 90 degrees that allows the largest motif.

    The bare box bounds the size at every turn. Its peaks, and turns every 5 degrees, are tried with
    their centre beam from the highest bound down, until no bound left beats the best size found. Of
    nearly equal turns the smallest wins.
    """
    hull = np.asarray(
        shapely.convex_hull(shapely.Polygon(beziers.flatten(motif.outline.outer))).exterior.coords
    )
    tries = np.unique(np.concatenate([_peaks(hull, card), np.arange(-90, 90, _COARSE_DEG)]))
    bounds = _bare(hull, tries, card)
    best, chosen = 0.0, 0.0
    for index in np.lexsort((np.abs(tries), -np.round(bounds, 6))):
        if bounds[index] <= best * (1 + _GAIN) and not counts_body_only(fragile):
            break
        turn = float(tries[index])
        found = largest(turned(motif, turn, card, fragile), card, beam)
        if found.spans and found.scale > best * (1 + _GAIN):
            best, chosen = found.scale, turn
    return chosen


def _bare(hull: FloatArray, turns_deg: FloatArray, card: Card) -> FloatArray:
    """Return the largest scale of the bare box at each turn, crease in its middle."""
    turned_hulls = np.stack([hull @ rotation(float(turn)).T for turn in turns_deg])
    sizes = np.ptp(turned_hulls, axis=1)
    scales: FloatArray = np.minimum(2 * card.reach / sizes[:, 0], card.window[1] / sizes[:, 1])
    return scales


def _peaks(hull: FloatArray, card: Card) -> FloatArray:
    """Return the turns at which the bare box's scale peaks, to 1e-6 degrees."""
    turns = np.arange(-90, 90, _STEP_DEG)
    scales = _bare(hull, turns, card)
    peak = (scales >= np.roll(scales, 1)) & (scales >= np.roll(scales, -1))
    low, high = turns[peak] - _STEP_DEG, turns[peak] + _STEP_DEG
    golden = (np.sqrt(5) - 1) / 2
    for _ in range(40):
        left, right = high - golden * (high - low), low + golden * (high - low)
        up = _bare(hull, left, card) < _bare(hull, right, card)
        low, high = np.where(up, left, low), np.where(up, high, right)
    result: FloatArray = np.round((low + high) / 2, 6)
    return result
