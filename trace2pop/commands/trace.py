"""trace2pop trace: the outline of a picture's motif, without a card."""

import json
from collections.abc import Mapping
from pathlib import Path

from trace2pop import output
from trace2pop.commands.describe import describe
from trace2pop.console import Console
from trace2pop.formats.trace_files import outline_svg, trace_png
from trace2pop.geometry import beziers
from trace2pop.model.artwork import Motif
from trace2pop.model.settings import Settings
from trace2pop.pipeline import traced
from trace2pop.settings import with_options


def trace(
    picture: Path, out: Path, options: Mapping[str, object], *, force: bool, console: Console
) -> None:
    """Make a folder with outline.svg in drawn mm, trace.png to look at, and trace.json.

    Raises:
        Trace2popError: where the picture can't be read or traced or the folder can't be written.
    """
    settings = with_options(Settings(), options)
    with output.opened(out.absolute(), force=force, rerun=False) as delivery:
        motif = traced(picture, settings, lambda value: console.stage(*describe(value)))
        delivery.deliver(
            {
                "outline.svg": outline_svg(motif),
                "trace.png": trace_png(motif),
                "trace.json": _json(motif),
            }
        )
    findings = (*motif.artwork.findings, *motif.findings)
    console.findings(findings)
    console.result([("folder", str(out)), ("next", "look at trace.png: is the line right?")])


def _json(motif: Motif) -> bytes:
    left, top, right, bottom = beziers.bounds(motif.outline.outer)
    scale, axis = motif.artwork.scale, motif.axis
    rows = {
        "schema": "trace2pop-trace-1",
        "kind": motif.kind,
        "confidence": round(motif.confidence, 4),
        "scale": {
            "source": scale.source,
            "mm_per_px": scale.mm_per_px,
            "uncertainty": scale.uncertainty,
        },
        "size": [round(right - left, 4), round(bottom - top, 4)],
        "curves": len(motif.outline.outer) + sum(len(hole) for hole in motif.outline.holes),
        "holes": len(motif.outline.holes),
        "axis": axis
        and {
            "point": [round(value, 4) for value in axis.point],
            "tilt_deg": round(axis.tilt_deg, 3),
            "score": round(axis.score, 4),
        },
        "findings": [
            {"rule": item.rule, "severity": item.severity, "where": item.where,
             "measured": item.measured, "limit": item.limit, "advice": item.advice}
            for item in (*motif.artwork.findings, *motif.findings)
        ],
    }  # fmt: skip
    return (json.dumps(rows, indent=1, ensure_ascii=False) + "\n").encode()
