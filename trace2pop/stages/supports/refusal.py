"""What to say when beams can't stand or can't hold, and what would help."""

from collections.abc import Sequence

from trace2pop.errors import SupportError
from trace2pop.mechanism.beam import shortest_fold
from trace2pop.model.card import Sag
from trace2pop.model.settings import SupportSettings
from trace2pop.stages.supports.places import Room, Stretch
from trace2pop.units import place

_FREE = 60.0
"""Sag from which on a part is said to hang free: no number means anything there."""

_NARROWEST = 3.0
"""Flanges can't be asked for narrower than this."""
_WAYS = (
    "draw that feature wider or leave it off, choose a larger card (--card), heavier paper for the "
    "motif (--motif-stock) or a larger sag (--sag-limit)"
)


class SagError(SupportError):
    """The motif sags too far at this size, ``excess`` times what may be; a smaller one may hold.

    ``anywhere`` where it does so with beams wherever there is room.
    """

    def __init__(self, message: str, advice: str, excess: float, *, anywhere: bool = False) -> None:
        super().__init__(message, advice)
        self.excess, self.anywhere = excess, anywhere


def check_room(
    given: Room, places: Sequence[Stretch], settings: SupportSettings, *, mirrored: bool
) -> None:
    """Refuse where no beam has room on the crease or on a half.

    Raises:
        SupportError: saying which, and what a beam needs.
    """
    narrow = min(settings.flanges)
    need = 2 * (narrow + settings.inset)
    length = shortest_fold(narrow, settings.taper)
    sides = {int(place.u > 0) - int(place.u < 0) for place in places}
    wanted = {0: "on the crease", 1: "on the right half", -1: "on the left half"}
    if mirrored:
        wanted = {0: "on the crease", 1: "on both halves alike"}
    for side, where in wanted.items():
        if side in sides:
            continue
        if settings.only_given and not settings.beam:
            raise SupportError(
                "--only-given leaves every beam to you, and card.toml gives none",
                "give at least one on the crease and one on each half in [[supports.beam]], or "
                "leave out --only-given",
            )
        if settings.only_given:
            raise SupportError(
                f"none of the beams you gave stands {where}",
                "give at least one on the crease and one on each half, or leave out --only-given",
            )
        raise SupportError(
            f"no beam has room {where}: with flanges of {narrow:.1f} mm it needs paper "
            f"{need:.1f} mm wide along {length:.1f} mm, off holes and glued runs, between "
            f"{given.head:.1f} and {given.foot:.1f} mm from the base's head edge",
            _room(settings),
        )


def _room(settings: SupportSettings) -> str:
    """Return what would make room for beams: flanges and inset only where they can be less."""
    less = ["narrower flanges (--flanges)"] if min(settings.flanges) > _NARROWEST else []
    less += ["a smaller inset (--inset)"] if settings.inset > 0 else []
    ways = "make the motif larger or wider there"
    return f"{ways}, or choose {' or '.join(less)}" if less else ways


def beyond(
    point: tuple[float, float], sag: float, settings: SupportSettings, *, whatever: bool
) -> SagError:
    """Return the refusal where an end can't be held and its own weight bends it past the limit.

    ``sag`` is under the handling load; ``whatever`` is chosen, or on the best beams found.
    """
    own, limit = sag / settings.handling_load, settings.sag_limit
    under = "whatever stands under it" if whatever else "on the best beams there is room for"
    if sag > _FREE * settings.handling_load:
        return SagError(
            f"the motif hangs free at {place(*point)}, {under}",
            _help(settings),
            own / limit,
            anywhere=whatever,
        )
    return SagError(
        f"the motif droops {own:.2f} mm by its own weight at {place(*point)}, {under}; the limit "
        f"is {limit:.2f} mm",
        _help(settings),
        own / limit,
        anywhere=whatever,
    )


def _help(settings: SupportSettings) -> str:
    """Return what would help where an end can't be held."""
    if min(settings.flanges) <= _NARROWEST:
        return _WAYS
    return f"{_WAYS}, or narrower flanges that reach further in (--flanges)"


def unproved(sag: Sag, settings: SupportSettings) -> SagError:
    """Return the refusal where the maker's own beams don't hold."""
    return SagError(
        f"the motif sags {sag.max:.2f} mm at {place(*sag.at)} under {sag.handling_load:.3g} "
        f"times its weight on the beams you gave; the limit is {sag.limit:.2f} mm",
        "add a beam near there, or leave out --only-given so that the others are chosen; or "
        f"{_help(settings)}",
        sag.max / sag.limit,
    )


class CrowdedError(SupportError):
    """Beams have room, but not beside one another; narrower flanges may."""


def crowded(settings: SupportSettings, sag: Sag | None = None) -> CrowdedError:
    """Return the refusal where beams on the crease and on both halves don't fit beside another.

    ``sag`` is how the motif sags on beams that do fit, where there are some that don't hold.
    """
    if sag is not None:
        what = f"it sags {sag.max:.1f} mm" if sag.max <= _FREE else "it hangs free"
        return CrowdedError(
            "beams have room on the crease and on each half, but they don't hold the motif: "
            f"{what} at {place(*sag.at)} under {sag.handling_load:.3g} times its weight; the limit "
            f"is {sag.limit:.2f} mm",
            _help(settings),
        )
    return CrowdedError(
        "a beam on the crease and one on each half have no room beside one another: flanges of "
        f"{min(settings.flanges):.1f} mm and slits would meet",
        _room(settings),
    )


def floating(settings: SupportSettings) -> SupportError:
    """Return the refusal where a part of the motif hangs on its crease alone."""
    return SupportError(
        "a part of the motif beside the crease has no beam at all and would swing down",
        "give it a beam, or leave out --only-given; or make it wide enough for one (--flanges)"
        if settings.only_given
        else "make it wide enough for one, take it off, or turn the motif (--turn)",
    )


def count(asked: int, fewest: int) -> SupportError:
    """Return the refusal of a number of beams that can't be kept."""
    if asked < fewest:
        advice = f"ask for {fewest} or more (--supports), or leave the count out"
    else:
        advice = f"ask for fewer, down to {fewest} (--supports), or leave the count out"
    return SupportError(
        f"no {asked} beams were found that stand beside each other and hold this motif within the "
        f"rules; the fewest that do are {fewest}",
        advice,
    )
