"""The maker's own beams: judged by the predicates, then places that are always taken."""

from collections.abc import Sequence

from trace2pop.errors import SupportError
from trace2pop.mechanism.predicates import faults
from trace2pop.mechanism.slits import slit_for
from trace2pop.model.card import Beam
from trace2pop.model.settings import GivenBeam, SupportSettings
from trace2pop.model.stock import Stock
from trace2pop.stages.supports.places import Room, Stretch


def pinned(given: Room, settings: SupportSettings, stock: Stock) -> list[Stretch]:
    """Return the places of the beams the maker gave.

    Raises:
        SupportError: where one can't stand, with its number, the reason and the measure.
    """
    beams: list[Beam] = []
    for number, row in enumerate(settings.beam, start=1):
        beams.insert(0, _widest(given, settings, row, number, stock))  # first, so it is at fault
        found = faults(given.ground, beams)
        if found:
            raise SupportError(
                f"beam {number} of the ones you gave (u {row.u:.1f} mm, v {row.v0:.1f} to "
                f"{row.v1:.1f} mm) can't stand there: {found[0].text}",
                "move, shorten or narrow it in [[supports.beam]], or take it out",
            )
    return [_stretch(beam) for beam in reversed(beams)]


def _widest(
    given: Room, settings: SupportSettings, row: GivenBeam, number: int, stock: Stock
) -> Beam:
    """Return the given beam with its flange, or with the widest that breaks no rule."""
    v0, v1 = min(row.v0, row.v1), max(row.v0, row.v1)
    slit = slit_for(v0, v1, settings.slit_clearance, stock)
    widths = given.widths if row.flange is None else (row.flange,)
    options = [
        Beam(number, f"beam {number}", row.u, v0, v1, width, settings.taper, slit)
        for width in widths
    ]
    return next((beam for beam in options if not faults(given.ground, [beam])), options[-1])


def _stretch(beam: Beam) -> Stretch:
    length = beam.v1 - beam.v0
    return Stretch(beam.u, beam.flange, beam.v0, beam.v1, length, length, pinned=True)


def symmetric(places: Sequence[Stretch]) -> bool:
    """Whether the given beams are their own mirror image."""
    marks = {(place.u, place.flange, place.v0, place.v1) for place in places}
    return all((-u, *rest) in marks for u, *rest in marks)
