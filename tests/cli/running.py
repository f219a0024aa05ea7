"""Runs the command line as a maker does: another process, its own folder."""

import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

COMMAND = Path(sys.executable).with_name("trace2pop")
SAMPLES = Path(__file__).parents[2] / "samples"


@dataclass(frozen=True)
class Ran:
    code: int
    out: str
    err: str


def run(arguments: Sequence[str | Path], cwd: Path, timeout: float = 600) -> Ran:
    done = subprocess.run(
        [COMMAND, *arguments], cwd=cwd, capture_output=True, text=True, timeout=timeout, check=False
    )
    return Ran(done.returncode, done.stdout, done.stderr)


def error_lines(ran: Ran) -> list[str]:
    """Return the lines the program's own errors are on."""
    return [line for line in ran.err.splitlines() if line.startswith("trace2pop: ")]


def tree(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
