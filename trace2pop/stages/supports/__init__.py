"""Beams that hold the motif."""

from trace2pop.stages.supports.refusal import SagError
from trace2pop.stages.supports.stage import supports

__all__ = ["SagError", "supports"]
