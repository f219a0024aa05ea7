"""Motif at final size to motif with nothing too thin left."""

from trace2pop.stages.cuttable.stage import by_place, cuttable, minimum_width

__all__ = ["by_place", "cuttable", "minimum_width"]
