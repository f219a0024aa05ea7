"""Every refusal of a plan table, looked at again by means that share nothing with the planner.

    python -m tests.bench.plan_table > plans.txt; python -m tests.bench.refusals plans.txt

A refusal is confirmed where no size has room for beams on the crease and on both halves
(tests/beam_room.py), or where some place of it bends too far by its own weight with a beam on every
line there is (tests/sag_check.py; the crease with its fold's stiffness, the raster's error given
away). Anything else is told as open, with the largest size at which beams everywhere would hold:
whether few enough of them keep apart is not judged here.
"""

import re
import sys
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely

from tests.beam_room import Ground, room
from tests.bench import plan_table
from tests.sag_check import Line, Sheet, hexagon, rigidity
from trace2pop import data
from trace2pop.errors import FitError, FragileError
from trace2pop.geometry import beziers
from trace2pop.mechanism.predicates import glued_runs
from trace2pop.model.artwork import Motif
from trace2pop.model.card import CutMotif
from trace2pop.model.settings import CardSettings, Settings
from trace2pop.pipeline import placed_on_card, stocks_of
from trace2pop.stages.cuttable import cuttable

SHARES = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4)
ROW = re.compile(r"(\S+) +(A6|5 x 7 in|8 x 10 in) +(\d+) .*refused \((\w+)\): (.*)")
LIMIT = 1.0
"""The most an end may bend by its own weight, mm."""
PAPER = (0.3, 5000.0, 2500.0, 0.3)
"""Cover stock of 216 g/m2: thickness in mm, moduli in N/mm2, Poisson's ratio."""
WEIGHT = 216e-9 * 9.80665
FOLD = 50.0
"""A sheet's bending stiffness over its fold's, mm."""
WIDTHS = (9.0, 7.0, 5.0, 3.0)
"""Flanges, the last resort among them."""
MANY = 400
"""Beams beyond which every second line is left out."""


@dataclass(frozen=True)
class Look:
    """What was found at one size: the reason why it can't be, empty where it might.

    ``sag`` in mm by its own weight with beams everywhere, 0 where that wasn't looked at.
    """

    share: float
    reason: str
    sag: float = 0.0


def cut_at(drawn: Motif, card: str, rise: float, share: float) -> CutMotif:
    """Return a motif as it would be cut at a share of its largest size."""
    settings = replace(Settings(), card=CardSettings(size=plan_table.CARDS[card], rise=rise))
    placed = placed_on_card(drawn, settings)
    if share < 1:
        left, _, right, _ = beziers.bounds(placed.outline.outer)
        size = replace(settings.motif, width=round((right - left) * share, 1))
        placed = placed_on_card(drawn, replace(settings, motif=size))
    cutter = data.cutter_of(settings.cutter)
    return cuttable(placed, settings.fragile, stocks_of(settings.stock)["motif"], cutter)


def ground_of(cut: CutMotif, widths: tuple[float, ...] = WIDTHS) -> Ground:
    """Return what the raster needs of a motif and its card."""
    card = cut.placed.card
    paper = beziers.polygon(cut.outline)
    glued = glued_runs(cut.hand_parts)
    return Ground(paper, card.half_width, card.height, card.web, widths=widths, taken=glued)


def look(cut: CutMotif, share: float = 1.0, widths: tuple[float, ...] = WIDTHS) -> Look:
    """Return why no beams can hold a motif, if so."""
    ground = ground_of(cut, widths)
    found = room(ground, generous=True)
    if not found.on(0):
        return Look(share, "no room on the crease")
    if cut.placed.symmetric and not found.alike():
        apart = "" if found.on(-1) and found.on(1) else ", nor unlike"
        return Look(share, "no room on both halves alike" + apart)
    for side, name in ((-1, "left"), (1, "right")):
        if not found.on(side):
            return Look(share, f"no room on the {name} half")
    if not found.together(alike=cut.placed.symmetric):
        return Look(share, "no room beside one another")
    at, sag = sag_on_all(ground, found.beams())
    place = f"{at[0]:.0f}, {at[1]:.0f}"
    if sag > LIMIT:
        return Look(share, f"bends {sag:.1f} mm by its own weight at {place}")
    strict = room(ground, generous=False)
    if all(strict.on(side) for side in (-1, 0, 1)):
        at, strictly = sag_on_all(ground, strict.beams())
        if strictly > LIMIT:
            reason = f"bends {sag:.1f} to {strictly:.1f} mm by its own weight at {place}"
            return Look(share, f"{reason}: within the raster's error")
    return Look(share, "", sag)


