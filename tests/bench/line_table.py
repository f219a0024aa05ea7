"""The line itself: deviation, segments and time beside other tracers, on the same pictures."""

import time
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely

from tests.bench import measure, pictures, tracers
from tests.bench.pictures import Case
from trace2pop.geometry import beziers
from trace2pop.model.settings import TraceSettings
from trace2pop.stages.trace import trace


@dataclass(frozen=True)
class Row:
    """One tracer on one picture."""

    tracer: str
    case: Case
    seen: measure.Agreement
    segments: int
    seconds: float


def rows(cases: Iterable[Case]) -> list[Row]:
    """Trace all cases with all tracers."""
    found = []
    for case in cases:
        true = pictures.truth(case)
        artwork = pictures.artwork(case)
        density = artwork.px_per_mm
        found.append(ours(case, artwork, true))
        mask = tracers.mask_of(artwork.rgb, density)
        for name, tracer in tracers.available().items():
            chains, seconds = tracer(mask)
            chains = [chain / density for chain in chains]
            seen = measure.agreement(measure.shape_of(chains), true)
            found.append(Row(name, case, seen, sum(map(len, chains)), seconds))
    return found


def ours(case: Case, artwork: object, true: shapely.Polygon) -> Row:
    """Return our row; its time is that from the contour's points to Beziers."""
    from trace2pop.stages.trace import outlining  # patched for timing

    settings = TraceSettings(kind="solid", trust=True)
    spent: list[float] = []
    plain = outlining.fit_closed

    def timed(*given: object) -> np.ndarray:
        start = time.process_time()
        chain = plain(*given)  # type: ignore[arg-type]  # handed through
        spent.append(time.process_time() - start)
        return chain

    outlining.fit_closed = timed
    try:
        motif = trace(artwork, settings)  # type: ignore[arg-type]  # an Artwork
    finally:
        outlining.fit_closed = plain
    shape = beziers.polygon(motif.outline, 0.001)
    seen = measure.agreement(shape, true)
    return Row("trace2pop", case, seen, measure.segments(motif.outline), sum(spent))


def table(found: list[Row]) -> str:
    """Return the rows' means by tracer as a table in Markdown."""
    lines = [
        "| tracer | mean mm | p99 mm | largest mm (median / worst) | IoU | segments | s (median) |",
        "|---|---|---|---|---|---|---|",
    ]
    for name in dict.fromkeys(row.tracer for row in found):
        mine = [row for row in found if row.tracer == name]
        worst = np.array([row.seen.worst for row in mine])
        lines.append(
            f"| {name} | {np.mean([r.seen.mean for r in mine]):.4f} "
            f"| {np.mean([r.seen.p99 for r in mine]):.4f} "
            f"| {worst.mean():.3f} ({np.median(worst):.3f} / {worst.max():.2f}) "
            f"| {np.mean([r.seen.iou for r in mine]):.4f} "
            f"| {np.mean([r.segments for r in mine]):.0f} "
            f"| {np.median([r.seconds for r in mine]):.3f} |"
        )
    return "\n".join(lines)
