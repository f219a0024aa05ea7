"""card.json: the plan in numbers. Its keys are public (docs/formats.md)."""

import json
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from trace2pop.formats.proof_json import closed_keys, proof_keys
from trace2pop.geometry import beziers
from trace2pop.model.card import Beam, Card, Choice, CutMotif, HandPart, LooseIsland, PlacedMotif
from trace2pop.model.finding import Finding
from trace2pop.model.outline import FloatArray
from trace2pop.model.pieces import Part, Sheet, Sheets
from trace2pop.model.stock import Stocks

SCHEMA = "trace2pop-card-1"
DECIMALS = 4


def card_json(
    sheets: Sheets, stocks: Stocks, findings: Iterable[Finding], files: Mapping[str, str]
) -> bytes:
    """Return card.json. ``files`` maps part and sheet names to the files they were written to."""
    plan = sheets.parts.plan
    cut, card = plan.cut, plan.cut.placed.card
    document = {
        "schema": SCHEMA,
        "card": _card(card),
        "window": dict(zip(("width", "height"), map(_mm, card.window), strict=True)),
        "scale": _scale(cut.placed),
        "motif": _motif(cut),
        "hand_parts": [_hand_part(part) for part in cut.hand_parts],
        "islands": [_island(island) for island in cut.islands],
        "supports": [_support(beam) for beam in plan.beams],
        "choice": _choice(plan.choice),
        "sag": {
            "max": _mm(plan.sag.max),
            "limit": _mm(plan.sag.limit),
            "at": _pair(plan.sag.at),
            "handling_load": plan.sag.handling_load,
            "free": [{"at": _pair(end.at), "max": _mm(end.sag)} for end in plan.sag.free],
        },
        "stock": {role: _stock(role, stocks) for role in sorted(stocks)},
        "closed": {
            "reach": _mm(plan.closed.reach),
            "limit": _mm(plan.closed.limit),
            "thickness": _mm(plan.closed.thickness),
            "layers": list(plan.closed.layers),
            "at": _pair(plan.closed.at),
            **closed_keys(plan.closed),
        },
        **(proof_keys(plan.proof) if plan.proof else {}),
        "cutter": {
            "name": sheets.cutter.name,
            "area": _pair(sheets.cutter.area),
            "inset": _mm(sheets.cutter.inset),
            "min_feature": _mm(sheets.cutter.min_feature),
        },
        "parts": [_part(part, files[part.name]) for part in sheets.parts.parts],
        "sheets": [_sheet(sheet, files[sheet.name]) for sheet in sheets.sheets],
        "findings": [_finding(finding) for finding in findings],
    }
    return (json.dumps(document, indent=1, ensure_ascii=False) + "\n").encode()


def _mm(value: float) -> float:
    return round(float(value), DECIMALS) + 0.0


def _maybe(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.8g}")


def _pair(pair: Iterable[float]) -> list[float]:
    return [_mm(value) for value in pair]


def _line(points: FloatArray) -> list[list[float]]:
    return [_pair(point) for point in points]


def _choice(choice: Choice | None) -> dict[str, Any] | None:
    if choice is None:
        return None
    return {
        "length": _mm(choice.length),
        "least": _mm(choice.least),
        "gap": round(choice.gap, 4) + 0.0,
        "tried": choice.tried,
    }


def _card(card: Card) -> dict[str, Any]:
    return {
        "half_width": _mm(card.half_width),
        "height": _mm(card.height),
        "rise": _mm(card.rise),
        "web": _mm(card.web),
        "margin": _mm(card.margin),
        "border": _mm(card.border),
        "outer": {
            "width": _mm(card.outer.width),
            "height": _mm(card.outer.height),
            "spine": card.outer.spine,
        },
    }


def _scale(placed: PlacedMotif) -> dict[str, Any]:
    scale = placed.motif.artwork.scale
    return {
        "source": scale.source,
        "mm_per_px": _maybe(scale.mm_per_px),
        "uncertainty": _maybe(scale.uncertainty),
    }


def final_mm_per_px(placed: PlacedMotif) -> float:
    """Return the final size of a source pixel, in the middle of the picture."""
    artwork = placed.motif.artwork
    cols, rows = artwork.size_px
    middle = np.array([cols / 2, rows / 2, 1.0])[:, None]
    steps = artwork.to_source @ (middle + np.array([[0, 1, 0], [0, 0, 1], [0, 0, 0]]))
    origin, right, down = (steps[:2] / steps[2]).T
    area = abs(np.linalg.det(np.stack([right - origin, down - origin])))
    return float(placed.scale / artwork.px_per_mm / np.sqrt(area))


