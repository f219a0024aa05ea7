"""Thin features numbered, and the maker's choice for each."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from trace2pop.errors import FragileError, UsageError
from trace2pop.geometry.middle import MiddleLine
from trace2pop.geometry.thin import Thin, ThinKind
from trace2pop.limits import GLUE_LEAST
from trace2pop.model.card import PlacedMotif, ThinFeature, Treatment
from trace2pop.model.finding import Finding
from trace2pop.model.outline import FloatArray
from trace2pop.model.settings import FeatureChoice, FragileSettings
from trace2pop.stages.cuttable.rooted import Rooted

_CLASS: dict[ThinKind, int] = {"spur": 0, "bridge": 1, "wall": 2, "ring": 2, "loose": 2}

_ALLOWED: dict[str, tuple[Treatment, ...]] = {
    "spur": ("hand", "thicken", "keep", "drop"),
    "bridge": ("thicken", "keep"),
    "wall": ("thicken", "keep", "drop"),
    "ring": ("thicken", "keep", "drop"),
    "hole": ("close", "keep"),
    "gap": ("close", "keep"),
    "island": ("drop", "join", "hand"),
}

_NEAR = 0.05
"""A stored place finds its feature again within this share of the motif's size."""


@dataclass(frozen=True, eq=False)
class Found:
    """A thin feature with its middle line, its number and what is done about it.

    ``drawn`` is the mean width in mm of its thin stretch where it reaches back farther than that,
    else 0; ``bare`` says that it has no paper behind it to be glued to.
    """

    thin: Thin
    middle: MiddleLine
    number: int
    choice: Treatment
    at: tuple[float, float]
    drawn: float = 0.0
    bare: bool = False

    @property
    def kind(self) -> str:
        """Its kind in the maker's terms."""
        return "ring" if self.thin.kind == "loose" else self.thin.kind

    def feature(self, placed: PlacedMotif) -> ThinFeature:
        """Return it as the plan lists it."""
        u, v = self.at
        middle = self.middle
        return listed(placed, self.number, self.kind, (u, v), middle, self.choice, middle.least)


def listed(
    placed: PlacedMotif,
    number: int,
    kind: str,
    at: tuple[float, float],
    middle: MiddleLine,
    choice: Treatment,
    width: float,
) -> ThinFeature:
    """Return a feature as the plan lists it."""
    return ThinFeature(
        id=number,
        kind=kind,  # type: ignore[arg-type]  # the kinds of Thin, checked by _ALLOWED
        at=at,
        drawn_at=drawn_at(placed, at),
        width=width,
        length=middle.length,
        choice=choice,
    )


def numbered(
    thin: Rooted, body: shapely.Polygon, settings: FragileSettings, after: int = 0
) -> list[Found]:
    """Return features with their class's choice, numbered clockwise from the head after ``after``.

    Spurs come first, then bridges, then walls and rings. Spurs that can't be glued are thickened
    where their class is made by hand.
    """
    centre = middle_of(body)

    def rank(place: int) -> tuple[int, float, float]:
        item = thin.features[place]
        return (_CLASS[item.kind], *clock(_place(item), centre))

    found = []
    for number, place in enumerate(sorted(range(len(thin.features)), key=rank), start=1):
        item, bare = thin.features[place], place in thin.bare
        choice = _by_class(item.kind, settings)
        found.append(
            Found(
                thin=item,
                middle=thin.middles[place],
                number=after + number,
                choice="thicken" if bare and choice == "hand" else choice,
                at=_place(item),
                drawn=thin.whole.get(place, 0.0),
                bare=bare,
            )
        )
    return found


def _place(item: Thin) -> tuple[float, float]:
    """Return where a feature is joined; of several places their middle."""
    if not len(item.joins):
        point = item.region.representative_point()
        return float(point.x), float(point.y)
    u, v = item.joins.mean(axis=(0, 1))
    return float(u), float(v)


def middle_of(body: shapely.Polygon) -> tuple[float, float]:
    """Return the place round which features are numbered."""
    return float(body.centroid.x), float(body.centroid.y)


def clock(at: tuple[float, float], centre: tuple[float, float]) -> tuple[float, float]:
    """Return the angle clockwise from the head, and the distance, of a place round ``centre``."""
    u, v = at[0] - centre[0], at[1] - centre[1]
    turn = round(float(np.degrees(np.arctan2(u, -v))) % 360, 3) % 360
    return turn, float(np.hypot(u, v))


def _by_class(kind: ThinKind, settings: FragileSettings) -> Treatment:
    if kind == "spur":
        return settings.spurs
    return settings.bridges if kind == "bridge" else settings.walls


