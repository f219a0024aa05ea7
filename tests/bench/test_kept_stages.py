"""Whatever single choice is changed, a card made with kept stages is the card made without them.

Run it with: pytest -m bench tests/bench/test_kept_stages.py
"""

import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from trace2pop.cache import Cache
from trace2pop.choices import choices, words
from trace2pop.commands.files import _printed, _trace_picture
from trace2pop.errors import Trace2popError
from trace2pop.model.settings import (
    Choice,
    FeatureChoice,
    ForbiddenRegion,
    GivenBeam,
    Settings,
)
from trace2pop.pipeline import make_card

pytestmark = pytest.mark.bench

SAMPLES = Path(__file__).parents[2] / "samples"
ROWS = {
    "features": (FeatureChoice("keep", number=1),),
    "beam": (GivenBeam(52.0, 60.0, 84.0),),
    "forbid": (ForbiddenRegion(40.0, 60.0, 40.0, 90.0),),
}
FROM_NONE = {"dpi": 300.0, "drawn_width": 120.0, "width": 150.0, "height": 100.0, "scale": 1.1}
FROM_NONE |= {"min_width": 1.6, "min_gap": 1.2, "count": 5, "paper": "a5"}
CASES = [(section, key, choice) for section, key, choice in choices()]


def another(key: str, choice: Choice, value: Any) -> Any:
    """Return another value that the choice may have."""
    if choice.form == "rows":
        return ROWS.get(key, ())
    if value is None and choice.form == "size":
        return (4 * choice.low, 4 * choice.low)
    if value is None:
        return FROM_NONE.get(key, choice.low)
    if choice.form == "flag":
        return not value
    if isinstance(value, str) and words(choice):
        others = [word for word in words(choice) if word != value]
        return others[0] if choice.form == "word" else f"{value}, {others[0]}"
    if choice.form == "text":
        return "1"
    if choice.form == "lengths":
        return (*value[:-1], value[-1] + 0.5)
    if choice.form == "size":
        return (value[0] + 10, value[1] + 10)
    if choice.form == "count":
        return value + 1
    step = 0.1 * (choice.high - choice.low) if not value else 0.1 * abs(value)
    return min(value + step, choice.high)


def everything(picture: Path, settings: Settings, cache: Cache) -> str:
    """Return the checksum of all that a card is made of, or how it was refused."""
    plain = Cache(Path("nowhere"))
    try:
        made = make_card(picture, settings, cache=cache)
        files = _printed(made, settings.print, cache), _trace_picture(made, cache)
    except Trace2popError as error:
        return f"{type(error).__name__}: {error}; {error.advice}"
    return plain._digest((made.sheets, made.mockup, made.stocks, *files))


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Return a picture, and a folder with the stages of its card as it comes."""
    place = tmp_path_factory.mktemp("kept")
    picture = Path(shutil.copy(SAMPLES / "dragonfly" / "cutout.png", place / "art.png"))
    folder = place / "card"
    folder.mkdir()
    cache = Cache(folder)
    everything(picture, Settings(), cache)
    cache.keep(folder)
    again = Cache(folder)
    everything(picture, Settings(), again)
    assert again.used
    return picture, folder


@pytest.mark.parametrize(("section", "key", "choice"), CASES, ids=[f"{c[0]}.{c[1]}" for c in CASES])
def test_a_changed_choice(section: str, key: str, choice: Choice, base: tuple[Path, Path]) -> None:
    picture, folder = base
    settings = Settings()
    part = getattr(settings, section)
    value = another(key, choice, getattr(part, key))
    assert value != getattr(part, key) or value == ()
    changed = replace(settings, **{section: replace(part, **{key: value})})
    assert everything(picture, changed, Cache(folder)) == everything(picture, changed, Cache())
