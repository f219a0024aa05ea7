"""Artwork to motif: one clean outline."""

from trace2pop.stages.trace.stage import candidates, trace

__all__ = ["candidates", "trace"]
