"""Parts: every flat piece of the card."""

from trace2pop.stages.parts.stage import mockup, parts

__all__ = ["mockup", "parts"]
