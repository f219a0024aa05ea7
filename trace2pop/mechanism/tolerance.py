"""What hands do to a card: the chance that something shows when it is closed.

The motif is laid folded on the folded beams and glued as the card closes, so what goes wrong there
shifts or turns both halves of the folded motif alike. In the frame of the closed card (x from the
spine, v down) a point at distance a from the motif's crease and t below its middle comes to

    x = web + fold + beam + a' cos(turn) - t' sin(turn)
    v = middle + beam' + a' sin(turn) + t' cos(turn)

where a' and t' hold the errors of scale, outline and crease; the base's edges have errors of their
own. Something shows where x or v pass an edge.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from trace2pop.limits import SHOWS_OFTEN
from trace2pop.mechanism.chances import any_positive
from trace2pop.model.card import Card, HandPart
from trace2pop.model.closing import Tolerance
from trace2pop.model.finding import Finding
from trace2pop.model.outline import FloatArray
from trace2pop.model.settings import HandsSettings

SAMPLES = 20_000
SEED = 20_011
_RARE = 0.01
_FAR = 1e4
_KINDS: tuple[Literal["fore", "head", "foot"], ...] = ("fore", "head", "foot")

ERRORS = {
    "beams placed sideways": ("beam", 1.0),
    "motif placed along the crease": ("beam", 1.0),
    "motif askew": ("turn", 1.0),
    "folds of the webs": ("fold", float(np.sqrt(2))),
    "crease of the base": ("fold", 1.0),
    "crease of the motif": ("fold", 1.0),
    "cut of the motif": ("cut", 1.0),
    "cut of the base, fore edges": ("cut", 1.0),
    "cut of the base, other fore edge": ("cut", 1.0),
    "cut of the base, head": ("cut", 1.0),
    "cut of the base, foot": ("cut", 1.0),
    "scale of the drawing": ("scale", 1.0),
}
"""Each independent error, the setting its size comes from, and how many of those it adds up to."""


@dataclass(frozen=True, eq=False)
class _Edge:
    """An edge of one half, and the motif's points (n,) that can be first to pass it.

    ``out`` is their distance from the crease, ``down`` their v below the motif's middle.
    """

    kind: Literal["fore", "head", "foot"]
    side: int
    out: FloatArray
    down: FloatArray


def tolerance_of(
    card: Card,
    motif: shapely.Geometry,
    hands: HandsSettings,
    hand_parts: Iterable[HandPart] = (),
    *,
    scale_sigma: float = 0.0,
) -> Tolerance:
    """Return the chance that something shows when closed, by a seeded Monte Carlo.

    ``hand_parts`` are those that don't bend. ``scale_sigma`` is the relative uncertainty (1 sigma)
    of the final size, where that hangs on the drawing's scale. The errors of ``hands`` are two
    sigma each, normal and independent. ``linear`` is the chance to first order, from above
    (``chances.any_positive``).
    """
    sigma = _sigmas(hands, scale_sigma)
    middle, edges = _edges(card, motif, list(hand_parts), sigma)
    drawn = np.random.default_rng(SEED).standard_normal((SAMPLES, len(sigma))) * sigma
    worst = np.max([_worst(card, middle, edge, drawn) for edge in edges], axis=0)
    none = np.zeros((1, len(sigma)))
    clearance = -max(float(_passed(card, middle, edge, none).max()) for edge in edges)
    linear, shares = _linear(card, middle, edges, sigma)
    return Tolerance(
        chance=float((worst > 0).mean()),
        linear=linear,
        dominant=max(shares, key=lambda row: row[1])[0],
        shares=shares,
        clearance=clearance,
        margin=max(0.0, clearance + float(np.quantile(worst, 1 - _RARE))),
        samples=SAMPLES,
        seed=SEED,
    )


def tolerance_finding(found: Tolerance) -> tuple[Finding, ...]:
    """Return a finding where something shows more often than 1 in 20."""
    if found.chance <= SHOWS_OFTEN.value:
        return ()
    return (
        Finding(
            rule="shows-when-closed",
            severity="warning",
            where="closed card",
            measured=round(found.chance, 4),
            limit=SHOWS_OFTEN.value,
            advice=(
                f"Worked with usual care, one card in {1 / found.chance:.0f} shows something past "
                f"its edge when closed; most of that comes from: {found.dominant}. With --margin "
                f"{np.ceil(found.margin * 10) / 10:.1f}mm it is one in a hundred."
            ),
        ),
    )


def _sigmas(hands: HandsSettings, scale_sigma: float) -> FloatArray:
    sizes = {
        "beam": hands.place / 2,
        "turn": np.radians(hands.askew) / 2,
        "fold": hands.fold / 2,
        "cut": hands.cut / 2,
        "scale": scale_sigma,
    }
    return np.array([sizes[name] * times for name, times in ERRORS.values()])


def _edges(
    card: Card, motif: shapely.Geometry, parts: Sequence[HandPart], sigma: FloatArray
) -> tuple[float, list[_Edge]]:
    """Return the middle of the motif's length, and the edges with the points near them."""
    wires = [
        shapely.LineString(line).buffer(part.diameter / 2)
        for part in parts
        for line in (part.path, *part.branches)
    ]
    whole = shapely.union_all([motif, *wires])
    _, head, _, foot = motif.bounds
    middle = (head + foot) / 2
    _, top, _, bottom = whole.bounds
    edges = []
    for side in (-1, 1):
        half = shapely.box(min(0, side * _FAR), top - 1, max(0, side * _FAR), bottom + 1)
        hull = whole.intersection(half).convex_hull
        if hull.geom_type != "Polygon":
            continue
        points = shapely.get_coordinates(hull.simplify(0.005))
        out, down = np.abs(points[:, 0]), points[:, 1] - middle
        edges += [_near(card, middle, _Edge(kind, side, out, down), sigma) for kind in _KINDS]
    return middle, edges


