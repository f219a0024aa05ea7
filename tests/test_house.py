"""The house rules: lint, types, one-way imports, and a quick start."""

import resource
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
BIN = Path(sys.executable).parent

CHECKS = {
    "ruff check": [BIN / "ruff", "check", "."],
    "ruff format": [BIN / "ruff", "format", "--check", "."],
    "mypy": [BIN / "mypy"],
    "imports": [BIN / "lint-imports"],
}


@pytest.mark.parametrize("name", CHECKS)
def test_check_passes(name: str) -> None:
    done = subprocess.run(CHECKS[name], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_top_level_holds_what_it_should() -> None:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split("\n")
    allowed = {".ci", ".gitignore", "DEVELOPERS.md", "LICENSE", "README.md", "docs"}
    allowed |= {"pyproject.toml", "samples", "tests", "trace2pop"}
    assert {name.split("/")[0] for name in listed if name} <= allowed


def test_help_answers_at_once() -> None:
    """Under 0.4 s. Processor time of the best of five counts: other tests run at the same time."""
    times = []
    for _ in range(5):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([BIN / "trace2pop", "--help"], check=True, capture_output=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        times.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    assert min(times) < 0.4


def test_help_imports_no_heavy_library() -> None:
    heavy = {"cv2", "scipy", "skimage", "shapely", "svgpathtools", "skfem", "typst", "ezdxf"}
    code = f"import sys, trace2pop.cli; print(sorted({heavy} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_module_runs_as_the_command() -> None:
    said = [
        subprocess.run([*way, "--version"], capture_output=True, text=True, check=True).stdout
        for way in ([BIN / "trace2pop"], [sys.executable, "-m", "trace2pop"])
    ]
    assert said[0] == said[1]
