"""What is typed: the shortest way for a card made again, and typer's for all else."""

from pathlib import Path

import pytest

from trace2pop import cli

AGAIN = {
    "card.toml": (["make", "card.toml"], 0),
    "quiet before": (["make", "-q", "my card/card.toml"], -1),
    "verbose after": (["make", "CARD.TOML", "--verbose"], 1),
}
NOT_SO = {
    "nothing": [],
    "no name": ["make"],
    "a picture": ["make", "a.png"],
    "an option": ["make", "card.toml", "--rise", "20mm"],
    "a flag that does more": ["make", "card.toml", "--force"],
    "another command": ["check", "card.toml"],
    "two files": ["make", "a.toml", "b.toml"],
    "quiet and verbose": ["make", "card.toml", "-q", "-v"],
    "a pattern": ["make", "*.toml"],
    "help": ["make", "--help"],
    "a name after two dashes": ["make", "--", "card.toml"],
}


@pytest.mark.parametrize("kind", AGAIN)
def test_a_card_made_again_as_it_says_itself_waits_for_no_flags(kind: str) -> None:
    words, verbosity = AGAIN[kind]
    found = cli._made_again(words)
    assert found is not None
    name = next(word for word in words[1:] if not word.startswith("-"))
    assert (found[0], found[1].verbosity) == (Path(name), verbosity)


@pytest.mark.parametrize("kind", NOT_SO)
def test_all_else_is_read_by_typer(kind: str) -> None:
    assert cli._made_again(NOT_SO[kind]) is None