def _near(card: Card, middle: float, edge: _Edge, sigma: FloatArray) -> _Edge:
    """Return the edge with only those points that errors of 8 sigma could make the first."""
    values, change = _first_order(card, middle, edge, sigma)
    spread = np.sqrt((change**2).sum(axis=0))
    kept = values + 8 * spread >= values.max() - 1e-9
    return _Edge(edge.kind, edge.side, edge.out[kept], edge.down[kept])


def _passed(card: Card, middle: float, edge: _Edge, errors: FloatArray) -> FloatArray:
    """Return (samples, points): how far each point is past the edge; negative inside."""
    weights, past = _placing(card, middle, edge, errors)
    result: FloatArray = weights @ np.stack([edge.out, edge.down]) + past[:, None]
    return result


def _worst(card: Card, middle: float, edge: _Edge, errors: FloatArray) -> FloatArray:
    """Return (samples,): how far the first of all points is past the edge."""
    weights, past = _placing(card, middle, edge, errors)
    result: FloatArray = (weights @ np.stack([edge.out, edge.down])).max(axis=1) + past
    return result


def _placing(
    card: Card, middle: float, edge: _Edge, errors: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return what a point's ``out`` and ``down`` count (samples, 2), and how far 0, 0 is past."""
    beam, along, turn, fold, base, crease, cut, fore, other, head, foot, scale = errors.T
    cos, sin = np.cos(turn), np.sin(turn)
    if edge.kind == "fore":
        weights = np.stack([cos, -sin], axis=1) * (1 + scale)[:, None]
        own = fore if edge.side > 0 else other
        x = card.web + fold + beam + edge.side * crease * cos + cut
        return weights, x - (card.half_width + edge.side * base + own)
    weights = np.stack([sin, cos], axis=1) * (1 + scale)[:, None]
    v = middle + along + edge.side * crease * sin
    if edge.kind == "head":
        return -weights, cut + head - v
    return weights, cut + v - card.height - foot


def _first_order(
    card: Card, middle: float, edge: _Edge, sigma: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return each point's (n,) place past the edge, and (errors, n) its change by one sigma each.

    By central differences.
    """
    steps = np.vstack([np.zeros(len(sigma)), np.diag(sigma), -np.diag(sigma)])
    values = _passed(card, middle, edge, steps)
    up, down = values[1 : len(sigma) + 1], values[len(sigma) + 1 :]
    return values[0], (up - down) / 2


def _linear(
    card: Card, middle: float, edges: Sequence[_Edge], sigma: FloatArray
) -> tuple[float, tuple[tuple[str, float], ...]]:
    """Return the chance to first order, and each error's share of the variance at the worst edge.

    At each edge two points stand for all, the likeliest to pass it of those that a turn clockwise
    brings nearer and of those it takes away.
    """
    turn = list(ERRORS).index("motif askew")
    rows = []
    for edge in edges:
        values, change = _first_order(card, middle, edge, sigma)
        score = values / np.maximum(np.sqrt((change**2).sum(axis=0)), 1e-12)
        for group in (change[turn] >= 0, change[turn] < 0):
            if group.any():
                index = int(np.where(group, score, -np.inf).argmax())
                rows.append((score[index], values[index], change[:, index]))
    worst = max(rows, key=lambda row: row[0])[2]
    parts = worst**2 / max(float((worst**2).sum()), 1e-24)
    shares = tuple((name, float(part)) for name, part in zip(ERRORS, parts, strict=True))
    chance = any_positive(np.array([row[1] for row in rows]), np.array([row[2] for row in rows]))
    return chance, shares
