"""Choices for single thin features, as the settings file stores them."""

from dataclasses import replace

from trace2pop import data
from trace2pop.model.settings import Settings
from trace2pop.pipeline import Made
from trace2pop.stages.cuttable import by_place


def with_places(settings: Settings, made: Made) -> Settings:
    """Return the settings with each choice by number turned into one by place in the picture.

    A number holds for one list at one size; a place finds its feature again at any other.
    """
    cutter = data.cutter_of(settings.cutter)
    placed = made.plan.cut.placed
    fragile = by_place(placed, settings.fragile, made.stocks["motif"], cutter)
    return replace(settings, fragile=fragile)
