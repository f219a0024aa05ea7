"""Envelopes and posts against published pairs and worked cases.

Outside the project: North American card and envelope pairs as printers sell them; ISO 269 sizes;
Postal Bulletin 22212 (2007) worked cases and the aspect ratios of Domestic Mail Manual 101.1.2;
Ofcom's letter sizes.
"""

import pytest

from trace2pop import data
from trace2pop.mechanism.mail import envelope_for, mail_of, mass
from trace2pop.model.closing import Verdict


@pytest.mark.parametrize("name", ["a2", "a6", "a7", "a9"])
def test_trade_cards_go_into_the_envelopes_they_are_sold_with(name: str) -> None:
    width, height = data.cards()[name].size
    envelope = envelope_for(width, height, 1.0)
    assert envelope is not None
    assert envelope.name == name


@pytest.mark.parametrize(
    ("card", "envelope"), [("iso-a6", "iso-c6"), ("iso-a5", "iso-c5"), ("dl", "iso-dl")]
)
def test_iso_cards_go_into_iso_envelopes(card: str, envelope: str) -> None:
    """A6 in C6, A5 in C5, a third of A4 in DL (ISO 269)."""
    width, height = data.cards()[card].size
    found = envelope_for(width, height, 1.0)
    assert found is not None
    assert found.name == envelope


def test_iso_216_and_269_sizes() -> None:
    """ISO 216: A5 148 x 210, A6 105 x 148; ISO 269: C6 114 x 162, C5 162 x 229, DL 110 x 220."""
    sizes = {name: row.size for name, row in (data.cards() | data.envelopes()).items()}
    assert sizes["iso-a5"] == (148, 210)
    assert sizes["iso-a6"] == (105, 148)
    assert sizes["iso-a7"] == (74, 105)
    assert sizes["iso-c6"] == (114, 162)
    assert sizes["iso-c5"] == (162, 229)
    assert sizes["iso-dl"] == (110, 220)
    assert data.cards()["a7"].size == pytest.approx((5 * 25.4, 7 * 25.4))
    assert data.envelopes()["a2"].size == pytest.approx((4.375 * 25.4, 5.75 * 25.4))


def test_a_thick_card_needs_a_larger_envelope() -> None:
    thin, thick = envelope_for(127.0, 177.8, 1.0), envelope_for(127.0, 177.8, 7.0)
    assert thin is not None
    assert thick is not None
    assert thick.size[0] * thick.size[1] > thin.size[0] * thin.size[1]
    assert envelope_for(500.0, 700.0, 1.0) is None


def verdict(short: float, long: float, thickness: float, row: int, grams: float = 20.0) -> Verdict:
    """Judge an envelope of exactly that size by a row of the postal table."""
    from trace2pop.mechanism.mail import _verdict

    rows = list(data.table("postal").values())
    return _verdict(rows[row], short * 25.4, long * 25.4, thickness * 25.4, grams)


def test_postal_bulletin_cases() -> None:
    """5.5 in square, 1/4 in, 2 oz: a nonmachinable letter. 6.5 in square: too high for a letter."""
    small = verdict(5.5, 5.5, 0.25, 0, 56.7)
    assert small.taken
    assert any("nonmachinable letter" in remark for remark in small.remarks)
    large = verdict(6.5, 6.5, 0.25, 0, 56.7)
    assert not large.taken


@pytest.mark.parametrize(
    ("envelope", "ratio", "passes"),
    [
        ("a2", 1.314, True),
        ("a6", 1.368, True),
        ("a7", 1.381, True),
        ("iso-dl", 2.0, True),
        ("iso-c6", 1.421, True),
        ("square-155mm", 1.0, False),
    ],
)
def test_aspect_ratios(envelope: str, ratio: float, passes: bool) -> None:
    short, long = data.envelopes()[envelope].size
    assert long / short == pytest.approx(ratio, abs=6e-4)
    found = verdict(short / 25.4, long / 25.4, 0.1, 0)
    assert found.taken
    assert any("times as long" in remark for remark in found.remarks) != passes


def test_c5_is_a_letter_in_britain_and_not_in_the_states() -> None:
    short, long = (side / 25.4 for side in data.envelopes()["iso-c5"].size)
    assert not verdict(short, long, 0.1, 0).taken
    assert verdict(short, long, 0.19, 1).taken
    assert not verdict(short, long, 0.2, 1).taken
    assert verdict(short, long, 0.2, 2).taken


def test_whole_card_in_its_envelope() -> None:
    found = mail_of(127.0, 177.8, 4.0, 40.0)
    assert found.envelope is not None
    assert found.envelope.name == "a7"
    assert found.mass == pytest.approx(40 + 2.5 * 0.13335 * 0.18415 * 100)
    assert found.thickness == pytest.approx(4.24)
    taken = {(row.operator, row.service): row.taken for row in found.verdicts}
    assert taken["Royal Mail", "letter"]
    assert not taken["Universal Postal Union", "standardized letter"]
    for row in found.verdicts:
        assert row.taken != bool(row.reasons)
        assert row.source
    assert mass([(1e6, data.stocks()["cover-216"])]) == pytest.approx(216.0)


def test_an_envelope_made_to_size_is_weighed_and_measured_as_it_is_made() -> None:
    """3 mm and the card's thickness larger than the card; of card stock, not of envelope paper."""
    stock = data.stocks()["cover-216"]
    found = mail_of(127.0, 177.8, 4.0, 40.0, stock)
    assert found.envelope is None and found.made
    assert found.size == pytest.approx((134.0, 184.8))
    assert found.mass == pytest.approx(40 + 2.5 * 0.1340 * 0.1848 * 216)
    assert found.thickness == pytest.approx(4.0 + 2 * stock.thickness)
