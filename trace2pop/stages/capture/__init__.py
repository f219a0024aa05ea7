"""Picture file to artwork: upright, rectified, to scale where that is known."""

from trace2pop.stages.capture.stage import capture

__all__ = ["capture"]
