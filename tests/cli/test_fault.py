"""A fault of the program itself: one plain line, code 70, nothing half written."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
import typer

from tests.cli.running import SAMPLES, tree
from trace2pop import cli, pipeline
from trace2pop import flags as cli_flags
from trace2pop.commands import make as command
from trace2pop.commands import tables


def started(arguments: list[str], monkeypatch: pytest.MonkeyPatch) -> int:
    monkeypatch.setattr(sys, "argv", ["trace2pop", *arguments])
    with pytest.raises(SystemExit) as ended:
        cli.main()
    return int(str(ended.value.code))


def broken(*_: object, **__: object) -> None:
    raise ZeroDivisionError("float\ndivision by zero")


def test_one_line_and_nothing_half_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(pipeline, "fit", broken)
    picture = str(SAMPLES / "lily" / "cutout.png")
    assert started(["make", picture, "--out", "card", "-q"], monkeypatch) == 70
    said = capsys.readouterr().err
    assert len(said.splitlines()) == 1
    assert "ZeroDivisionError: float division by zero (test_fault.py, line" in said
    assert "report" in said
    assert tree(tmp_path) == {}
    assert [*tmp_path.iterdir()] == []


def test_with_v_it_shows_where(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(command, "make", broken)
    assert started(["make", "a.png", "--out", "card", "-v"], monkeypatch) == 70
    said = capsys.readouterr().err
    assert "Traceback" in said
    assert "test_fault.py" in said
    assert said.splitlines()[-1].startswith("trace2pop: a fault of the program")


def test_every_command_has_the_v_that_is_advised() -> None:
    commands = typer.main.get_command(cli_flags.app).commands  # type: ignore[attr-defined]  # of a group
    assert "compare" in commands
    for name, one in commands.items():
        flags = [flag for option in one.params for flag in option.opts]
        assert {"-v", "--verbose"} <= set(flags), name


def test_the_advised_v_shows_where_another_command_failed(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(tables, "list_table", broken)
    assert started(["list", "stocks"], monkeypatch) == 70
    said = capsys.readouterr().err
    assert "-v" in said and "Traceback" not in said
    assert started(["list", "stocks", "-v"], monkeypatch) == 70
    assert "Traceback" in capsys.readouterr().err


def test_a_full_memory_is_said_plainly(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full(*_: object, **__: object) -> None:
        raise MemoryError

    monkeypatch.setattr(command, "make", full)
    assert started(["make", "a.png", "--out", "card"], monkeypatch) == 1
    assert "memory" in capsys.readouterr().err


def test_linear_algebra_runs_in_one_thread_unless_told_otherwise() -> None:
    code = "import os, sys; assert 'numpy' not in sys.modules; import trace2pop.cli;"
    code += "print(os.environ['OPENBLAS_NUM_THREADS'], os.environ['OMP_NUM_THREADS'])"
    plain = {key: value for key, value in os.environ.items() if not key.endswith("NUM_THREADS")}
    for given, wanted in (({}, "1 1"), ({"OMP_NUM_THREADS": "2"}, "1 2")):
        done = subprocess.run(
            [sys.executable, "-c", code], env=plain | given, capture_output=True, text=True
        )
        assert done.stdout.strip() == wanted, done.stderr


def test_numpy_is_not_loaded_before_the_number_of_threads_is_set() -> None:
    code = "import sys, trace2pop.one_thread; print('numpy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.stdout.strip() == "False"
