"""Finding the motif: overlap with the truth, feelers kept, and whether doubt falls where it should.

The truth's holes are filled, as the question here is what belongs to the motif.
"""

from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import shapely

from tests.bench import measure, pictures
from tests.bench.pictures import Case
from trace2pop import limits
from trace2pop.errors import TraceError
from trace2pop.geometry import beziers
from trace2pop.model.settings import TraceSettings
from trace2pop.stages.trace import trace


@dataclass(frozen=True)
class Row:
    """What came of one picture. ``error`` is set where there was no trace at all."""

    case: Case
    iou: float
    kind: str
    confidence: float
    doubts: tuple[str, ...]
    spurs: tuple[float, float]
    error: str = ""

    @property
    def doubted(self) -> bool:
        """Whether the maker was told not to trust it."""
        return bool(self.error) or self.confidence < limits.CONFIDENCE.value


def measured(case: Case) -> Row:
    """Trace one picture as a maker would, without naming its kind."""
    true = shapely.Polygon(pictures.truth(case).exterior)
    try:
        motif = trace(pictures.artwork(case), TraceSettings(trust=True))
    except TraceError as error:
        return Row(case, 0.0, "none", 0.0, (), measure.spurs(true, shapely.Polygon()), str(error))
    found = shapely.make_valid(shapely.Polygon(beziers.flatten(motif.outline.outer, 0.01)))
    return Row(
        case,
        measure.iou(found, true),
        motif.kind,
        motif.confidence,
        tuple(finding.rule for finding in motif.findings if finding.severity == "doubt"),
        measure.spurs(true, found),
    )


def rows(cases: Iterable[Case], workers: int = 2) -> list[Row]:
    """Trace all cases."""
    if workers == 1:
        return [measured(case) for case in cases]
    with ProcessPoolExecutor(workers) as pool:
        return list(pool.map(measured, cases))


def table(found: list[Row]) -> str:
    """Return overlap and doubts by kind and light as a table in Markdown."""
    lines = [
        "| pictures | n | IoU median | mean | least | at 0.98 | doubted of those "
        "| below 0.9 unsaid | spurs kept |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    groups: dict[str, list[Row]] = {}
    for row in found:
        gap = f", {row.case.gap:g} mm gaps" if row.case.gap else ""
        groups.setdefault(f"{row.case.kind}{gap}, {row.case.light}", []).append(row)
    for name, mine in [*groups.items(), ("all", found)]:
        iou = np.array([row.iou for row in mine])
        good = iou >= 0.98
        doubted = np.array([row.doubted for row in mine])
        unsaid = sum(row.iou < 0.9 and not row.doubted for row in mine)
        total, there = np.sum([row.spurs for row in mine], axis=0)
        lines.append(
            f"| {name} | {len(mine)} | {np.median(iou):.4f} | {iou.mean():.4f} | {iou.min():.3f} "
            f"| {good.mean():.0%} | {(doubted & good).sum()} | {unsaid} "
            f"| {there / max(total, 1e-9):.1%} of {total:.0f} mm |"
        )
    return "\n".join(lines)


def overlays(cases: list[Case], target: Path, columns: int = 8, side: int = 420) -> None:
    """Write a sheet of the pictures with the traced outline over each."""
    tiles = [_tile(case, side) for case in cases]
    tiles += [np.full((side, side, 3), 255, np.uint8)] * (-len(tiles) % columns)
    lines = [np.hstack(tiles[k : k + columns]) for k in range(0, len(tiles), columns)]
    cv2.imwrite(str(target), np.vstack(lines)[..., ::-1])


def _tile(case: Case, side: int) -> np.ndarray:
    artwork = pictures.artwork(case)
    view = artwork.rgb.copy()
    if artwork.alpha is not None:
        view[artwork.alpha < 128] = (200, 220, 240)
    text = case.name.split(":")[1][:16]
    try:
        motif = trace(artwork, TraceSettings(trust=True))
        doubts = [f.rule for f in motif.findings if f.severity == "doubt"]
        text += f" {motif.kind} {motif.confidence:.2f} {' '.join(doubts)}"
        for chain in (motif.outline.outer, *motif.outline.holes):
            line = np.round(beziers.flatten(chain, 0.02) * artwork.px_per_mm * 16 - 8)
            cv2.polylines(view, [line.astype(np.int32)], True, (255, 0, 160), 4, cv2.LINE_AA, 4)
    except TraceError as error:
        text += f" {str(error)[:40]}"
    rows, cols = view.shape[:2]
    span = min(rows, cols)
    top, left = (rows - span) // 2, (cols - span) // 2
    tile = cv2.resize(
        view[top : top + span, left : left + span], (side, side), interpolation=cv2.INTER_AREA
    )
    cv2.putText(tile, text, (4, side - 6), cv2.FONT_HERSHEY_SIMPLEX, 0.38, (0, 0, 0), 1)
    return tile
