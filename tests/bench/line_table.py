"""The line itself: deviation, segments and time beside other tracers, on the same pictures."""

import time
from collections.abc import Iterable
from dataclasses import dataclass

import cv2
import numpy as np
import render
import shapely
from shapely import affinity

from tests.bench import corpus, measure, pictures, tracers
from tests.bench.pictures import Case
from trace2pop.geometry import beziers
from trace2pop.model.settings import TraceSettings
from trace2pop.stages.trace import trace
from trace2pop.stages.trace.outlining import outline_of, pieces_of

LARGE_MM, LARGE_PX_PER_MM = 120.0, 20.0
"""A motif's longer side and the density it is drawn at, where only the time counts."""


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


def large_seconds(*, held_out: bool) -> list[float]:
    """Return the processor time from contour to Beziers of each motif at ``LARGE_MM``, in s.

    The check that nothing crosses is part of it. The coverage is rendered, with the blur it has in
    a clean scan.
    """
    spent = []
    for case in pictures.cases(("solid",), ("perfect",), held_out=held_out):
        shape = corpus.placed(case.name, case.number, LARGE_MM)
        left, top, right, bottom = shape.bounds
        shape = affinity.translate(shape, 5 - left, 5 - top)
        page = pictures.svg(
            pictures.filled(shape, "#000000"), (right - left + 10, bottom - top + 10)
        )
        cover = render.page_svg(page, LARGE_PX_PER_MM, transparent=True)[..., 3]
        soft = cv2.GaussianBlur(cover.astype(np.float32) / 255, (0, 0), 0.6)
        piece = pieces_of(np.asarray(soft, np.float32), LARGE_PX_PER_MM)[0]
        start = time.process_time()
        outline_of(piece, LARGE_PX_PER_MM, TraceSettings().tolerance)
        spent.append(time.process_time() - start)
    return spent


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


def above(found: list[Row]) -> str:
    """Return on which motifs our largest deviation is above potrace's, and both in mm."""
    ours, other = (
        {row.case.name: row.seen.worst for row in found if row.tracer == name}
        for name in ("trace2pop", "potrace")
    )
    more = [f"{n} ({ours[n]:.2f} / {other[n]:.2f})" for n in ours if ours[n] > other.get(n, np.inf)]
    return f"Largest deviation above potrace's on {len(more)} of {len(ours)}: {', '.join(more)}"