def _motif(cut: CutMotif) -> dict[str, Any]:
    placed = cut.placed
    left, head, right, foot = beziers.bounds(cut.outline.outer)
    hand = [_hand_reach(part) for part in cut.hand_parts if part.choice == "hand"]
    known = placed.motif.artwork.scale.source != "none"
    return {
        "width": _mm(right - left),
        "height": _mm(foot - head),
        "scale": _maybe(placed.scale) if known else None,
        "final_mm_per_px": _maybe(final_mm_per_px(placed)),
        "reach_left": _mm(-left),
        "reach_right": _mm(right),
        "reach_left_with_hand": _mm(max([-left, *(-low for low, _ in hand)])),
        "reach_right_with_hand": _mm(max([right, *(high for _, high in hand)])),
        "symmetric": placed.symmetric,
        "limited_by": list(placed.limited_by),
    }


def _hand_reach(part: HandPart) -> tuple[float, float]:
    """Return the least and largest u of a part's visible middle lines, with half its thickness."""
    u = np.concatenate([line[:, 0] for line in (part.path, *part.branches)])
    return float(u.min()) - part.diameter / 2, float(u.max()) + part.diameter / 2


def _hand_part(part: HandPart) -> dict[str, Any]:
    return {
        "id": part.id,
        "kind": part.kind,
        "length": _mm(part.length),
        "root_width": _mm(part.root_width),
        "tip_width": _mm(part.tip_width),
        "width": _mm(part.width),
        "cut_length": _mm(part.cut_length),
        "diameter": _mm(part.diameter),
        "join": _pair(part.join),
        "direction_deg": _mm(part.direction_deg),
        "path": _line(part.path),
        "glued": _line(part.overlap),
        "branches": [_line(branch) for branch in part.branches],
        "choice": part.choice,
    }


def _island(island: LooseIsland) -> dict[str, Any]:
    return {
        "id": island.id,
        "part": island.name,
        "film": {"line": _line(island.film), "width": _mm(island.film_width)},
    }


def _support(beam: Beam) -> dict[str, Any]:
    return {
        "id": beam.id,
        "part": beam.part,
        "u": _mm(beam.u),
        "v0": _mm(beam.v0),
        "v1": _mm(beam.v1),
        "flange": _mm(beam.flange),
        "taper_deg": _mm(beam.taper_deg),
        "shoulder": _mm(beam.shoulder),
        "slit": {
            "v0": _mm(beam.slit.v0),
            "v1": _mm(beam.slit.v1),
            "width": _mm(beam.slit.width),
        },
    }


def _stock(role: Any, stocks: Stocks) -> dict[str, Any]:
    stock = stocks[role]
    return {
        "name": stock.name,
        "grammage": stock.grammage,
        "thickness": stock.thickness,
        "e_along": stock.e_along,
        "e_across": stock.e_across,
        "poisson": stock.poisson,
    }


def _part(part: Part, file: str) -> dict[str, Any]:
    return {
        "name": part.name,
        "file": file,
        "quantity": part.quantity,
        "stock": part.stock.name,
        "origin": None if part.origin is None else _pair(part.origin),
        "face_up": part.face_up,
        "fold_face": part.fold_face,
        "grain_deg": _mm(part.grain_deg),
    }


def _sheet(sheet: Sheet, file: str) -> dict[str, Any]:
    return {
        "file": file,
        "stock": sheet.stock.name,
        "width": _mm(sheet.width),
        "height": _mm(sheet.height),
        "placements": [
            {
                "part": item.part,
                "copy": item.copy,
                "x": _mm(item.x),
                "y": _mm(item.y),
                "rotation_deg": _mm(item.rotation_deg),
            }
            for item in sheet.placements
        ],
        "work": sheet.work
        and {
            "cut": _mm(sheet.work.cut),
            "score": _mm(sheet.work.score),
            "travel": _mm(sheet.work.travel),
            "lifts": sheet.work.lifts,
            "seconds": _mm(sheet.work.seconds),
        },
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "severity": finding.severity,
        "where": finding.where,
        "measured": _maybe(finding.measured),
        "limit": _maybe(finding.limit),
        "advice": finding.advice,
    }
