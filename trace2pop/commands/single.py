"""A command's single file: whole or not there, and never over another one unasked."""

import os
import tempfile
from contextlib import suppress
from pathlib import Path

from trace2pop.errors import OutputError


def write_single(out: Path, content: bytes, *, force: bool) -> None:
    """Write a file; one that is there already is replaced with ``force`` only.

    Raises:
        OutputError: where it is there already or can't be written.
    """
    if out.is_dir() or (out.exists() and not force):
        what = "is a folder" if out.is_dir() else "is there already"
        raise OutputError(f"{out} {what}", "name another file with --out, or add --force")
    aside = None
    try:
        handle, aside = tempfile.mkstemp(prefix=f".{out.name[:40]}.", dir=out.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        Path(aside).chmod(0o666 & ~_umask())
        Path(aside).replace(out)
    except OSError as error:
        if aside is not None:
            with suppress(OSError):
                Path(aside).unlink()
        raise OutputError(
            f"{out} can't be written: {(error.strerror or 'no reason given').lower()}",
            "choose a place you may write to",
        ) from None


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
