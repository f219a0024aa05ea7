"""Finding the motif: overlap with the truth, feelers kept, and whether doubt falls where it should.

The truth's holes are filled, as the question here is what belongs to the motif.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely

from tests.bench import measure, pictures
from tests.bench.pictures import Case
from trace2pop import limits
from trace2pop.errors import TraceError
from trace2pop.geometry import beziers
from trace2pop.model.settings import TraceSettings
from trace2pop.stages.trace import trace

_SPUR_DETAIL = 0.005
"""mm: a spur is at least 1 mm wide, so a truth this much simplified has the same ones."""


@dataclass(frozen=True)
class Row:
    """What came of one picture. ``error`` is set where there was no trace at all.

    ``rings`` are the traced contours, each (n, 2) in mm, the outer one first.
    """

    case: Case
    iou: float
    kind: str
    confidence: float
    doubts: tuple[str, ...]
    spurs: tuple[float, float]
    error: str = ""
    rings: tuple[np.ndarray, ...] = ()

    @property
    def doubted(self) -> bool:
        """Whether the maker was told not to trust it."""
        return bool(self.error) or self.confidence < limits.CONFIDENCE.value


def measured(case: Case) -> Row:
    """Trace one picture as a maker would, without naming its kind."""
    true = shapely.Polygon(pictures.truth(case).exterior)
    plain = true.simplify(_SPUR_DETAIL)
    try:
        motif = trace(pictures.artwork(case), TraceSettings(trust=True))
    except TraceError as error:
        return Row(case, 0.0, "none", 0.0, (), measure.spurs(plain, shapely.Polygon()), str(error))
    chains = (motif.outline.outer, *motif.outline.holes)
    rings = tuple(beziers.flatten(chain, 0.01) for chain in chains)
    found = shapely.make_valid(shapely.Polygon(rings[0]))
    return Row(
        case,
        measure.iou(found, true),
        motif.kind,
        motif.confidence,
        tuple(finding.rule for finding in motif.findings if finding.severity == "doubt"),
        measure.spurs(plain, found),
        rings=rings,
    )


def table(found: Iterable[Row]) -> str:
    """Return overlap and doubts by kind and light as a table in Markdown."""
    found = list(found)
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


def astray(found: Iterable[Row]) -> str:
    """Return one line for each picture below 0.98, and for each good one that is doubted."""
    return "\n".join(
        f"{row.case.key}: {row.iou:.3f}, {row.confidence:.0%} sure, "
        f"{row.error or ' '.join(row.doubts) or 'no doubt'}"
        for row in found
        if row.iou < 0.98 or row.doubted
    )
