"""Files of a folder read as bytes: only plain ones, of a size a card's file can have."""

import stat
from pathlib import Path

_MOST = 100_000_000


def content(path: Path) -> bytes:
    """Return a file's bytes.

    Raises:
        OSError: where it is missing, no plain file (a pipe would be waited for), or far too large.
    """
    found = path.stat()
    if not stat.S_ISREG(found.st_mode):
        raise OSError("it is no file")
    if found.st_size > _MOST:
        raise OSError(f"it has {found.st_size / 1e6:.0f} MB")
    return path.read_bytes()
