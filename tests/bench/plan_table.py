"""Every motif of the open icon sets on three cards at three rises: what is planned, how fast.

    python -m tests.bench.plan_table [--every 4] [--halved]

Settings are the defaults throughout; nothing is tuned to a motif. Every plan is judged by the
mechanism's predicates and its sag on the finer net. ``--halved`` plans again with candidate lines
half as far apart. Times are processor seconds from fit to proved beams, beside a dense solve of
1200 unknowns in the same run.
"""

import argparse
import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely

from tests.bench import corpus
from trace2pop.errors import Trace2popError
from trace2pop.geometry import beziers
from trace2pop.mechanism.predicates import Ground, faults, glued_runs
from trace2pop.model.artwork import Motif
from trace2pop.model.card import CardPlan
from trace2pop.model.settings import CardSettings, Settings
from trace2pop.pipeline import plan_that_holds, traced
from trace2pop.stages.supports import stage

CARDS = {"A6": (105.0, 148.0), "5 x 7 in": (127.0, 177.8), "8 x 10 in": (203.2, 254.0)}
RISES = (15.0, 20.0, 30.0)
DRAWN = 120.0
"""The longer side of the drawing, mm."""


@dataclass(frozen=True)
class Row:
    """What came of one motif on one card."""

    name: str
    card: str
    rise: float
    seconds: float
    plan: CardPlan | None
    refusal: Trace2popError | None

    @property
    def length(self) -> float:
        """The fold lines' summed length."""
        return 0.0 if self.plan is None else sum(b.v1 - b.v0 for b in self.plan.beams)


def motif(name: str, folder: Path) -> Motif:
    """Return an icon read from an SVG file, as the program reads a maker's own vector."""
    shape = corpus.silhouette(name)
    left, top, right, bottom = shape.bounds
    scale = DRAWN / max(right - left, bottom - top)
    file = folder / f"{name.replace(':', '-')}.svg"
    path = " ".join(
        "M " + " L ".join(f"{x:.4f},{y:.4f}" for x, y in ring.coords[:-1]) + " Z"
        for ring in (shape.exterior, *shape.interiors)
    )
    file.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{(right - left) * scale}mm" '
        f'height="{(bottom - top) * scale}mm" viewBox="{left} {top} {right - left} {bottom - top}">'
        f'<path fill-rule="evenodd" d="{path}"/></svg>'
    )
    return traced(file, Settings())


def planned(drawn: Motif, name: str, card: str, rise: float) -> Row:
    """Return what comes of one motif on one card."""
    settings = replace(Settings(), card=CardSettings(size=CARDS[card], rise=rise))
    start = time.process_time()
    try:
        plan = plan_that_holds(drawn, settings)
    except Trace2popError as refusal:
        return Row(name, card, rise, time.process_time() - start, None, refusal)
    return Row(name, card, rise, time.process_time() - start, plan, None)


def broken(plan: CardPlan) -> list[str]:
    """Return the rules a plan breaks."""
    cut = plan.cut
    shape = shapely.Polygon(beziers.polygon(cut.outline))
    ground = Ground(cut.placed.card, shape, glued_runs(cut.hand_parts), 2.0, 300.0)
    found = [str(fault) for fault in faults(ground, plan.beams)]
    if plan.sag.max > plan.sag.limit:
        found.append(f"sags {plan.sag.max:.2f} mm")
    if plan.closed.reach > plan.closed.limit + 1e-6:
        found.append("shows when closed")
    return found


def reference() -> float:
    """Return the processor seconds of a fixed dense solve."""
    matrix = np.random.default_rng(0).normal(size=(1200, 1200)) + 60 * np.eye(1200)
    start = time.process_time()
    np.linalg.solve(matrix, matrix[:, :400])
    return time.process_time() - start


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--halved", action="store_true")
    given = parser.parse_args()
    rows: list[Row] = []
    again: list[Row] = []
    with tempfile.TemporaryDirectory() as folder:
        for name in (*corpus.DEV, *corpus.HELD_OUT)[:: given.every]:
            drawn = motif(name, Path(folder))
            for card in CARDS:
                for rise in RISES:
                    row = planned(drawn, name, card, rise)
                    rows.append(row)
                    print(line(row), flush=True)
                    if given.halved and row.plan is not None:
                        stage.SPACING, stage.LINES = stage.SPACING / 2, stage.LINES * 2
                        again.append(planned(drawn, name, card, rise))
                        stage.SPACING, stage.LINES = stage.SPACING * 2, stage.LINES // 2
                        print(line(again[-1]), flush=True)
    print(summary(rows))
    if again:
        print(compared([row for row in rows if row.plan is not None], again))


def line(row: Row) -> str:
    """Return a row's line."""
    head = f"{row.name:36} {row.card:9} {row.rise:4.0f} {row.seconds:5.2f} s"
    if row.plan is None:
        return f"{head}  refused ({type(row.refusal).__name__}): {row.refusal}"
    plan = row.plan
    smaller = [f for f in plan.cut.placed.findings if f.rule == "smaller-to-hold"]
    share = (smaller[0].measured or 1) / (smaller[0].limit or 1) if smaller else 1.0
    told = f"{len(plan.beams)} beams {row.length:6.1f} mm, sag {plan.sag.max:.2f}, size {share:.2f}"
    bad = "; ".join(broken(plan))
    return f"{head}  {told}{', BROKEN: ' + bad if bad else ''}"


def summary(rows: list[Row]) -> str:
    """Return the table's last lines."""
    seconds = np.array([row.seconds for row in rows])
    fine = [row for row in rows if row.plan is not None]
    bad = sum(bool(broken(row.plan)) for row in fine if row.plan is not None)
    unit = reference()
    return (
        f"{len(rows)} runs, {len(fine)} planned ({len(fine) / len(rows):.1%}), {bad} break a rule; "
        f"median {np.median(seconds):.2f} s, 95th percentile {np.percentile(seconds, 95):.2f} s; "
        f"the reference solve {unit:.3f} s"
    )


def compared(rows: list[Row], again: list[Row]) -> str:
    """Return how halved spacing changes count and length."""
    counts, lengths = [], []
    for one, other in zip(rows, again, strict=True):
        assert one.plan is not None
        if other.plan is None or len(other.plan.beams) != len(one.plan.beams):
            counts.append(f"{one.name} {one.card} {one.rise:.0f}")
        else:
            lengths.append(other.length / one.length - 1)
    spread = np.abs(lengths)
    return (
        f"halved spacing: count differs in {len(counts)} of {len(rows)} ({', '.join(counts)}); "
        f"length by {np.median(spread):.2%} in the median, {spread.max():.2%} at most"
    )


if __name__ == "__main__":
    main()
