"""The largest motif that closes inside the card, and the crease it folds on."""

from dataclasses import dataclass

import numpy as np

from trace2pop.errors import FitError
from trace2pop.geometry import beziers
from trace2pop.model.artwork import Motif
from trace2pop.model.card import Card, Edge, PlacedMotif
from trace2pop.model.outline import FloatArray, Outline
from trace2pop.model.settings import FragileSettings, MotifSettings, SupportSettings
from trace2pop.stages.fit.crease import CentreBeam, centre_beam, solid_run

_STEPS = 241
_SAME = 1e-6
"""Relative difference below which two sizes count as one."""


@dataclass(frozen=True)
class Upright:
    """The motif turned as it will lie, in drawn mm: its box, outline and fixed crease, if any."""

    box: tuple[float, float, float, float]
    outline: Outline
    axis: float | None

    def largest(self, crease: float, card: Card) -> float:
        """Return the largest scale at which the box closes with the crease at ``crease``.

        Closed form: the reach of each side and the window's height each bound the scale.
        """
        x0, y0, x1, y1 = self.box
        return min(
            card.reach / max(crease - x0, 1e-9),
            card.reach / max(x1 - crease, 1e-9),
            card.window[1] / (y1 - y0),
        )


def fit(
    motif: Motif,
    card: Card,
    settings: MotifSettings,
    supports: SupportSettings,
    fragile: FragileSettings,
) -> PlacedMotif:
    """Return the motif at the largest size that closes, or at the size asked for.

    Raises:
        FitError: where no size has room for the beam on the crease, or the size asked for sticks
            out.
    """
    del fragile
    turn, upright = _upright(motif, settings.turn)
    beam = centre_beam(supports.flanges, supports.inset, supports.taper)
    asked = _asked_scale(settings, upright)
    if asked is None:
        crease, scale = _largest(upright, card, beam)
        limited = _limits(upright, crease, scale, card)
    else:
        crease, scale, limited = _at(upright, card, beam, asked), asked, ()
    _, head, _, foot = upright.box
    middle = (head + foot) / 2
    shift = np.array([-scale * crease, card.height / 2 - scale * middle])
    to_card = np.column_stack([scale * _rotation(turn), shift])
    return PlacedMotif(
        motif=motif,
        card=card,
        scale=scale,
        turn_deg=turn,
        to_card=to_card,
        outline=beziers.transform_outline(motif.outline, to_card),
        symmetric=upright.axis is not None,
        limited_by=limited,
    )


def _rotation(turn_deg: float) -> FloatArray:
    """Return the matrix of a turn clockwise as seen (y runs down)."""
    angle = np.radians(turn_deg)
    return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])


def _upright(motif: Motif, turn: float) -> tuple[float, Upright]:
    """Return the turn in force, with the drawing's tilt taken out, and the motif so turned."""
    axis = motif.axis
    tilt = axis.tilt_deg if axis else 0.0
    along = axis is not None and abs(np.sin(np.radians(turn))) < _SAME
    total = turn - tilt
    rotation = _rotation(total)
    outline = beziers.transform_outline(motif.outline, np.column_stack([rotation, [0.0, 0.0]]))
    crease = float((rotation @ np.array(axis.point))[0]) if axis and along else None
    return total, Upright(beziers.bounds(outline.outer), outline, crease)


def _asked_scale(settings: MotifSettings, upright: Upright) -> float | None:
    x0, y0, x1, y1 = upright.box
    if settings.scale is not None:
        return settings.scale
    if settings.width is not None:
        return settings.width / (x1 - x0)
    if settings.height is not None:
        return settings.height / (y1 - y0)
    return None


def _room(upright: Upright, crease: float, scale: float, beam: CentreBeam) -> float:
    """Return how much longer than needed the solid paper on the crease is; negative: too short."""
    shape = beziers.polygon(upright.outline, 0.02 / scale)
    inner = shape.buffer(-beam.inset / scale)
    drawn = CentreBeam(beam.flange / scale, beam.inset / scale, beam.length / scale)
    return (solid_run(inner, crease, drawn) - drawn.length) * scale


