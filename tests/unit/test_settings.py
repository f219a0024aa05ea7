"""The settings file: every choice written, read back, and refused by line where it is wrong."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trace2pop import settings
from trace2pop.choices import choices
from trace2pop.errors import UsageError
from trace2pop.model.settings import Settings
from trace2pop.settings import Project


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "card.toml"
    path.write_text(text, "utf-8")
    return path


def read_text(tmp_path: Path, text: str) -> Project:
    return settings.read(written(tmp_path, text))


def test_every_choice_is_written_and_reads_back(tmp_path: Path) -> None:
    project = Project(tmp_path / 'duck "two".png')
    text = settings.write(project, 'duck "two".png', "ab" * 32)
    again = read_text(tmp_path, text)
    assert again == Project(project.picture.resolve(), project.settings, "ab" * 32)
    for _, key, choice in choices():
        assert f"{key} =" in text or choice.form == "rows"
        assert choice.text in text


def test_options_are_unique_and_every_choice_has_one() -> None:
    options = [choice.option for _, _, choice in choices() if choice.form != "rows"]
    assert len(options) == len(set(options))
    assert all(options)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('[crad]\n[picture]\nfile="a"', ("line 1", "[crad]", "did you mean card")),
        ('[picture]\nfile="a"\n[card]\n\nrisse = "20mm"', ("line 5", "risse", "did you mean rise")),
        ('[picture]\nfile="a"\n[card]\nrise = 20', ("line 4", "rise", "unit")),
        ('[picture]\nfile="a"\n[card]\nrise = "900mm"', ("line 4", "5 to 150 mm")),
        ('[picture]\nfile="a"\n[card]\nrise = "-1mm"', ("line 4", "5 to 150 mm")),
        ('[picture]\nfile="a"\n[card]\nspine = "lng"', ("line 4", "long, short")),
        ('[picture]\nfile="a"\n[supports]\nhandling_load = nan', ("line 4", "1 to 100")),
        ('[picture]\nfile="a"\n[trace]\neven = "yes"', ("line 4", "true or false")),
        ('[picture]\nfile="a"\n[stock]\nmotif = "cover-215"', ("line 4", "did you mean cover-21")),
        ('[picture]\nfile="a"\n[supports]\nflanges = []', ("line 4", "flanges")),
        ("[picture]\n", ("line 1", "no picture")),
        ("card = 3", ("line 1", "section")),
        ("[picture\n", ("line 1",)),
        ("x = " + "[" * 5000, ("card.toml",)),
    ],
)
def test_wrong_lines_are_named(tmp_path: Path, line: str, words: tuple[str, ...]) -> None:
    with pytest.raises(UsageError) as caught:
        read_text(tmp_path, line)
    assert all(word in str(caught.value) for word in words), str(caught.value)
    assert "\n" not in str(caught.value)
    assert caught.value.advice


def test_settings_that_are_no_text_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "card.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(UsageError):
        settings.read(path)
    with pytest.raises(UsageError):
        settings.read(tmp_path / "none.toml")


def test_options_lie_over_the_file() -> None:
    changed = settings.with_options(
        Settings(), {"rise": "1in", "flanges": "8mm, 6mm", "even": True}
    )
    assert changed.card.rise == 25.4
    assert changed.supports.flanges == (8.0, 6.0)
    assert changed.trace.even
    assert changed.card.size == Settings().card.size
    with pytest.raises(UsageError, match="--rise 1: "):
        settings.with_options(Settings(), {"rise": "1"})


@given(st.text())
def test_any_picture_name_survives(name: str) -> None:
    import tomllib

    try:
        name.encode()
    except UnicodeEncodeError:
        return
    text = settings.write(Project(Path("x")), name, "")
    assert tomllib.loads(text)["picture"]["file"] == name
