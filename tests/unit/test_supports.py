"""Beams chosen for a card, and what every plan must keep."""

import numpy as np
import pytest

from tests import examples
from trace2pop.model.settings import SupportSettings
from trace2pop.stages.supports import supports


def test_small_winged_motif_gets_three_beams() -> None:
    """One on the crease, one under each wing: common practice, no published source."""
    plan = supports(examples.cut_motif(), SupportSettings(), examples.STOCKS, 0.1)
    assert [np.sign(beam.u) for beam in plan.beams] == [0, -1, 1]
    assert plan.beams[1].u == -plan.beams[2].u
    assert (plan.beams[1].v0, plan.beams[1].v1) == (plan.beams[2].v0, plan.beams[2].v1)
    assert plan.sag.max <= plan.sag.limit
    assert plan.sag.max == pytest.approx(np.abs(plan.sag.depth).max())
