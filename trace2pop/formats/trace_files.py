"""What a trace leaves to use: the outline in mm, and what was found in numbers."""

import json
from collections.abc import Sequence

import numpy as np

from trace2pop.errors import TraceError
from trace2pop.formats.svg import document, path_data
from trace2pop.geometry import beziers
from trace2pop.model.artwork import Candidate, Motif
from trace2pop.model.outline import Outline


def outline_svg(motif: Motif, *, in_place: bool = False) -> bytes:
    """Return the outline as SVG in drawn mm, on the picture or, ``in_place``, on its sheet.

    Raises:
        TraceError: in place, where the drawn size isn't known.
    """
    outline, size = placed(motif, in_place=in_place)
    style = 'class="cut" fill="none" stroke="#000000" stroke-width="0.2"'
    chains = (outline.outer, *outline.holes)
    body = [f'<path {style} d="{path_data(chain, closed=True)}"/>' for chain in chains]
    return document(size, "outline", body)


def placed(motif: Motif, *, in_place: bool) -> tuple[Outline, tuple[float, float]]:
    """Return the outline and the width and height in mm of what it lies on.

    That is the picture as it was laid flat; ``in_place`` it is the sheet of paper from its head
    left corner, or the whole scan where no sheet was looked for.

    Raises:
        TraceError: in place, where the drawn size isn't known.
    """
    artwork = motif.artwork
    rows, cols = artwork.rgb.shape[:2]
    size = (cols / artwork.px_per_mm, rows / artwork.px_per_mm)
    if not in_place:
        return motif.outline, size
    if artwork.scale.source == "none":
        raise TraceError(
            "to cut the paper where it lies its true size must be known, and this picture doesn't "
            "tell it",
            "say --dpi of the scan, --drawn-width of the motif or --paper of the sheet, or take "
            "the picture in the capture frame",
        )
    if artwork.page is None:
        return motif.outline, size
    corner = artwork.page.min(axis=0)
    shift = np.column_stack([np.eye(2), -corner])
    width, height = np.ptp(artwork.page, axis=0)
    return beziers.transform_outline(motif.outline, shift), (float(width), float(height))


def trace_json(motif: Motif, things: Sequence[Candidate], *, in_place: bool = False) -> bytes:
    """Return what was found, in numbers. Places are mm on what ``placed`` says."""
    outline, lies_on = placed(motif, in_place=in_place)
    corner = np.array(beziers.bounds(outline.outer)[:2])
    shift = corner - beziers.bounds(motif.outline.outer)[:2]
    left, top, right, bottom = beziers.bounds(outline.outer)
    artwork, axis = motif.artwork, motif.axis
    findings = (*artwork.findings, *motif.findings)
    rows = {
        "schema": "trace2pop-trace-1",
        "picture": {"name": artwork.name, "size_px": list(artwork.source_size_px)},
        "kind": motif.kind,
        "confidence": round(motif.confidence, 4),
        "scale": {
            "source": artwork.scale.source,
            "mm_per_px": artwork.scale.mm_per_px,
            "uncertainty": artwork.scale.uncertainty,
        },
        "lies_on": {
            "what": "sheet" if in_place and artwork.page is not None else "picture",
            "size": [round(side, 4) for side in lies_on],
        },
        "box": [round(value, 4) for value in (left, top, right, bottom)],
        "size": [round(right - left, 4), round(bottom - top, 4)],
        "curves": len(outline.outer) + sum(len(hole) for hole in outline.holes),
        "holes": len(outline.holes),
        "axis": axis
        and {
            "point": _rounded(axis.point + shift),
            "tilt_deg": round(axis.tilt_deg, 3),
            "score": round(axis.score, 4),
        },
        "things": [_thing(thing, shift) for thing in things],
        "doubts": [
            {"rule": doubt.rule, "at": _rounded(shift + np.array([doubt.x, doubt.y]))}
            for doubt in motif.doubts
        ],
        "findings": [
            {"rule": item.rule, "severity": item.severity, "where": item.where,
             "measured": item.measured, "limit": item.limit, "advice": item.advice}
            for item in findings
        ],
    }  # fmt: skip
    return (json.dumps(rows, indent=1, ensure_ascii=False) + "\n").encode()


def _thing(thing: Candidate, shift: np.ndarray) -> dict[str, object]:
    low, high = thing.outline.min(axis=0) + shift, thing.outline.max(axis=0) + shift
    return {
        "number": thing.number,
        "taken": thing.taken,
        "cut_off": thing.cut_off,
        "box": _rounded([*low, *high]),
    }


def _rounded(values: Sequence[float] | np.ndarray) -> list[float]:
    return [round(float(value), 4) for value in values]
