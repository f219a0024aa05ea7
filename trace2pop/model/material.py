"""Materials of which thin parts are made by hand."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Material:
    """One material of one diameter in mm.

    ``kind`` is bristle, line, wire, thread or paper; ``bends`` says that it gives way when the card
    closes on it; ``note`` is what else to know, ``source`` where the diameter is from.
    """

    name: str
    title: str
    kind: str
    diameter: float
    bends: bool
    note: str
    source: str
