"""Random motifs, cards, rises and papers: a card that passes its check, or a named refusal.

Nothing else may happen: no traceback, no card that fails, nothing left behind by a refusal. The
ordinary run makes 100 small cards, the same each time. ``pytest -m nightly --dist load`` makes
2,000 of all kinds; ``tests/cli/random_run.py`` makes them bit by bit, and any of them again.
"""

import os
import signal
from dataclasses import replace
from pathlib import Path
from unittest.mock import patch

import pytest

from tests.cli.random_cards import case, simpler
from tests.cli.random_motifs import KINDS
from tests.cli.random_run import again, apart, outcome_of, simplest, table
from trace2pop.choices import choices
from trace2pop.errors import CheckError, FaultError, FitError

ORDINARY, NIGHTLY, TOGETHER = 100, 2000, 10


@pytest.mark.parametrize("first", range(0, ORDINARY, TOGETHER))
def test_a_card_that_passes_its_check_or_a_named_refusal(first: int, tmp_path: Path) -> None:
    outcomes = []
    for seed in range(first, first + TOGETHER):
        folder = tmp_path / f"{seed}"
        folder.mkdir()
        outcomes.append(outcome_of(case(seed, ordinary=True), seed, folder))
    failed = [outcome for outcome in outcomes if outcome.status == "failed"]
    told = [f"{again(one.seed, ordinary=True)}\n{one.kind}: {one.text}" for one in failed]
    assert not failed, "\n".join(told)
    made = sum(outcome.status == "made" for outcome in outcomes)
    assert made >= 2, "so many refusals try nothing"


@pytest.mark.nightly
@pytest.mark.parametrize("seed", range(NIGHTLY))
def test_so_it_is_with_all_kinds_of_cards(seed: int) -> None:
    outcome = apart(case(seed), seed)
    assert outcome.status != "failed", f"{again(seed)}\n{outcome.kind}: {outcome.text}"


MENDED: dict[int, dict[str, str | bool]] = {
    473: {},  # a wheel: room at head and foot alike, looked at twice as often each time
    626: {},  # holes of thickened walls met
    691: {},  # a hinge strip under the shoulder of a beam put in head to foot
    478: {"inset": "0mm"},  # a flange up to the motif's edge, moved by its play
}
"""Cases that failed once, each with options of its own."""


@pytest.mark.parametrize("seed", MENDED)
def test_what_failed_once_is_made(seed: int, tmp_path: Path) -> None:
    given = case(seed)
    given = replace(given, options=given.options | MENDED[seed])
    outcome = outcome_of(given, seed, tmp_path)
    assert outcome.status == "made", outcome.text


def test_a_seed_is_always_the_same_case() -> None:
    assert [case(seed) for seed in range(9)] == [case(seed) for seed in range(9)]
    assert len({case(seed, ordinary=True).svg for seed in range(99)}) == 99


def test_every_choice_and_every_kind_of_case_comes_up() -> None:
    cases = [case(seed) for seed in range(NIGHTLY)]
    asked = {name for each in cases for name in each.options}
    of_pictures = {"dpi", "page-number", "paper", "take", "kind", "feature", ""}
    assert {choice.option for _, _, choice in choices()} - asked == of_pictures
    tables = {row.split("]]")[0].strip("[") for each in cases for row in each.rows}
    assert tables == {"supports.beam", "supports.forbid", "stock.paper"}
    scans = sum(each.dpi is not None for each in cases)
    whole = sum(each.whole for each in cases)
    assert min(scans, whole) > NIGHTLY / 15
    assert len(KINDS) > 10


GOOD = case(4, ordinary=True)
MAKE = "tests.cli.random_run.make"


@pytest.mark.parametrize(
    ("raised", "status"),
    [
        (ZeroDivisionError("x"), "failed"),
        (CheckError("x", "y"), "failed"),
        (FaultError("x", "y"), "failed"),
        (FitError("x", ""), "failed"),
        (FitError("x", "y"), "refused"),
    ],
)
def test_what_may_not_happen_is_told(raised: Exception, status: str, tmp_path: Path) -> None:
    with patch(MAKE, side_effect=raised):
        assert outcome_of(GOOD, 4, tmp_path).status == status


def test_a_refusal_that_leaves_something_is_told(tmp_path: Path) -> None:
    def leaving(_: object, out: Path, *__: object, **___: object) -> None:
        out.mkdir()
        raise FitError("x", "y")

    with patch(MAKE, leaving):
        assert outcome_of(GOOD, 4, tmp_path).status == "failed"


def test_a_process_that_ends_is_told_and_ends_no_other() -> None:
    with patch(MAKE, lambda *_, **__: os.kill(os.getpid(), signal.SIGKILL)):
        outcome = apart(GOOD, 4)
    assert (outcome.status, outcome.kind) == ("failed", "SIGKILL")
    assert "failed       1 100.0%" in table([outcome])


def test_a_case_is_made_as_simple_as_it_can_be() -> None:
    """Whatever it is whose rise is given fails: nothing else but a last element is left."""

    def failing(_: object, __: object, options: dict[str, str], **___: object) -> None:
        if "rise" in options:
            raise ZeroDivisionError("rise")

    given = next(each for each in map(case, range(99)) if len(each.options) > 3 and each.rows)
    with patch(MAKE, failing):
        least = simplest(given, 0)
    assert list(least.options) == ["rise"]
    assert (len(least.elements), least.rows) == (1, ())
    assert len(list(simpler(least))) == 1
