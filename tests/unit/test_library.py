"""The library: docs/library.md does what it says, names are there and typed, help stays quick."""

import ast
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import trace2pop

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "library.md").read_text("utf-8")
EXAMPLES = re.findall(r"```python\n(.*?)```", PAGE, re.DOTALL)


def test_every_example_of_the_page_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copy(ROOT / "samples" / "dragonfly" / "cutout.png", tmp_path / "dragonfly.png")
    monkeypatch.chdir(tmp_path)
    assert len(EXAMPLES) >= 6
    names: dict[str, object] = {}
    for number, example in enumerate(EXAMPLES):
        exec(compile(example, f"docs/library.md, example {number + 1}", "exec"), names)
    said = capsys.readouterr().out
    assert "mm of sag" in said
    assert "FitError 5" in said
    assert (tmp_path / "dragonfly-card" / "guide.pdf").is_file()


def test_every_name_is_there_and_documented() -> None:
    for name in trace2pop.__all__:
        assert getattr(trace2pop, name).__doc__, name
    assert sorted(trace2pop.__all__) == trace2pop.__all__
    assert set(trace2pop.__all__) <= set(dir(trace2pop))
    assert not hasattr(trace2pop, "butter")


def test_names_for_type_checkers_are_those_that_load() -> None:
    tree = ast.parse((ROOT / "trace2pop" / "__init__.py").read_text("utf-8"))
    guarded = next(node for node in tree.body if isinstance(node, ast.If))
    typed = {
        alias.name: node.module
        for node in ast.walk(guarded)
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    loaded = {name: home for home, names in trace2pop._HOMES.items() for name in names}
    assert typed == loaded
    assert set(typed) == set(trace2pop.__all__)


def test_a_program_that_uses_it_passes_a_strict_type_check(tmp_path: Path) -> None:
    """By the project's own settings for mypy, which are strict."""
    program = tmp_path / "maker.py"
    program.write_text("\n".join(EXAMPLES), "utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "mypy", program],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout


def test_importing_the_package_loads_nothing_heavy() -> None:
    code = "import sys, trace2pop; print('numpy' in sys.modules, 'cv2' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "False"]
