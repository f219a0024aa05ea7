"""The proof's keys in card.json."""

from typing import Any

from trace2pop.model.card import Closed
from trace2pop.model.closing import Closing, Mail, Proof, Sway, Tolerance

_DECIMALS = 4


def proof_keys(proof: Proof) -> dict[str, Any]:
    """Return closing, sway, tolerance and mail as card.json writes them."""
    return {
        "closing": _closing(proof.closing),
        "sway": _sway(proof.sway),
        "tolerance": _tolerance(proof.tolerance),
        "mail": _mail(proof.mail),
    }


def closed_keys(closed: Closed) -> dict[str, Any]:
    """Return what ``closed`` says beyond its first keys."""
    return {
        "spine": _short(closed.spine),
        "staggered": None if closed.staggered is None else _short(closed.staggered),
        "gap": None if closed.gap is None else round(closed.gap, 1),
    }


def _short(value: float) -> float:
    return round(float(value), _DECIMALS) + 0.0


def _closing(closing: Closing) -> dict[str, Any]:
    return {
        "limit": _short(closing.limit),
        "contact_deg": _short(closing.contact_deg),
        "contact": list(closing.contact) if closing.contact else None,
        "steps": [
            {
                "opening_deg": step.opening_deg,
                "reach_left": _short(step.reach_left),
                "reach_right": _short(step.reach_right),
                "height": _short(step.height),
                "closest": None if step.closest is None else _short(step.closest),
                "pair": list(step.pair) if step.pair else None,
            }
            for step in closing.steps
        ],
    }


def _sway(sway: Sway) -> dict[str, Any]:
    return {
        "stiffness": _short(sway.stiffness),
        "tipping": _short(sway.tipping),
        "ratio": round(sway.ratio, 1),
        "hung": _short(sway.hung),
    }


def _tolerance(tolerance: Tolerance) -> dict[str, Any]:
    return {
        "chance": tolerance.chance,
        "linear": float(f"{tolerance.linear:.3g}"),
        "dominant": tolerance.dominant,
        "shares": {name: _short(part) for name, part in tolerance.shares},
        "clearance": _short(tolerance.clearance),
        "margin_1_in_100": round(tolerance.margin, 2),
        "samples": tolerance.samples,
        "seed": tolerance.seed,
    }


def _mail(mail: Mail) -> dict[str, Any]:
    return {
        "envelope": mail.envelope.name if mail.envelope else "made" if mail.made else None,
        "size": [_short(side) for side in mail.size],
        "thickness": _short(mail.thickness),
        "mass": round(mail.mass, 1),
        "verdicts": [
            {
                "operator": row.operator,
                "service": row.service,
                "taken": row.taken,
                "reasons": list(row.reasons),
                "remarks": list(row.remarks),
                "source": row.source,
                "year": row.year,
            }
            for row in mail.verdicts
        ],
    }
