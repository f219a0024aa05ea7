"""Parts: every flat piece of the card."""

from trace2pop.stages.parts.stage import parts

__all__ = ["parts"]
