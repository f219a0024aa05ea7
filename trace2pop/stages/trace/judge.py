"""How sure a trace is, from what can be measured along its outline."""

from dataclasses import dataclass

import cv2
import numpy as np

from trace2pop.model.finding import Finding
from trace2pop.stages.trace.ink import Ink, Mask
from trace2pop.stages.trace.light import Plane
from trace2pop.stages.trace.regions import Thing

_WEAK = 9.0
"""Colour difference across the outline that can hardly be told from grain."""

_WEAK_SHARE = 0.05
_AGREE = 0.97


@dataclass(frozen=True)
class Verdict:
    """Confidence 0..1 and the doubts that lowered it."""

    confidence: float
    findings: tuple[Finding, ...]


def judge(ink: Ink, thing: Thing, strict: Mask, px_per_mm: float, gap_mm: float) -> Verdict:
    """Return how sure the outline of ``thing`` is, and what is doubtful.

    ``strict`` is the same region as a stricter threshold finds it.
    """
    findings = []
    weak, place = weak_outline(ink.difference, thing.mask, px_per_mm)
    contrast = float(np.clip(1 - (weak - _WEAK_SHARE) / 0.3, 0, 1))
    if weak > _WEAK_SHARE:
        findings.append(
            _doubt(
                "pale-edge",
                place,
                100 * weak,
                100 * _WEAK_SHARE,
                f"along {weak:.0%} of its length the edge hardly differs from the paper; look at "
                "trace.png there, and if it is wrong lay the art on darker paper, or say --trust",
            )
        )
    agreement = float(strict.sum() / max(thing.mask.sum(), 1))
    steady = float(np.clip((agreement - 0.8) / (_AGREE - 0.8), 0, 1))
    if agreement < _AGREE:
        findings.append(
            _doubt(
                "unsure-region",
                "the motif",
                100 * agreement,
                100 * _AGREE,
                f"two ways of finding it agree on {agreement:.0%} only; a pale part may be missing",
            )
        )
    if thing.cut_off:
        findings.append(
            _doubt(
                "cut-by-edge",
                "the picture's edge",
                None,
                None,
                "the motif touches the edge of the picture; take it with some paper all round",
            )
        )
    if gap_mm > 0:
        findings.append(
            Finding(
                "pen-gap",
                "note",
                "the pen line",
                gap_mm,
                None,
                f"gaps of up to about {gap_mm:.1f} mm in the pen line were closed",
            )
        )
    confidence = contrast * steady * (0.4 if thing.cut_off else 1.0)
    return Verdict(confidence, tuple(findings))


def _doubt(
    rule: str, where: str, measured: float | None, limit: float | None, advice: str
) -> Finding:
    return Finding(rule, "doubt", where, measured, limit, advice)


def weak_outline(difference: Plane, mask: Mask, px_per_mm: float) -> tuple[float, str]:
    """Return the share of the outline with hardly any contrast, and where most of it lies.

    The difference just inside the edge is compared with that just outside.
    """
    solid = mask.astype(np.uint8)
    reach = max(2, round(0.25 * px_per_mm))
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1,) * 2)
    inside = cv2.dilate(np.where(mask, difference, 0).astype(np.float32), kernel)
    beyond = cv2.erode(np.where(mask, np.float32(1e3), difference).astype(np.float32), kernel)
    edge = (solid - cv2.erode(solid, np.ones((3, 3), np.uint8))) > 0
    step = (inside - beyond)[edge]
    weak = step < _WEAK
    if not weak.any():
        return 0.0, "the outline"
    rows, cols = np.nonzero(edge)
    x, y = np.median(cols[weak]) / px_per_mm, np.median(rows[weak]) / px_per_mm
    return float(weak.mean()), f"near {x:.0f} mm from the left, {y:.0f} mm from the top"
