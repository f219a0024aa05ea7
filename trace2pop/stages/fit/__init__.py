"""Motif and card to the motif at final size on the card."""

from trace2pop.stages.fit.stage import fit

__all__ = ["fit"]
