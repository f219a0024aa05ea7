"""The tracer's two tables, and whether its bars are met.

    python -m tests.bench.trace_tables [--dev] [--workers 2] [--overlays DIR]

Held-out motifs unless ``--dev``: those were never looked at while anything was set. Pictures are
rendered on the first run, which takes about a quarter of an hour of processor time, and kept beside
the corpus. Exits with 1 where a bar is missed.
"""

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2] / "samples"))

from tests.bench import finding_table, line_table, pictures
from tests.bench.finding_table import Row

KINDS = ("solid", "line", "line1", "line2", "colour", "printed", "alpha")
LIGHTS = ("clean", "bad")
Bar = tuple[str, float, float, bool]
"""What is measured, its value, its limit, and whether that is met."""


def main() -> int:
    """Print both tables and every bar."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--dev", action="store_true")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--overlays", type=Path)
    given = parser.parse_args()
    held_out = not given.dev
    cases = pictures.cases(KINDS, LIGHTS, held_out=held_out)
    pale = pictures.cases(("pale",), LIGHTS, held_out=held_out)
    found = finding_table.rows(cases, given.workers)
    white = finding_table.rows(pale, given.workers)
    print(finding_table.table(found), "\n")
    print("White art on white paper:\n")
    print(finding_table.table(white), "\n")
    bars = list(finding_bars(found, white))
    for light in ("perfect", "bad"):
        rows = line_table.rows(pictures.cases(("solid",), (light,), held_out=held_out))
        print(f"The line, {light}:\n\n{line_table.table(rows)}\n")
        bars += line_bars(rows, light)
    for name, value, limit, met in bars:
        print(f"{'met   ' if met else 'MISSED'} {name}: {value:.4g}, bar {limit:.4g}")
    if given.overlays:
        given.overlays.mkdir(parents=True, exist_ok=True)
        for kind in KINDS:
            for light in LIGHTS:
                some = pictures.cases((kind,), (light,), held_out=held_out)
                finding_table.overlays(some, given.overlays / f"{kind}-{light}.png")
    return 0 if all(met for *_, met in bars) else 1


def finding_bars(found: list[Row], white: list[Row]) -> Iterator[Bar]:
    """Yield the bars on finding the motif."""
    counted = [row for row in found if row.case.gap < 2]
    iou = np.array([row.iou for row in counted])
    good = [row for row in counted if row.iou >= 0.98]
    total, there = np.sum([row.spurs for row in counted], axis=0)
    wide = [row.iou >= 0.98 for row in found if row.case.gap == 2]
    unsaid = sum(row.iou < 0.9 and not row.doubted for row in (*found, *white))
    astray = sum(row.iou < 0.98 and not row.doubted for row in white)
    yield _least("share of pictures with IoU of 0.98", np.mean(iou >= 0.98), 0.95)
    yield _least("median IoU", np.median(iou), 0.995)
    yield _most("pictures below 0.9 not doubted", unsaid, 0)
    yield _most("share of good pictures doubted", np.mean([r.doubted for r in good]), 0.05)
    yield _least("share of the length of spurs that is there", there / total, 0.95)
    yield _least("share of drawings with 2 mm gaps at 0.98", np.mean(wide), 0.8)
    yield _most("white art traced wrong and not doubted", astray, 0)


def line_bars(rows: list[line_table.Row], light: str) -> Iterator[Bar]:
    """Yield the bars on the line itself, beside potrace."""
    ours, potrace, port = (
        [row for row in rows if row.tracer == name] for name in ("trace2pop", "potrace", "potracer")
    )
    name = {"perfect": "clean", "bad": "photo"}[light]
    yield _most(f"{name}: mean mm", _mean(ours, "mean"), {"clean": 0.0105, "photo": 0.0155}[name])
    yield _most(f"{name}: 99th percentile mm", _mean(ours, "p99"), _mean(potrace, "p99"))
    yield _most(f"{name}: largest mm", _mean(ours, "worst"), _mean(potrace, "worst"))
    segments = [sum(row.segments for row in some) for some in (ours, potrace)]
    yield _most(f"{name}: segments over potrace's", segments[0] / segments[1], 0.7)
    spent = [float(np.median([row.seconds for row in some])) for some in (ours, port)]
    yield _most(f"{name}: time over the port's", spent[0] / spent[1], 0.5)


def _mean(rows: list[line_table.Row], name: str) -> float:
    return float(np.mean([getattr(row.seen, name) for row in rows]))


def _least(name: str, value: float, limit: float) -> Bar:
    return name, float(value), limit, bool(value >= limit)


def _most(name: str, value: float, limit: float) -> Bar:
    return name, float(value), limit, bool(value <= limit)


if __name__ == "__main__":
    sys.exit(main())
