"""A batch on a real Dask cluster: a scheduler and workers, each a process of its own."""

import csv
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.cli.running import COMMAND, error_lines, run
from trace2pop.checks import check

pytest.importorskip("distributed", reason="the extra cluster isn't installed")

MOTIF = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="90mm" viewBox="0 0 120 90">'
    '<path d="M10 45C10 10 110 10 110 45S10 {} 10 45z"/></svg>'
)
DASK = Path(sys.executable).with_name("dask")
CARDS = 3
PATIENCE = 200


@dataclass
class Cluster:
    address: str
    workers: list[subprocess.Popen[bytes]]


def until(found: object, end: float) -> None:
    while not found():  # type: ignore[operator]  # a function of the test's own
        assert time.monotonic() < end
        time.sleep(0.05)


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    """Yield a scheduler with two workers of one thread each, no nurse to bring back the dead."""
    log = tmp_path / "scheduler.log"
    quiet = ["--no-dashboard", "--no-show"]
    with log.open("wb") as told:
        scheduler = subprocess.Popen(
            [DASK, "scheduler", "--host", "127.0.0.1", "--port", "0", *quiet],
            cwd=tmp_path,
            stderr=told,
            stdout=told,
        )
    workers: list[subprocess.Popen[bytes]] = []
    try:
        end = time.monotonic() + PATIENCE
        until(lambda: re.search(rb"Scheduler at:\s+tcp://", log.read_bytes()), end)
        address = re.search(r"Scheduler at:\s+(tcp://\S+)", log.read_text())[1]  # type: ignore[index]  # waited for
        workers += [
            subprocess.Popen(
                [DASK, "worker", address, "--nthreads", "1", "--no-nanny", "--no-dashboard"],
                cwd=tmp_path,
                stderr=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
            )
            for _ in range(2)
        ]
        until(lambda: log.read_bytes().count(b"Register worker") >= 2, end)
        yield Cluster(address, workers)
    finally:
        for process in (*workers, scheduler):
            process.kill()
            process.wait()


def test_a_worker_killed_in_the_middle_loses_no_card(cluster: Cluster, tmp_path: Path) -> None:
    drawings, cards = tmp_path / "drawings", tmp_path / "cards"
    drawings.mkdir()
    for number in range(CARDS):
        (drawings / f"{number}.svg").write_text(MOTIF.format(70 + 3 * number))
    (drawings / "bad.png").write_bytes(b"no picture")
    with subprocess.Popen(
        [COMMAND, "batch", "drawings", "--out", "cards", "--scheduler", cluster.address],
        cwd=tmp_path,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        end = time.monotonic() + PATIENCE
        until(lambda: len(list(cards.glob(".*.building-*"))) >= 2, end)
        cluster.workers[0].send_signal(signal.SIGKILL)
        _, told = process.communicate(timeout=PATIENCE)
    assert process.returncode == 11, told
    with (cards / "summary.csv").open(encoding="utf-8", newline="") as table:
        found = {row["card"]: (row["status"], row["code"]) for row in csv.DictReader(table)}
    made = {f"{number}-svg" for number in range(CARDS)}
    assert found == dict.fromkeys(made, ("made", "0")) | {"bad-png": ("failed", "3")}
    for name in made:
        report = check(cards / name)
        assert report.passed, report.messages()
    assert not list(cards.glob(".*"))


def test_no_scheduler_is_told(tmp_path: Path) -> None:
    (tmp_path / "a.svg").write_text(MOTIF.format(80))
    ran = run(["batch", ".", "--out", "cards", "--scheduler", "tcp://127.0.0.1:9"], tmp_path)
    assert ran.code == 2, ran.err
    assert len(error_lines(ran)) == 1
    assert "no Dask scheduler answers" in error_lines(ran)[0]
    assert "Traceback" not in ran.err
