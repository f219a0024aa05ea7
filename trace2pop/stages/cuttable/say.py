"""What the maker should know about thin features, in their own words."""

from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from shapely.ops import substring

from trace2pop.geometry import beziers
from trace2pop.geometry.middle import MiddleLine
from trace2pop.geometry.thin import Thin
from trace2pop.limits import GLUE_LEAST, HAND_SLACK
from trace2pop.model.card import Card, HandPart, LooseIsland, ThinFeature
from trace2pop.model.finding import Finding
from trace2pop.model.outline import FloatArray
from trace2pop.model.settings import FragileSettings

_MOST = 12
"""So many weak places are named one by one."""

_WORDS = {
    "spur": "feeler or stem",
    "bridge": "neck between two parts",
    "wall": "wall beside a hole",
    "ring": "ring",
    "hole": "hole",
    "gap": "gap",
    "island": "island",
}


def place(at: tuple[float, float]) -> str:
    """Return a place in words."""
    return f"{at[0]:.1f}, {at[1]:.1f} mm"


def treated(feature: ThinFeature, limit: float) -> Finding | None:
    """Return what was done about a feature; None for hand parts, which have a list of their own."""
    what = f"{_WORDS[feature.kind].capitalize()} {feature.id}"
    size = f"{feature.width:.2f} mm at its narrowest, less than the {limit:.2f} mm that can be cut"
    match feature.choice:
        case "hand":
            return None
        case "thicken":
            text = f"{what} is {size}; it was made {limit:.2f} mm wide. Look at it in preview.png."
        case "keep":
            text = f"{what} is {size}; it was kept as you chose and may tear. Cut it by hand."
        case "drop":
            text = f"{what} was left away as you chose ({feature.length:.1f} mm long)."
        case "close":
            text = f"{what} is {size}; it was closed. Keep it with --feature {feature.id}=keep."
        case "join":
            text = f"{what} was joined."
    kept = feature.choice == "keep"
    return Finding(
        rule=f"{feature.kind}-{_DONE[feature.choice]}",
        severity="warning" if kept else "note",
        where=place(feature.at),
        measured=round(feature.width, 2),
        limit=round(limit, 2),
        advice=text,
    )


def rooted(feature: ThinFeature, limit: float) -> Finding | None:
    """Return why a part comes off farther back than it is thin; None where it stays paper."""
    if feature.choice not in ("hand", "drop"):
        return None
    return Finding(
        rule="comes-off-whole",
        severity="note",
        where=f"hand part {feature.id}",
        measured=round(feature.width, 2),
        limit=round(limit, 2),
        advice=(
            f"Only a stretch of part {feature.id} is narrower than {limit:.2f} mm, but the paper "
            "there is too slim to glue it on. So it comes off back to where glue holds, all "
            f"{feature.length:.1f} mm of it. --feature {feature.id}=thicken keeps it paper, "
            f"{limit:.2f} mm wide where it is narrower."
        ),
    )


def bare(feature: ThinFeature) -> Finding | None:
    """Return why a part isn't made by hand as its class is; None where it was left away."""
    if feature.choice != "thicken":
        return None
    return Finding(
        rule="no-room-for-glue",
        severity="note",
        where=place(feature.at),
        measured=0.0,
        limit=GLUE_LEAST.value,
        advice=(
            f"Behind {_WORDS[feature.kind]} {feature.id} there is no paper for even "
            f"{GLUE_LEAST.value:.0f} mm of glue, so it can't be added by hand: it stays paper. Say "
            f"--feature {feature.id}=drop to leave it away, or draw broader what carries it."
        ),
    )


def island(
    feature: ThinFeature, bounds: tuple[float, float, float, float], why: str = ""
) -> Finding:
    """Return what was done about a loose piece; ``bounds`` are its left, head, right and foot.

    ``why`` says why it couldn't be made by hand as was chosen for all.
    """
    left, head, right, foot = bounds
    what = f"Island {feature.id}, {right - left:.1f} x {foot - head:.1f} mm,"
    bridge = f"a bridge {feature.width:.1f} mm wide and {feature.length:.1f} mm long"
    if feature.choice == "join":
        text = f"{what} lies loose in a hole; it was joined by {bridge}. Look at it in preview.png."
    else:
        no_hand = f" It can't be set in by hand: {why}." if why else ""
        hand = "" if why else f", or {feature.id}=hand to cut it alone and hold it by clear film"
        text = (
            f"{what} lies loose in a hole and would fall out, so it was left away.{no_hand} Say "
            f"--feature {feature.id}=join to keep it on {bridge}{hand} (--islands for all)."
        )
    return Finding(
        rule=f"island-{_DONE[feature.choice]}",
        severity="note" if feature.choice == "join" else "warning",
        where=place(feature.at),
        measured=round(feature.length, 2),
        limit=None,
        advice=text,
    )


