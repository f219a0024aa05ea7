"""Why a size can't be, by how much, and the ways out with their numbers."""

import math
from collections.abc import Callable
from dataclasses import replace
from functools import partial

from trace2pop.errors import FitError
from trace2pop.mechanism.sizes import LOWEST_RISE, rise_for, smallest_card
from trace2pop.model.card import Card, Edge
from trace2pop.stages.fit.crease import CentreBeam
from trace2pop.stages.fit.size import SAME, Upright, at_scale, largest

_NARROWEST = 4.0
_SHOWN = 0.05
_ROUNDS = 12
_COARSE = 0.01
_LEAST = 0.1
"""A flange narrower than this is none."""
_FEW_ROUNDS = 7
"""As many as tell a flange's width to less than a tenth of a millimetre, which is what is told."""


def wrong_size(upright: Upright, card: Card, beam: CentreBeam, scale: float) -> FitError:
    """Return why the motif can't have the size asked for: too large to close, or for its beam."""
    best = largest(upright, card, beam)
    if not best.spans:
        return no_room(upright, card, beam, scale)
    if scale <= best.scale * (1 - SAME):
        return _too_small(upright, card, beam, best.scale)
    box = upright.box
    spans = upright.spans(scale, beam, box.left, box.right)
    nearest = [min(max(box.middle, low), high) for low, high in spans]
    crease = min(nearest, key=lambda x: abs(x - box.middle), default=box.middle)
    if upright.axis is not None:
        crease = upright.axis
    return _too_large(upright, card, crease, scale, best.scale)


def _too_large(upright: Upright, card: Card, crease: float, scale: float, best: float) -> FitError:
    """Say how far it sticks out on which side, and the three ways out."""
    box = upright.whole if scale > upright.box.most else upright.box
    beyond = box.beyond(crease, scale, card)
    size = f"{scale * box.width:.1f} x {scale * box.height:.1f} mm"
    ways = [f"make it {_down(best * box.width)} x {_down(best * box.height)} mm or smaller"]
    reach = max(beyond["left"], beyond["right"]) + card.reach
    rise = rise_for(card, reach)
    too_tall = beyond["head"] > _SHOWN
    if rise is not None and not too_tall:
        ways.append(f"lower the rise to {_down(rise)} mm (--rise)")
    ways.append(_larger_card(card, reach, scale * box.height))
    advice = "; or ".join(ways)
    if too_tall:
        advice += ". A lower rise alone won't do: it is too tall"
    elif rise is None:
        advice += ". No rise is low enough for it on this card"
    return FitError(
        f"at {size} the motif goes past the {card.margin:.1f} mm margin when the card is closed: "
        f"{_where(beyond)}",
        advice,
    )


def _where(beyond: dict[Edge, float]) -> str:
    """Return how much is over, and where."""
    left, right, along = beyond["left"], beyond["right"], beyond["head"]
    sides = []
    if min(left, right) > _SHOWN and abs(left - right) < _SHOWN:
        sides.append(f"{left:.1f} mm at both fore edges")
    else:
        sides += [
            f"{mm:.1f} mm at the fore edge of the {name} half"
            for name, mm in (("left", left), ("right", right))
            if mm > _SHOWN
        ]
    if along > _SHOWN:
        sides.append(f"{along:.1f} mm each at head and foot")
    return ", ".join(sides) or "by less than 0.1 mm"


def _down(mm: float) -> str:
    """Return a length that is the most there may be, never rounded up."""
    return f"{math.floor(10 * mm) / 10:.1f}"


def _larger_card(card: Card, reach: float, height: float) -> str:
    known = smallest_card(card, reach, height)
    if known:
        width, along = known.size
        return f"take a larger card: {known.title}, {width:.0f} x {along:.0f} mm (--card)"
    across = reach + card.web + card.margin + card.border
    along = height + 2 * (card.margin + card.border)
    return (
        f"take a card of at least {math.ceil(across)} mm from spine to fore edge and "
        f"{math.ceil(along)} mm along its spine"
    )


