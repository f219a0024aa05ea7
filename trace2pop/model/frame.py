"""The capture frame: a printed sheet with markers round an empty field."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Marker:
    """A square marker: its number, and its head-left corner on the sheet in mm.

    ``black`` are the rows of its square cells, True where printed black, the dark rim included.
    """

    number: int
    x: float
    y: float
    black: tuple[tuple[bool, ...], ...]


@dataclass(frozen=True)
class CaptureFrame:
    """A sheet to print: ``markers`` of side ``marker_side`` round ``field``; all mm, y down.

    ``field`` is (x, y, width, height) of the place for the art. ``ruler`` is (x, y, length) of a
    horizontal ruler by which the maker checks the printer; nothing is printed in the field.
    """

    paper: str
    width: float
    height: float
    marker_side: float
    markers: tuple[Marker, ...]
    field: tuple[float, float, float, float]
    ruler: tuple[float, float, float]
