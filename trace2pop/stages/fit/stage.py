"""The largest motif that closes inside the card, and the crease it folds on."""

import numpy as np

from trace2pop.errors import UsageError
from trace2pop.geometry import beziers
from trace2pop.model.artwork import Motif
from trace2pop.model.card import Card, PlacedMotif
from trace2pop.model.settings import FragileSettings, MotifSettings, SupportSettings
from trace2pop.stages.fit import notes, refusal
from trace2pop.stages.fit.choose import best_crease
from trace2pop.stages.fit.corners import at_corners
from trace2pop.stages.fit.crease import CentreBeam, centre_beam
from trace2pop.stages.fit.feelers import feelers
from trace2pop.stages.fit.size import Found, Upright, at_scale, largest, limits
from trace2pop.stages.fit.turning import best_turn
from trace2pop.stages.fit.upright import rotation, turned, with_strands

_NEARLY_UPRIGHT_DEG = 15.0


def fit(
    motif: Motif,
    card: Card,
    settings: MotifSettings,
    supports: SupportSettings,
    fragile: FragileSettings,
    *,
    corner_radius: float = 0.0,
) -> PlacedMotif:
    """Return the motif at the largest size that closes, or at the size asked for.

    Its crease lies on its mirror axis where that stands upright, else where a centre beam has most
    room. Along the crease the motif is centred on the card: the window's ends are alike, and so are
    the lengths of paper left at head and foot for the slits. ``corner_radius`` is that of the base;
    where it takes some of the window, the motif shrinks about its place.

    Raises:
        FitError: where no size has room for the beam on the crease, or the size asked for sticks
            out.
        UsageError: where more than one size is asked for, or a scale of an unknown size.
    """
    beam = centre_beam(supports, card)
    upright, turn = _upright(motif, card, settings, beam, fragile)
    asked = _asked_scale(motif, settings, upright)
    upright = with_strands(upright, card, fragile, asked)
    if asked is None:
        found = largest(upright, card, beam)
        if not found.spans:
            raise refusal.no_room(upright, card, beam, found.scale)
    else:
        found = at_scale(upright, card, beam, asked)
        if not found.spans:
            raise refusal.wrong_size(upright, card, beam, asked)
    thin = feelers(upright.solid, found.scale, fragile)
    crease = best_crease(upright, found.spans, found.scale, beam, thin)
    chosen = asked is not None
    found = at_corners(upright, card, beam, found, crease, corner_radius, chosen=chosen)
    return _placed(motif, card, upright, turn, crease, found, fragile, chosen=chosen)


def _placed(
    motif: Motif,
    card: Card,
    upright: Upright,
    turn: float,
    crease: float,
    found: Found,
    fragile: FragileSettings,
    *,
    chosen: bool,
) -> PlacedMotif:
    box, scale = upright.box, found.scale
    shift = np.array([-scale * crease, card.height / 2 - scale * (box.head + box.foot) / 2])
    to_card = np.column_stack([scale * rotation(turn), shift])
    return PlacedMotif(
        motif=motif,
        card=card,
        scale=scale,
        turn_deg=turn,
        to_card=to_card,
        outline=beziers.transform_outline(motif.outline, to_card),
        symmetric=upright.axis is not None,
        limited_by=() if chosen else limits(upright, crease, scale, card),
        findings=(
            *notes.on_axis(motif, upright),
            *(() if chosen else notes.on_size(upright, card, scale, fragile)),
        ),
    )


def _upright(
    motif: Motif,
    card: Card,
    settings: MotifSettings,
    beam: CentreBeam,
    fragile: FragileSettings,
) -> tuple[Upright, float]:
    """Return the motif as it will lie, and the turn that brings it there.

    A mirror axis is laid upright first, so a turn asked for counts from there. One that lies across
    the page is stood upright by a turn that does so nearly.
    """
    axis = motif.axis
    if isinstance(settings.turn, str):
        stands = axis is not None and not axis.lies
        turn = -axis.tilt_deg if axis and stands else best_turn(motif, card, beam, fragile)
    elif axis is None:
        turn = settings.turn
    elif axis.lies:
        off = (axis.tilt_deg + settings.turn + 90) % 180 - 90
        turn = settings.turn - off if abs(off) < _NEARLY_UPRIGHT_DEG else settings.turn
    else:
        turn = settings.turn - axis.tilt_deg
    return turned(motif, turn, card, fragile), turn


def _asked_scale(motif: Motif, settings: MotifSettings, upright: Upright) -> float | None:
    """Return the scale that the maker asked for, by whichever of the three choices.

    Raises:
        UsageError: where more than one is given, or the drawn size isn't known.
    """
    asked = {
        "--scale": (settings.scale, 1.0),
        "--width": (settings.width, upright.whole.width),
        "--height": (settings.height, upright.whole.height),
    }
    given = {name: pair for name, pair in asked.items() if pair[0] is not None}
    if len(given) > 1:
        raise UsageError(
            f"{' and '.join(given)} both ask for a size", "give one of them; the rest follows"
        )
    if settings.scale is not None and motif.artwork.scale.source == "none":
        raise UsageError(
            "--scale needs the size the motif was drawn at, and the picture doesn't tell it",
            "give --drawn-width or --dpi, or ask for a size with --width or --height",
        )
    return next((size / drawn for size, drawn in given.values() if size is not None), None)