def drawn_at(placed: PlacedMotif, at: tuple[float, float]) -> tuple[float, float]:
    """Return a place on the card in pixels of the upright source picture."""
    artwork = placed.motif.artwork
    drawn = np.linalg.solve(placed.to_card[:, :2], np.asarray(at) - placed.to_card[:, 2])
    x, y, z = artwork.to_source @ np.append(drawn * artwork.px_per_mm, 1.0)
    return float(x / z), float(y / z)


def on_card(placed: PlacedMotif, at: tuple[float, float]) -> FloatArray:
    """Return the place on the card of a pixel of the upright source picture."""
    artwork = placed.motif.artwork
    x, y, z = np.linalg.solve(artwork.to_source, np.array([*at, 1.0]))
    drawn = np.array([x / z, y / z]) / artwork.px_per_mm
    result: FloatArray = placed.to_card[:, :2] @ drawn + placed.to_card[:, 2]
    return result


def chosen(
    found: Sequence[Found], placed: PlacedMotif, choices: Iterable[FeatureChoice]
) -> tuple[list[Found], list[FeatureChoice]]:
    """Return the features with the maker's single choices, and the choices that met none.

    Raises:
        UsageError: where a choice names no place.
        FragileError: where a choice can't be for its feature.
    """
    result, left = list(found), []
    size = float(np.hypot(*np.ptp(placed.outline.outer.reshape(-1, 2), axis=0)))
    for item in choices:
        regions = [(feature.thin.region, feature.at) for feature in result]
        index = meant(regions, placed, item, _NEAR * size)
        if index is None:
            left.append(item)
            continue
        check(result[index].kind, result[index].at, item.do)
        if item.do == "hand" and result[index].bare:
            raise _cant_be_glued(result[index])
        result[index] = replace(result[index], choice=item.do)
    return result, left


def _cant_be_glued(item: Found) -> FragileError:
    return refused(
        f"{item.kind} at {item.at[0]:.0f}, {item.at[1]:.0f} mm",
        "hand",
        f"nowhere behind it is paper broad enough for {GLUE_LEAST.value:.0f} mm of glue",
        "thicken or keep or drop",
    )


def meant(
    found: Sequence[tuple[shapely.Polygon, tuple[float, float]]],
    placed: PlacedMotif,
    item: FeatureChoice,
    near: float,
) -> int | None:
    """Return which of the features (region, place) a choice by place is for, None for none.

    Raises:
        UsageError: where it names no place.
    """
    if item.x is None or item.y is None:
        raise UsageError(
            "a choice for a single feature names neither its number nor its place",
            'write number = 3 (or x and y in pixels) beside do = "keep"',
        )
    place = on_card(placed, (item.x, item.y))
    here = shapely.Point(place)
    # The place counts most, but where a spur is cut moves along it as the motif grows.
    far = [
        float(region.distance(here)) + 0.1 * float(np.linalg.norm(np.asarray(at) - place))
        for region, at in found
    ]
    return int(np.argmin(far)) if far and min(far) <= near else None


def unused(item: FeatureChoice) -> Finding:
    """Return the note on a choice stored for a feature that isn't there at this size."""
    return Finding(
        rule="choice-unused",
        severity="note",
        where=f"{item.x:.0f}, {item.y:.0f} px",
        measured=None,
        limit=None,
        advice=(
            f"The choice {item.do} was stored for a feature that is not too thin at this size; it "
            "is kept for another size."
        ),
    )


def check(kind: str, at: tuple[float, float], do: Treatment) -> None:
    """Raise FragileError where ``do`` can't be done for that kind of feature."""
    allowed = _ALLOWED[kind]
    if do in allowed:
        return
    ways = " or ".join(allowed)
    reason = {
        "bridge": "it carries a part of the motif that would fall off",
        "wall": "it is joined at both ends, so nothing could be glued on in its place",
        "ring": "it is a loop, which can't be made from a straight piece",
        "island": "it lies loose in a hole, where nothing is behind it",
    }.get(kind, "it is what is thin that can be added by hand or dropped, not what is open")
    if do == "close":
        reason = "only holes and gaps can be closed"
    if do == "join":
        reason = "only loose islands can be joined by a bridge"
    raise refused(f"{kind} at {at[0]:.0f}, {at[1]:.0f} mm", do, reason, ways)


def refused(what: str, do: Treatment, reason: str, ways: str) -> FragileError:
    """Return the refusal of a choice, to be raised; ``ways`` is what can be chosen instead."""
    return FragileError(f'"{do}" can\'t be done for the {what}: {reason}', f"choose {ways} for it")
