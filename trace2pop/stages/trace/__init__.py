"""Artwork to motif: one clean outline."""

from trace2pop.stages.trace.stage import trace

__all__ = ["trace"]
