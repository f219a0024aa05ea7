"""The settings file: every choice written, read back, and refused by line where it is wrong."""

import tempfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trace2pop import data, settings
from trace2pop.choices import choices
from trace2pop.errors import UsageError
from trace2pop.model.settings import (
    CardSettings,
    GivenBeam,
    MotifSettings,
    Settings,
    SupportSettings,
)
from trace2pop.settings import Project

BEAMS = """[picture]
file = "a"
[supports]
count = 4
[[supports.beam]]
u = "0mm"
v0 = "20mm"
v1 = "60mm"
[[supports.beam]]
"""
"""Settings that end in a second beam, begun on line 9."""


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
        ('[picture]\nfile="a"\n[card]\nrise = 20', ("line 4", '"20mm"')),
        ('[picture]\nfile="a"\n[card]\ncount = 4', ("line 4", "belongs under [supports]")),
        ('[picture]\nfile="a"\n[supports]\ncount = 3.5', ("line 4", "whole number")),
        ('[picture]\nfile="a"\n[files]\nformats = "svg, dxff"', ("line 4", "did you mean dxf")),
        ('[picture]\nfile="a"\nsha256 = 3', ("line 3", "quotes")),
        ('[picture]\nfile="a"\nfile="b"', ("line 3", "second time")),
        ('[picture]\nfile="a"\n[card]\n[card]', ("line 4", "second time")),
        ('[picture]\nfile="a"\ncard.rise = "1mm"\n', ("line 3", "card")),
        ('card.rise = "1mm"\n[picture]\nfile="a"', ("line 1", "5 to 150 mm")),
        ('[picture]\nfile="a"\n[supports]\nbeam = 3', ("line 4", "[[supports.beam]]")),
        (f"{BEAMS}u = 30\n", ("line 10", '"30mm"')),
        (f'{BEAMS}uu = "30mm"\n', ("line 10", "no uu", "did you mean u?")),
        (f'{BEAMS}u = "30mm"\n', ("line 9", "needs v0 and v1")),
        ("[picture]\ndpi = " + "9" * 400, ("line 2", "write a number")),
        ("[picture]\ndpi = " + "9" * 5000, ("card.toml", "bounds")),
        ('[picture]\nfile = "a\\u0000b"', ("line 2", "no picture")),
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


def test_a_file_from_a_plain_editor_reads(tmp_path: Path) -> None:
    """With a byte order mark and CR LF line ends, as some editors save it."""
    path = tmp_path / "card.toml"
    text = '[picture]\r\nfile = "a.png"\r\n[card]\r\nrise = "25mm"\r\n'
    path.write_bytes(b"\xef\xbb\xbf" + text.encode())
    assert settings.read(path).settings.card.rise == 25.0


def test_chosen_beams_stand_in_the_file_ready_to_be_moved(tmp_path: Path) -> None:
    narrowest = SupportSettings().last_flange
    beams = (GivenBeam(0.0, 20.0, 60.5, 9.0), GivenBeam(-31.25, 40.0, 70.0, narrowest))
    text = settings.write(Project(tmp_path / "a.png"), "a.png", "", beams)
    assert read_text(tmp_path, text).settings == Settings()
    head, tail = text.split("# [[supports.beam]]", 1)
    chosen, rest = ("# [[supports.beam]]" + tail).split("\n\n", 1)
    taken = "\n".join(line.removeprefix("# ") for line in chosen.splitlines())
    assert read_text(tmp_path, f"{head}{taken}\n\n{rest}").settings.supports.beam == beams


@given(
    st.floats(5, 150),
    st.floats(0.01, 100),
    st.tuples(st.floats(40, 600), st.floats(40, 600)),
)
def test_any_value_is_read_back_to_the_last_bit(
    rise: float, scale: float, size: tuple[float, float]
) -> None:
    card = CardSettings(rise=rise, size=size)
    project = Project(Path("a.png"), Settings(card=card, motif=MotifSettings(scale=scale)))
    with tempfile.TemporaryDirectory() as folder:
        again = read_text(Path(folder), settings.write(project, "a.png", "")).settings
    assert (again.card, again.motif) == (project.settings.card, project.settings.motif)


@given(st.text())
def test_any_picture_name_survives(name: str) -> None:
    import tomllib

    try:
        name.encode()
    except UnicodeEncodeError:
        return
    text = settings.write(Project(Path("x")), name, "")
    assert tomllib.loads(text)["picture"]["file"] == name


OWN_PAPER = """[picture]
file = "a"
[stock]
motif = "kraft"
[[stock.paper]]
name = "kraft"
grammage = 300
thickness = "0.4mm"
sheet = "297x420mm"
"""


def test_a_paper_of_ones_own_can_be_chosen_by_its_name(tmp_path: Path) -> None:
    """In the file, before or after its table, and by option; and it is written back."""
    project = read_text(tmp_path, OWN_PAPER)
    assert project.settings.stock.motif == "kraft"
    changed = settings.with_options(project.settings, {"beam-stock": "kraft"})
    assert changed.stock.beam == "kraft"
    text = settings.write(Project(tmp_path / "a", changed), "a", "ab" * 32)
    assert read_text(tmp_path, text).settings == changed
    with pytest.raises(UsageError, match="cover-216"):
        settings.with_options(project.settings, {"beam-stock": "kreft"})


@pytest.mark.parametrize(
    ("was", "now", "words"),
    [
        ('motif = "kraft"', 'motif = "craft"', ("line 4", "motif: it can be", "cover-216")),
        ("grammage = 300\n", "", ("line 5", "grammage", 'like = "cover-216"')),
        ("grammage = 300", 'like = "kraft"', ("line 7", "like: it can be")),
        ('name = "kraft"', 'name = "kraft paper!"', ("line 5", "is no name")),
        ('name = "kraft"', 'name = "cover-176"\nlike = "cover-270"', ("in the list itself",)),
    ],
)
def test_a_paper_of_ones_own_says_enough(
    tmp_path: Path, was: str, now: str, words: tuple[str, ...]
) -> None:
    text = OWN_PAPER.replace(was, now)
    if "cover-176" in now:
        text = text.replace('motif = "kraft"\n', "")
    with pytest.raises(UsageError) as raised:
        read_text(tmp_path, text)
    assert all(word in str(raised.value) for word in words), str(raised.value)


@pytest.mark.parametrize(
    ("name", "size"),
    [("iso-a6", (105, 148)), ("A5", (148, 210)), ("dl", (99, 210)), ("ISO-A4", (210, 297))],
)
def test_a_listed_card_is_chosen_by_its_name(name: str, size: tuple[float, float]) -> None:
    """ISO 216; DL: a third of A4."""
    assert settings.with_options(Settings(), {"card": name}).card.size == size


def test_every_listed_card_has_a_name_or_is_asked_about() -> None:
    """Names that ISO and trade sizes share are refused with both sizes, never guessed."""
    for name, row in data.cards().items():
        shared = f"iso-{name}" in data.cards()
        if shared:
            with pytest.raises(UsageError, match="more than one size"):
                settings.with_options(Settings(), {"card": name})
        else:
            assert settings.with_options(Settings(), {"card": name}).card.size == row.size
