"""Batch: one failure never stops the rest, and a second run redoes nothing."""

import csv
import os
import shutil
import signal
import subprocess
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image, ImageDraw

from tests.cli.running import COMMAND, Ran, error_lines, run, tree
from trace2pop.commands import crew
from trace2pop.commands.batch import batch, jobs_of
from trace2pop.commands.crew import run_here
from trace2pop.commands.job import Job, run_job
from trace2pop.commands.summary import Outcome
from trace2pop.console import Console
from trace2pop.errors import BatchError, OutputError

MOTIF = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="90mm" viewBox="0 0 120 90">'
    '<path d="M10 45C10 10 110 10 110 45S10 {} 10 45z"/></svg>'
)
FAILED = 11


def rows(out: Path) -> dict[str, dict[str, str]]:
    with (out / "summary.csv").open(encoding="utf-8", newline="") as table:
        return {row["card"]: row for row in csv.DictReader(table)}


@pytest.fixture(scope="module")
def cards(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a place with drawings and the cards made of them."""
    place = tmp_path_factory.mktemp("batch")
    drawings = place / "drawings"
    (drawings / "mine").mkdir(parents=True)
    lily = Image.new("RGB", (700, 500), "white")
    ImageDraw.Draw(lily).ellipse((60, 60, 640, 440), "#2a6")
    lily.save(drawings / "lily.png")
    (drawings / "broken =1+1.jpg").write_bytes(b"no picture")
    (drawings / "mine" / "pond.svg").write_text(MOTIF.format(80))
    (drawings / "mine" / "card.toml").write_text(
        '[picture]\nfile = "pond.svg"\n[card]\nrise = "12mm"\n'
    )
    ran = go(place)
    assert ran.code == FAILED, ran.err
    assert len(error_lines(ran)) == 1
    assert "1 of 3 cards" in error_lines(ran)[0]
    assert " left)" in ran.err
    return place


def go(place: Path) -> Ran:
    return run(["batch", "drawings", "--out", "cards", "--margin", "4mm"], place, 300)


def test_a_folder_of_drawings_becomes_a_folder_of_cards(cards: Path) -> None:
    found = rows(cards / "cards")
    assert {name: (row["status"], row["code"]) for name, row in found.items()} == {
        "broken =1+1-jpg": ("failed", "3"),
        "lily-png": ("made", "0"),
        "mine": ("made", "0"),
    }
    assert float(found["mine"]["width"]) > 50
    assert (cards / "cards" / "lily-png" / "guide.pdf").exists()
    assert 'rise = "12mm"' in (cards / "cards" / "mine" / "card.toml").read_text("utf-8")
    page = (cards / "cards" / "index.html").read_text("utf-8")
    assert "lily-png/preview.png" in page
    assert "2 of 3 cards made" in page


def test_a_second_run_redoes_nothing(cards: Path) -> None:
    before = {name: tree(cards / "cards" / name) for name in ("lily-png", "mine")}
    again = go(cards)
    assert again.code == FAILED
    assert "kept: lily-png" in again.err
    assert "kept: mine" in again.err
    assert {name: tree(cards / "cards" / name) for name in before} == before


def test_what_the_maker_did_to_a_card_is_left_to_the_maker(cards: Path, tmp_path: Path) -> None:
    place = tmp_path / "place"
    shutil.copytree(cards, place, copy_function=shutil.copy2)
    settings = place / "cards" / "lily-png" / "card.toml"
    settings.write_text(settings.read_text("utf-8").replace('"4mm"', '"5mm"'), "utf-8")
    (place / "cards" / "mine" / ".trace2pop" / "made-from").unlink()
    before = tree(place / "cards" / "lily-png"), tree(place / "cards" / "mine")
    again = go(place)
    assert "you changed its card.toml" in again.err
    assert "made it again by itself" in again.err
    assert (tree(place / "cards" / "lily-png"), tree(place / "cards" / "mine")) == before


def test_an_empty_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "none").mkdir()
    ran = run(["batch", "none", "--out", "cards"], tmp_path)
    assert ran.code == 2
    assert not (tmp_path / "cards").exists()


def test_every_picture_and_every_settings_file_is_a_job(tmp_path: Path) -> None:
    for name in ("a.png", "b/c.SVG", "b/d.jpeg", ".hidden/e.png", "a-png/x.png", "b/notes.txt"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / "b" / "card.toml").write_text('[picture]\nfile = "d.jpeg"\n')
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "f.png").write_bytes(b"x")
    (tmp_path / "a.png.svg").mkdir()
    jobs = jobs_of(tmp_path, tmp_path / "out", {"rise": "9mm", "even": True, "thin": ["1=hand"]})
    sources = [Path(job.source).relative_to(tmp_path).as_posix() for job in jobs]
    assert sources == ["a-png/x.png", "a.png", "b/c.SVG", "b/card.toml"]
    assert [job.name for job in jobs] == ["a-png-x-png", "a-png", "b-c-SVG", "b"]
    assert jobs[0].options == (("even", True), ("rise", "9mm"), ("thin", ("1=hand",)))


def test_two_drawings_never_share_a_folder(tmp_path: Path) -> None:
    for name in ("a.b.png", "a-b.png", "a/b.png"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"x")
    names = [job.name for job in jobs_of(tmp_path, tmp_path / "out", {})]
    assert len(set(names)) == 3


def test_a_summary_of_someone_else_is_not_written_over(tmp_path: Path) -> None:
    (tmp_path / "a.png").write_bytes(b"x")
    out = tmp_path / "out"
    out.mkdir()
    (out / "index.html").write_text("my own page")
    with pytest.raises(OutputError, match=r"index\.html"):
        batch(tmp_path, out, {}, workers=1, scheduler=None, console=Console(-1))
    assert tree(out) == {"index.html": b"my own page"}


def jobs(count: int) -> list[Job]:
    return [Job(f"/drawings/{n}", f"/cards/{n}", ()) for n in range(count)]


def _fine(job: Job) -> Outcome:
    return Outcome(job.name, job.source, "made", 0, "", {})


def _deadly(job: Job) -> Outcome:
    if job.name in ("2", "5", "6"):
        os.kill(os.getpid(), signal.SIGKILL)
    return _fine(job)


def _endless(job: Job) -> Outcome:
    if job.name == "1":
        time.sleep(600)
    return _fine(job)


def _told(job: Job) -> Outcome:
    return Outcome(job.name, str(os.getpid()), "made", 0, "", {})


def test_processes_that_die_cost_no_other_card(monkeypatch: pytest.MonkeyPatch) -> None:
    found = {outcome.name: outcome for outcome in run_here(jobs(12), 2, _deadly)}
    assert len(found) == 12
    assert {n for n, outcome in found.items() if outcome.code == 71} == {"2", "5", "6"}
    assert {outcome.code for outcome in found.values()} == {0, 71}


def test_a_card_that_never_ends_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(crew, "PATIENCE_S", 1.0)
    monkeypatch.setattr(crew, "_LOOK_S", 0.2)
    found = {outcome.name: outcome for outcome in run_here(jobs(4), 2, _endless)}
    assert [outcome.code for _, outcome in sorted(found.items())] == [0, 71, 0, 0]
    assert "longer than" in found["1"].message


def test_processes_are_fresh_every_few_cards() -> None:
    found = [outcome.source for outcome in run_here(jobs(45), 1, _told)]
    assert [found.count(number) for number in dict.fromkeys(found)] == [20, 20, 5]


@pytest.mark.parametrize(
    ("gigabytes", "cores", "at_once"), [(64, 8, 8), (8, 8, 6), (2, 8, 1), (0.5, 8, 1), (64, 1, 1)]
)
def test_no_more_at_once_than_memory_and_cores_take(
    gigabytes: float, cores: int, at_once: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At 1.2 GB each, as docs/batch.md promises."""
    sizes = {"SC_PHYS_PAGES": int(gigabytes * 1e9 / 4096), "SC_PAGE_SIZE": 4096}
    monkeypatch.setattr(crew.sys, "platform", "linux")
    monkeypatch.setattr(crew.os, "sysconf", sizes.__getitem__)
    monkeypatch.setattr(crew.os, "sched_getaffinity", lambda _: set(range(cores)), raising=False)
    assert crew.room_for() == at_once


def guides(place: Path) -> dict[str, int]:
    """Return when the guide of each finished card was written."""
    return {
        path.parent.name: path.stat().st_mtime_ns for path in place.glob("cards/[!.]*/guide.pdf")
    }


def watched(place: Path, count: int, stop: Callable[[subprocess.Popen[str]], None]) -> str:
    """Start a batch, stop it as soon as ``count`` cards are there, return what it said."""
    with subprocess.Popen(
        [COMMAND, "batch", "drawings", "--out", "cards", "--workers", "2"],
        cwd=place,
        stderr=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        text=True,
    ) as process:
        end = time.monotonic() + 300
        while len(guides(place)) < count:
            assert process.poll() is None
            assert time.monotonic() < end
            time.sleep(0.05)
        stop(process)
        _, told = process.communicate(timeout=100)
        return f"{process.returncode}\n{told}"


@pytest.fixture
def drawings(tmp_path: Path) -> Path:
    (tmp_path / "drawings").mkdir()
    for number in range(3):
        (tmp_path / "drawings" / f"{number}.svg").write_text(MOTIF.format(70 + 3 * number))
    return tmp_path


def test_a_stopped_batch_goes_on_where_it_was(drawings: Path) -> None:
    """An interrupt first, then kill -9; what was made before each is not made again."""
    told = watched(drawings, 1, lambda process: process.send_signal(signal.SIGINT))
    assert told.startswith("130\n")
    assert "cards are done" in told
    assert "Traceback" not in told
    first = guides(drawings)
    assert 1 <= len(first) < 3
    assert not list((drawings / "cards").glob(".*"))
    assert (drawings / "cards" / "summary.csv").exists()
    told = watched(drawings, len(first) + 1, lambda process: process.kill())
    assert told.startswith("-9\n")
    done = guides(drawings)
    assert first.items() <= done.items()
    ran = run(["batch", "drawings", "--out", "cards", "--workers", "2"], drawings, 300)
    assert ran.code == 0, ran.err
    whole = guides(drawings)
    assert len(whole) == 3
    assert done.items() <= whole.items()
    status = [row["status"] for row in rows(drawings / "cards").values()]
    assert sorted(status) == ["kept"] * len(done) + ["made"] * (3 - len(done))
    assert not list((drawings / "cards").glob(".*"))


def test_a_fault_of_the_program_is_told_and_stops_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("two\nlines")

    monkeypatch.setattr("trace2pop.commands.job.make", broken)
    (tmp_path / "a.svg").write_text(MOTIF.format(80))
    outcome = run_job(jobs_of(tmp_path, tmp_path / "out", {})[0])
    assert (outcome.status, outcome.code) == ("failed", 70)
    assert "\n" not in outcome.message


def test_failed_cards_give_the_batch_its_code(tmp_path: Path) -> None:
    (tmp_path / "a.png").write_bytes(b"no picture")
    with pytest.raises(BatchError, match="1 of 1 cards") as stopped:
        batch(tmp_path, tmp_path / "out", {}, workers=1, scheduler=None, console=Console(-1))
    assert stopped.value.exit_code == FAILED
