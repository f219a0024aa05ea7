"""Motif at final size to motif with nothing too thin left."""

from trace2pop.stages.cuttable.stage import cuttable, minimum_width

__all__ = ["cuttable", "minimum_width"]
