"""Choices about the card: its size, its beams, and how exactly hands put it together."""

from dataclasses import dataclass
from typing import Literal

from trace2pop.model.settings.choice import choice, needed


@dataclass(frozen=True)
class CardSettings:
    """The card's size and how high the motif floats."""

    size: tuple[float, float] = choice(
        (127.0, 177.8),
        "size",
        "card",
        "finished outer card, closed, width x height",
        low=40,
        high=600,
        listed="cards",
    )
    spine: Literal["long", "short"] = choice(
        "long", "word", "spine", "which side of the card folds", words=("long", "short")
    )
    rise: float = choice(20.0, "length", "rise", "clear height from base to motif", low=5, high=150)
    margin: float = choice(
        3.0, "length", "margin", "what stays inside the base when closed", low=0, high=30
    )
    border: float = choice(
        3.0, "length", "border", "outer card showing round the base", low=0, high=30
    )


@dataclass(frozen=True)
class GivenBeam:
    """A beam the maker places: ``u`` from the crease, fold line ``v0`` .. ``v1`` from the head."""

    u: float = needed("distance from the crease, right positive", -600, 600)
    v0: float = needed("start of its fold line, from the base's head edge", 0, 600)
    v1: float = needed("end of its fold line", 0, 600)
    flange: float | None = choice(
        None, "length", "", "flange width; the widest that fits if absent", low=3, high=25
    )


@dataclass(frozen=True)
class ForbiddenRegion:
    """A part of the card that takes no flange."""

    u0: float = needed("left side, from the crease, right positive", -600, 600)
    u1: float = needed("right side", -600, 600)
    v0: float = needed("upper side, from the base's head edge", -600, 600)
    v1: float = needed("lower side", -600, 1200)


@dataclass(frozen=True)
class SupportSettings:
    """Where beams may stand and how well they must hold."""

    inset: float = choice(
        2.0, "length", "inset", "how far flanges stay inside the motif's edge", low=0, high=20
    )
    handling_load: float = choice(
        10.0, "number", "handling-load", "load as a multiple of the motif's weight", low=1, high=100
    )
    sag_limit: float = choice(
        1.0, "length", "sag-limit", "largest sag under that load", low=0.05, high=20
    )
    flanges: tuple[float, ...] = choice(
        (9.0, 7.0, 5.0),
        "lengths",
        "flanges",
        "flange widths to choose from",
        low=3,
        high=25,
    )
    last_flange: float = choice(
        3.0,
        "length",
        "last-flange",
        "flange width used only where the motif doesn't hold with those",
        low=3,
        high=25,
    )
    stiffen: Literal["last", "first", "never"] = choice(
        "last",
        "word",
        "stiffen",
        "a steel wire glued behind what droops by its own weight: where nothing else holds (last), "
        "rather than a smaller motif (first), or never",
        words=("last", "first", "never"),
    )
    taper: float = choice(45.0, "angle", "taper", "slope of the flange ends", low=30, high=80)
    slit_clearance: float = choice(
        1.0, "length", "slit-clearance", "how much longer a slit is than its beam", low=0, high=5
    )
    count: int | None = choice(
        None, "count", "supports", "how many beams; the fewest that hold if absent", low=3, high=60
    )
    only_given: bool = choice(
        False, "flag", "only-given", "no beams but those given in [[supports.beam]]"
    )
    beam: tuple[GivenBeam, ...] = choice(
        (), "rows", "", "beams that stay where they are put; the others are chosen round them"
    )
    forbid: tuple[ForbiddenRegion, ...] = choice((), "rows", "", "regions that take no beam")


@dataclass(frozen=True)
class HandsSettings:
    """How exactly hands work: nineteen times in twenty an error is smaller than this."""

    place: float = choice(
        0.5, "length", "hand-place", "beams and motif put down beside their place", low=0, high=5
    )
    askew: float = choice(
        1.0, "angle", "hand-askew", "motif put down askew, degrees", low=0, high=10
    )
    fold: float = choice(0.3, "length", "hand-fold", "folds beside their line", low=0, high=3)
    cut: float = choice(0.2, "length", "hand-cut", "cuts beside their line", low=0, high=3)
