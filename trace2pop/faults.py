"""What to say where the program, the computer or what was typed is at fault."""

import os
import traceback
from collections.abc import Sequence
from pathlib import Path

from trace2pop.errors import FaultError, Trace2popError


def broken_name(words: Sequence[str]) -> str:
    """Return the name of a file that was typed with its spaces but without quotes, or nothing."""
    runs = (words[i:j] for i in range(len(words)) for j in range(i + 2, len(words) + 1))
    names = (" ".join(run) for run in runs)
    # Path.exists fails on names too long for a disk.
    return next((name for name in names if os.path.exists(name)), "")  # noqa: PTH110


def as_error(fault: Exception) -> Trace2popError:
    """Return what to say of something the program was not made to meet."""
    if isinstance(fault, MemoryError):
        return Trace2popError(
            "the memory of this computer is full", "close other programs, or scan at 300 dpi"
        )
    if isinstance(fault, ImportError) and "libGL" in str(fault):
        return Trace2popError(
            "a system library for pictures (libGL.so.1) is missing",
            "install it, for instance with: apt-get install libgl1",
        )
    last = traceback.extract_tb(fault.__traceback__)[-1]
    return FaultError(
        f"a fault of the program: {type(fault).__name__}: {fault} "
        f"({Path(last.filename).name}, line {last.lineno})",
        "nothing was written; please report it with the picture and what you typed "
        "(run it with -v to see where it happened)",
    )