def _too_small(upright: Upright, card: Card, beam: CentreBeam, best: float) -> FitError:
    """Say from which size on there is room for the beam on the crease."""
    low, high = 0.0, best
    for _ in range(_ROUNDS):
        middle = (low + high) / 2
        low, high = (low, middle) if at_scale(upright, card, beam, middle).spans else (middle, high)
    box = upright.box
    return FitError(
        f"at this size the motif has no room for the beam on its crease, which needs solid paper "
        f"{beam.width:.1f} mm wide over {beam.fold:.1f} mm",
        f"make it at least {math.ceil(10 * high * box.width) / 10:.1f} mm wide (it may be up to "
        f"{_down(best * box.width)} mm); or choose narrower flanges (--flanges) or a smaller "
        "--inset",
    )


def no_room(upright: Upright, card: Card, beam: CentreBeam, scale: float) -> FitError:
    """Return why no crease will do at the largest size: what the beam needs, what there is."""
    where = "on its mirror axis" if upright.axis is not None else "anywhere"
    widest = _widest(upright, card, beam)
    there = f"the widest there is takes a flange of {widest:.1f} mm" if widest else "there is none"
    ways = [_larger(card, beam, widest)]
    if widest and widest >= _NARROWEST:
        ways.insert(0, f"choose narrower flanges: --flanges {int(widest * 10) / 10:.1f}mm")
    else:
        ways = [*_less_inset(upright, card, beam, widest), *ways]
    if upright.axis is not None:
        ways.append("try it turned by 90 degrees (--turn 90)")
    return FitError(
        f"the motif has no room for the beam on the crease {where}: it needs solid paper "
        f"{beam.width:.1f} mm wide over {beam.fold:.1f} mm, and at the largest size, "
        f"{scale * upright.box.width:.0f} mm wide, {there}",
        "; or ".join(ways),
    )


def _larger(card: Card, beam: CentreBeam, widest: float) -> str:
    """Return how much larger the motif must be, and whether a lower rise allows that."""
    times = beam.width / 2 / (beam.inset + max(widest, _LEAST))
    lower = times * card.reach <= card.reach + card.rise - LOWEST_RISE
    how = "a lower --rise or a larger --card" if lower else "a larger --card"
    return (
        f"choose {how}, so that the motif can be {'about' if widest else 'more than'} "
        f"{times:.1f} times as large, or draw it broader where it is creased"
    )


def _less_inset(upright: Upright, card: Card, beam: CentreBeam, widest: float) -> list[str]:
    """Return the inset with which the narrowest flange has room, where there is one."""
    inset = widest + beam.inset - _NARROWEST
    if not widest and beam.inset > _NARROWEST:
        narrow = _narrowed(beam, _NARROWEST)
        inset = _most(upright, card, beam.inset, lambda mm: replace(narrow, inset=mm))
    inset = math.floor(10 * inset) / 10
    return [f"choose --flanges {_NARROWEST:.0f}mm and --inset {inset:.1f}mm"] if inset > 0 else []


def _widest(upright: Upright, card: Card, beam: CentreBeam) -> float:
    """Return the widest flange for which some crease has room at the largest size; 0 if none."""
    widest = _most(upright, card, beam.flange, partial(_narrowed, beam))
    return widest if widest > _LEAST else 0.0


def _narrowed(beam: CentreBeam, flange: float) -> CentreBeam:
    return replace(beam, flange=flange, fold=beam.fold - 2 * (beam.flange - flange) * beam.slope)


def _most(
    upright: Upright, card: Card, high: float, beam_of: Callable[[float], CentreBeam]
) -> float:
    """Return the most, from 0 to ``high``, of a length that leaves a beam room somewhere."""
    low = 0.0
    for _ in range(_FEW_ROUNDS):
        middle = (low + high) / 2
        room = largest(upright, card, beam_of(middle), step=_COARSE).spans
        low, high = (middle, high) if room else (low, middle)
    return low
