"""What the command line says of findings."""

import pytest

from trace2pop.console import Console
from trace2pop.model.finding import Finding


def weak(u: float) -> Finding:
    return Finding("weak", "warning", f"{u:.1f}, 30.0 mm", 1.0, 2.0, "Lift it with care.")


def test_places_are_told_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    Console().findings([weak(-76.4), weak(0.2)])
    told = " ".join(capsys.readouterr().err.split())
    assert "76 mm left of the crease, 30 mm below the base's head edge" in told
    assert "warning: the crease, 30 mm below" in told


def test_of_many_alike_three_are_told_and_the_rest_counted(
    capsys: pytest.CaptureFixture[str],
) -> None:
    Console().findings([weak(10.0 * n) for n in range(1, 13)])
    told = capsys.readouterr().err
    assert told.count("warning: ") == 3
    assert "9 more like it, all in card.json [weak]" in told


def test_with_details_all_are_told(capsys: pytest.CaptureFixture[str]) -> None:
    Console(1).findings([weak(10.0 * n) for n in range(1, 13)])
    assert capsys.readouterr().err.count("warning: ") == 12
