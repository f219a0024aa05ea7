"""Every limit by name: value, unit, and where it comes from.

A limit the maker may set stands in ``model.settings`` instead.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Limit:
    """A number the program judges by."""

    value: float
    unit: str
    source: str


PRACTICE = "common practice, no published source"

CONFIDENCE = Limit(0.5, "", "set on the rendered test set, see docs/tracing.md")
MAX_PIXELS = Limit(250e6, "px", "keeps a picture and its working copies in 1.5 GB")
GLUE_FOLD_GAP = Limit(1.0, "mm", PRACTICE)
SLIT_EDGE_SHARE = Limit(0.1, "of base height", PRACTICE)
SLIT_EDGE = Limit(12.0, "mm", PRACTICE)
SLIT_LINE_SHARE = Limit(0.6, "of base height", PRACTICE)
HINGE_STRIP = Limit(15.0, "mm", PRACTICE)