def _creases(upright: Upright) -> FloatArray:
    if upright.axis is not None:
        return np.array([upright.axis])
    x0, _, x1, _ = upright.box
    return np.linspace(x0, x1, _STEPS)[1:-1]


def _largest(upright: Upright, card: Card, beam: CentreBeam) -> tuple[float, float]:
    """Return the crease and scale of the largest motif with room for the centre beam.

    Room grows with the scale, so for each crease the closed form's scale is the one to try; the
    largest scale wins, among equals the crease with the most solid paper, then the most central.
    """
    x0, _, x1, _ = upright.box
    sizes = [(upright.largest(crease, card), float(crease)) for crease in _creases(upright)]
    best: tuple[float, float, float] | None = None
    chosen = (0.0, 0.0)
    for scale, crease in sorted(sizes, key=lambda row: (-row[0], abs(row[1] - (x0 + x1) / 2))):
        if best is not None and scale < best[0] * (1 - _SAME):
            break
        room = _room(upright, crease, scale, beam)
        if room < 0:
            continue
        score = (scale, round(room, 3), -abs(crease - (x0 + x1) / 2))
        if best is None or score > best:
            best, chosen = score, (crease, scale)
    if best is None:
        raise _no_room(upright, card, beam)
    return chosen


def _no_room(upright: Upright, card: Card, beam: CentreBeam) -> FitError:
    scale, crease = max((upright.largest(float(c), card), float(c)) for c in _creases(upright))
    short = -_room(upright, crease, scale, beam)
    return FitError(
        f"no crease has room for the beam under it: it needs {beam.length:.1f} mm of paper "
        f"{2 * (beam.flange + beam.inset):.1f} mm wide, and {short:.1f} mm are missing",
        "choose a narrower flange with --flanges, a smaller --inset or --rise, or a larger card",
    )


def _limits(upright: Upright, crease: float, scale: float, card: Card) -> tuple[Edge, ...]:
    x0, y0, x1, y1 = upright.box
    limits: list[Edge] = []
    if np.isclose(scale * (crease - x0), card.reach, rtol=1e-4):
        limits.append("left")
    if np.isclose(scale * (x1 - crease), card.reach, rtol=1e-4):
        limits.append("right")
    if np.isclose(scale * (y1 - y0), card.window[1], rtol=1e-4):
        limits += ["head", "foot"]
    return tuple(limits)


def _at(upright: Upright, card: Card, beam: CentreBeam, scale: float) -> float:
    """Return the crease for a size asked for."""
    fitting = [
        float(crease)
        for crease in _creases(upright)
        if upright.largest(float(crease), card) >= scale * (1 - _SAME)
    ]
    with_room = [(c, _room(upright, c, scale, beam)) for c in fitting]
    with_room = [(c, room) for c, room in with_room if room >= 0]
    if with_room:
        x0, _, x1, _ = upright.box
        return max(with_room, key=lambda row: (round(row[1]), -abs(row[0] - (x0 + x1) / 2)))[0]
    crease, largest = _largest(upright, card, beam)
    raise _too_large(upright, card, crease, scale, largest)


def _too_large(
    upright: Upright, card: Card, crease: float, scale: float, largest: float
) -> FitError:
    """Say how far it sticks out on which side, and the three ways out."""
    x0, y0, x1, y1 = upright.box
    over = {
        "left": scale * (crease - x0) - card.reach,
        "right": scale * (x1 - crease) - card.reach,
        "head and foot": (scale * (y1 - y0) - card.window[1]) / 2,
    }
    out = [f"{side} by {mm:.1f} mm" for side, mm in over.items() if mm > 0.05]
    size = f"{scale * (x1 - x0):.1f} x {scale * (y1 - y0):.1f} mm"
    sideways = max(over["left"], over["right"], 0.0)
    lower = card.rise - sideways
    ways = [f"make it {largest * (x1 - x0):.1f} mm wide"]
    if over["head and foot"] <= 0 and lower >= 5:
        ways.append(f"choose a rise of {lower:.1f} mm")
    across = card.outer.width + sideways
    along = card.outer.height + 2 * max(over["head and foot"], 0.0)
    ways.append(f"take a card of at least {across:.1f} x {along:.1f} mm")
    return FitError(f"at {size} the motif sticks out {', '.join(out)}", ", or ".join(ways))
