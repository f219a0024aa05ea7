"""The proof of a whole plan, and how card.json says it."""

import json
from dataclasses import replace

import pytest

from tests.examples import CARD, STOCK, STOCKS, plan
from trace2pop.errors import CheckError
from trace2pop.formats.proof_json import closed_keys, proof_keys
from trace2pop.geometry import beziers
from trace2pop.mechanism.closed import closed_stack
from trace2pop.mechanism.proof import proved
from trace2pop.model.card import CardPlan
from trace2pop.model.settings import HandsSettings, Settings


def whole() -> CardPlan:
    """Return the hand-made plan with its closed stack."""
    made = plan()
    shape = beziers.polygon(made.cut.outline)
    return replace(made, closed=closed_stack(CARD, shape, made.beams, STOCKS, 0.1))


def test_good_plan_is_proved_without_findings() -> None:
    found = proved(whole(), Settings(), STOCKS)
    assert found.proof is not None
    assert found.findings == ()
    assert found.proof.mail.envelope is not None
    assert found.proof.mail.envelope.name == "a7"
    outer = (2 * CARD.outer.width + 4.0) * CARD.outer.height
    base = 2 * CARD.half_width * CARD.height
    assert found.proof.mail.mass > (outer + base) * 216e-6


def test_plan_that_does_not_close_is_refused() -> None:
    made = whole()
    cut = replace(made.cut, placed=replace(made.cut.placed, card=replace(CARD, margin=14.0)))
    with pytest.raises(CheckError, match="doesn't close"):
        proved(replace(made, cut=cut), Settings(), STOCKS)


def test_careless_hands_heavy_motif_and_thick_paper_are_found() -> None:
    made = whole()
    rules = [
        f.rule for f in proved(made, Settings(hands=HandsSettings(askew=10.0)), STOCKS).findings
    ]
    assert rules == []  # this motif is well inside its window
    careless = HandsSettings(place=5.0, askew=10.0, fold=3.0, cut=3.0)
    large = replace(made.cut.placed, card=replace(CARD, half_width=114.0))
    tight = replace(made, cut=replace(made.cut, placed=large))
    found = proved(tight, Settings(hands=careless), STOCKS)
    assert "shows-when-closed" in [f.rule for f in found.findings]
    lead = {**STOCKS, "motif": replace(STOCK, grammage=6000.0)}
    assert "layer-leans" in [f.rule for f in proved(made, Settings(), lead).findings]
    board = replace(made, closed=replace(made.closed, thickness=9.0))
    assert "thick-for-a-letter" in [f.rule for f in proved(board, Settings(), STOCKS).findings]


def test_card_json_keys() -> None:
    found = proved(whole(), Settings(), STOCKS)
    assert found.proof is not None
    keys = json.loads(json.dumps(proof_keys(found.proof) | closed_keys(found.closed)))
    assert [step["opening_deg"] for step in keys["closing"]["steps"]] == list(range(180, -1, -5))
    assert keys["closing"]["steps"][-1]["reach_left"] == pytest.approx(90 + CARD.web, abs=0.01)
    assert keys["tolerance"]["seed"] == 20011
    assert sum(keys["tolerance"]["shares"].values()) == pytest.approx(1.0, abs=1e-3)
    assert keys["spine"] == 4.0
    assert keys["gap"] > 4.0
    assert keys["mail"]["envelope"] == "a7"
