"""All of a card to the guide that builds it."""

from trace2pop.stages.guide.stage import guide

__all__ = ["guide"]
