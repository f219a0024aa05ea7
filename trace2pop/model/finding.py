"""What the maker should know about a card, short of stopping."""

from dataclasses import dataclass
from typing import Literal

Severity = Literal["note", "warning", "doubt"]


@dataclass(frozen=True)
class Finding:
    """One thing found: what it is, where, how much, and what to do about it.

    ``rule`` is a stable name (docs/findings.md). ``where`` is a place in words or "u, v" in mm.
    ``measured`` and ``limit`` are in the unit the rule is documented with, None where there is no
    number. ``advice`` says what to do next, in the maker's language.
    """

    rule: str
    severity: Severity
    where: str
    measured: float | None
    limit: float | None
    advice: str
