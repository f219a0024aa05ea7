"""Random motifs, cards, rises and papers: a card that passes its check, or a named refusal.

Nothing else may happen: no traceback, no card that fails, nothing left behind by a refusal. The
ordinary run tries few, the same each time, and leaves out what only shows the card.
``pytest -m bench --hypothesis-profile=nightly tests/cli/test_random_cards.py`` tries 2,000 others,
choices from all over their ranges, and all files.

It isn't part of an ordinary run as long as it finds cards that fail their check: a hole that meets
the motif's edge, and beams that fit into each other's slits.
"""

import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from pathlib import Path
from unittest.mock import patch

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from tests.cli.random_cards import Drawn, drawn
from trace2pop.commands import files
from trace2pop.commands.make import make
from trace2pop.console import Console
from trace2pop.errors import CheckError, Trace2popError
from trace2pop.stages.capture import drawing

NIGHTLY = settings.get_current_profile_name() == "nightly"
ORDINARY = 15
"""Of a few seconds of processor time each: what an ordinary run has room for."""

LEFT_OUT = ("guide_pdf", "page_html", "preview_png", "preview_gif", "trace_picture")


def made(case: Drawn, folder: Path) -> str:
    """Make a card and return what became of it; making includes the check of what was written."""
    source, out = folder / "motif.svg", folder / "card"
    source.write_text(case.svg, "utf-8")
    try:
        make(source, out, case.options, force=False, console=Console(-1))
    except CheckError:
        raise
    except Trace2popError as error:
        assert str(error)
        assert error.advice
        assert [path.name for path in folder.iterdir()] == ["motif.svg"]
        return type(error).__name__
    return "made"


@contextmanager
def quick() -> Iterator[None]:
    """Leave out what only shows a card: its colours, the guide's and the page's pictures."""
    with ExitStack() as left_out:
        for name in LEFT_OUT:
            left_out.enter_context(patch.object(files, name, lambda *_: b"-"))
        left_out.enter_context(patch.object(files, "picture_files", lambda *_: {}))
        left_out.enter_context(patch.object(drawing, "rendered", lambda *_: None))
        yield


@pytest.mark.bench
@settings(
    max_examples=2000 if NIGHTLY else ORDINARY,
    derandomize=not NIGHTLY,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.explicit, Phase.generate] + [Phase.shrink] * NIGHTLY,
)
@given(drawn(anywhere=NIGHTLY))
def test_a_card_that_passes_its_check_or_a_named_refusal(case: Drawn) -> None:
    with tempfile.TemporaryDirectory() as folder:
        if NIGHTLY:
            made(case, Path(folder))
            return
        plain = replace(case, options={"motif-paper": "plain"} | case.options)
        with quick():
            made(plain, Path(folder))