def held(piece: LooseIsland) -> Finding:
    """Return what the maker should know of an island made as a piece of its own."""
    left, head, right, foot = beziers.bounds(piece.outline.outer)
    return Finding(
        rule="island-by-hand",
        severity="note",
        where=place(((left + right) / 2, (head + foot) / 2)),
        measured=round(piece.film_length, 1),
        limit=None,
        advice=(
            f"Island {piece.id}, {right - left:.1f} x {foot - head:.1f} mm, is a piece of its own, "
            f"{piece.name}.svg. It is held from behind by a strip of clear film "
            f"{piece.film_width:.1f} mm wide and {piece.film_length:.1f} mm long: see the placing "
            "template in guide.pdf."
        ),
    )


_DONE = {
    "join": "joined",
    "thicken": "thickened",
    "keep": "kept",
    "drop": "dropped",
    "close": "closed",
}


def weak(found: Sequence[tuple[Thin, MiddleLine]], width: float) -> list[Finding]:
    """Return warnings for places that can be cut but are narrower than twice the minimum."""
    rows = sorted(found, key=lambda row: row[1].least)
    findings = [_weak(middle, width) for _, middle in rows[:_MOST]]
    if len(rows) > _MOST:
        findings.append(
            Finding(
                rule="weak",
                severity="warning",
                where="motif",
                measured=float(len(rows) - _MOST),
                limit=None,
                advice=f"{len(rows) - _MOST} more places are narrower than {2 * width:.1f} mm.",
            )
        )
    return findings


def _weak(middle: MiddleLine, width: float) -> Finding:
    return Finding(
        rule="weak",
        severity="warning",
        where=place(middle.least_at),
        measured=round(middle.least, 2),
        limit=round(2 * width, 2),
        advice=(
            f"The paper is only {middle.least:.1f} mm wide here, over {middle.length:.0f} mm. It "
            "can be cut, but lift it off the mat with a spatula and fold away from it."
        ),
    )


def about_parts(parts: Iterable[HandPart], card: Card, settings: FragileSettings) -> list[Finding]:
    """Return what to know about parts added by hand: short glue, sticking out, faded tips."""
    findings = []
    for part in parts:
        glued = float(np.linalg.norm(part.overlap[1] - part.overlap[0]))
        if glued < settings.glue_overlap - 0.05:
            findings.append(_short_glue(part, glued, settings.glue_overlap))
        if not settings.bends:
            findings += _sticks_out(part, card)
        if part.uncertainty > max(0.5, 0.05 * part.length):
            findings.append(_faded(part))
    return findings


def _short_glue(part: HandPart, glued: float, wanted: float) -> Finding:
    return Finding(
        rule="short-overlap",
        severity="warning",
        where=f"hand part {part.id}",
        measured=round(glued, 1),
        limit=wanted,
        advice=(
            f"Only {glued:.1f} mm of part {part.id} can be glued behind the motif without showing "
            "or crossing the crease. Glue a small patch of paper over it."
            if glued
            else f"Nothing behind part {part.id} is broad enough to glue it to. Make it of paper, "
            f"--feature {part.id}=thicken, or leave it away, --feature {part.id}=drop."
        ),
    )


def _sticks_out(part: HandPart, card: Card) -> list[Finding]:
    beyond = max(_beyond(line, part.diameter / 2, card) for line in (part.path, *part.branches))
    if beyond <= HAND_SLACK.value:
        return []
    kept = _kept_length(part, card)
    return [
        Finding(
            rule="hand-part-shows",
            severity="warning",
            where=f"hand part {part.id}",
            measured=round(beyond, 1),
            limit=0.0,
            advice=(
                f"Part {part.id} sticks out by {beyond:.1f} mm when the card is closed. Shorten it "
                f"by {part.length - kept:.1f} mm, to {kept:.1f} mm; or use a material that bends "
                "(--bends); or choose a lower --rise or a smaller motif."
            ),
        )
    ]


def _beyond(line: FloatArray, half: float, card: Card) -> float:
    """Return how far a part of that line, cut off straight at its ends, leaves the window."""
    strand = shapely.LineString(line).buffer(half, cap_style="flat")
    left, head, right, foot = strand.bounds
    across = max(-left, right) - card.reach
    return float(max(across, card.margin - head, foot - (card.height - card.margin)))


def _kept_length(part: HandPart, card: Card) -> float:
    """Return how much of a part's middle line may stay for it to be inside."""
    line = shapely.LineString(part.path)
    low, high = 0.0, float(line.length)
    for _ in range(20):
        middle = (low + high) / 2
        kept = shapely.get_coordinates(substring(line, 0, middle))
        inside = _beyond(kept, part.diameter / 2, card) <= 0
        low, high = (middle, high) if inside else (low, middle)
    return low


def _faded(part: HandPart) -> Finding:
    return Finding(
        rule="needle-tip",
        severity="note",
        where=f"hand part {part.id}",
        measured=round(part.length, 1),
        limit=None,
        advice=(
            f"Part {part.id} ends in a point finer than the picture shows: it may have been drawn "
            f"up to {part.uncertainty:.1f} mm longer than {part.length:.1f} mm. Cut it long and "
            "trim it by eye."
        ),
    )
