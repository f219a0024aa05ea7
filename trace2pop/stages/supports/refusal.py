"""What to say when beams can't stand or can't hold, and what would help."""

from collections.abc import Sequence

import shapely

from trace2pop.errors import SupportError
from trace2pop.mechanism.beam import shortest_fold
from trace2pop.model.card import Sag
from trace2pop.model.settings import SupportSettings
from trace2pop.stages.supports.fewest import UnheldError
from trace2pop.stages.supports.places import Room, Stretch

_HELP = (
    "make that feature wider, choose heavier paper for the motif (--motif-stock), "
    "a lower load (--handling-load), or narrower flanges that reach further in (--flanges)"
)


def check_room(
    shape: shapely.Polygon, given: Room, places: Sequence[Stretch], settings: SupportSettings
) -> None:
    """Refuse where no beam has room on the crease or on a half.

    Raises:
        SupportError: saying which, and what a beam needs.
    """
    narrow = min(settings.flanges)
    need = 2 * (narrow + settings.inset)
    length = shortest_fold(narrow, settings.taper)
    for what, there in (
        ("the crease", any(place.u == 0 for place in places)),
        ("the halves beside the crease", any(place.u != 0 for place in places)),
    ):
        if not there:
            raise SupportError(
                f"no beam has room on {what}: with flanges of {narrow:.1f} mm it needs paper "
                f"{need:.1f} mm wide along {length:.1f} mm, off holes and glued runs, between "
                f"{given.head:.1f} and {given.foot:.1f} mm from the base's head edge",
                "make the motif larger or wider there, or choose narrower flanges (--flanges) "
                "or a smaller inset (--inset)",
            )


def sags(error: UnheldError, ratio: float, settings: SupportSettings) -> SupportError:
    """Return the refusal where a place can't be held."""
    u, v = error.point
    return SupportError(
        f"the motif sags {error.sag * ratio:.1f} mm at {_place(float(u), float(v))} under "
        f"{settings.handling_load:.3g} times its weight, whatever stands under it; the limit is "
        f"{settings.sag_limit:.1f} mm",
        _HELP,
    )


def unproved(sag: Sag) -> SupportError:
    """Return the refusal where the proof fails for every choice tried."""
    return SupportError(
        f"the motif sags {sag.max:.1f} mm at {_place(*sag.at)} under {sag.handling_load:.3g} "
        f"times its weight on the best beams found; the limit is {sag.limit:.1f} mm",
        _HELP,
    )


def _place(u: float, v: float) -> str:
    side = "on the crease" if abs(u) < 0.5 else f"{abs(u):.0f} mm {'right' if u > 0 else 'left'}"
    return (
        f"{side}{'' if abs(u) < 0.5 else ' of the crease'}, {v:.0f} mm below the base's head edge"
    )