def sag_on_all(
    ground: Ground, beams: list[tuple[float, float, float, float]]
) -> tuple[np.ndarray, float]:
    """Return where a motif bends most by its own weight with all beams at once, and how far."""
    kept = beams if len(beams) < MANY else [beam for beam in beams if round(beam[0]) % 2 == 0]
    whole = shapely.union_all([hexagon(*beam) for beam in kept])
    lines = [Line(u, v0, v1, shapely.Polygon()) for u, v0, v1, _ in kept]
    lines[0] = replace(lines[0], flanges=whole)
    stiff = rigidity(*PAPER)
    places, sag = Sheet(ground.paper).sag(stiff, stiff, WEIGHT, lines, float(stiff[0, 0]) / FOLD)
    worst = int(np.abs(sag).argmax())
    return places[worst], float(abs(sag[worst]))


def some_crease(drawn: Motif, cut_ground: Ground, reach: float, window: float) -> list[float]:
    """Return the creases, every mm of the drawing, with room for a beam at their largest size."""
    solid = beziers.polygon(drawn.outline)
    left, top, right, bottom = solid.bounds
    found = []
    for crease in np.arange(left + 1, right, 1.0):
        scale = min(reach / max(crease - left, right - crease), window / (bottom - top))
        middle = np.array([crease, (top + bottom) / 2])
        grown = shapely.transform(
            solid, lambda p, m=middle, k=scale: (p - m) * k + [0, cut_ground.height / 2]
        )
        if room(replace(cut_ground, paper=grown, widths=WIDTHS[-1:]), generous=True).on(0):
            found.append(float(crease))
    return found


def judged(drawn: Motif, card: str, rise: float) -> list[Look]:
    """Return what was found at each size."""
    looks = []
    for share in SHARES:
        try:
            cut = cut_at(drawn, card, rise, share)
        except FragileError:
            looks.append(Look(share, "can't be cut as one piece"))
        except FitError:
            looks.append(
                Look(share, "" if share == 1 and free_crease(drawn, card, rise) else "no crease")
            )
        else:
            looks.append(look(cut, share))
    return looks


def free_crease(drawn: Motif, card: str, rise: float) -> list[float]:
    """Return the creases with room on a card that the planner found none on."""
    width, height = plan_table.CARDS[card]
    border, margin, web = 3.0, 3.0, rise + 0.3
    ground = Ground(shapely.Polygon(), width - border, height - 2 * border, web)
    reach, window = ground.half_width - web - margin, ground.height - 2 * margin
    return some_crease(drawn, ground, reach, window)


def main() -> None:
    """Print a line for each refusal, and how many are confirmed."""
    rows = [ROW.match(text) for text in Path(sys.argv[1]).read_text("utf-8").splitlines()]
    refused = [row.groups() for row in rows if row]
    confirmed = 0
    with tempfile.TemporaryDirectory() as folder:
        for name, card, rise, kind, text in refused:
            looks = judged(plan_table.motif(name, Path(folder)), card, float(rise))
            open_at = [each for each in looks if not each.reason]
            confirmed += not open_at
            verdict = "confirmed"
            if open_at:
                verdict = f"open at {open_at[0].share:.0%} of its size, {open_at[0].sag:.2f} mm"
            told = "; ".join(f"{each.share:.1f} {each.reason}" for each in looks if each.reason)
            print(f"{name:36} {card:9} {rise:>3} {kind}: {text[:60]}", flush=True)
            print(f"    {verdict}. {told}", flush=True)
    print(f"{len(refused)} refusals, {confirmed} confirmed, {len(refused) - confirmed} open")


if __name__ == "__main__":
    main()
