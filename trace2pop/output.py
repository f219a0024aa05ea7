"""A folder that appears whole or not at all, and never loses what the maker put there."""

import contextlib
import json
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from trace2pop import places
from trace2pop.errors import OutputError

MANIFEST = ".trace2pop/manifest.json"
"""Names every file the program wrote into a folder, with its checksum."""


@dataclass(frozen=True)
class Delivered:
    """What became of a folder: ``kept`` are the program's files that the maker had changed."""

    folder: Path
    kept: tuple[str, ...]


class Delivery:
    """Builds a folder aside and moves it into place. Use as a context; see ``opened``."""

    def __init__(self, target: Path, staging: Path, *, force: bool) -> None:
        self.target = target
        self.staging = staging
        self.force = force

    def deliver(
        self, files: Mapping[str, bytes], judge: Callable[[Path], None] = lambda _: None
    ) -> Delivered:
        """Write ``files`` (relative path to bytes), have them judged, and put the folder in place.

        ``judge`` is called with the folder as it was written aside, before it replaces anything;
        what it raises stops the delivery.

        In a folder that exists already, files of its manifest that nobody changed are replaced or,
        where this run makes them no more, removed; changed ones are kept unless ``force``; all
        others stay as they are, also those that come while this goes on.

        Raises:
            OutputError: where the disk is full or the place can't be written.
        """
        with places.plain_errors(self.target):
            kept = [] if self.force else _makers(self.target, files)
            if self.target.exists():
                self._carry_over(files, kept)
            for name, content in files.items():
                if name not in kept:
                    places.write(self.staging / name, content)
            manifest = {name: places.digest(content) for name, content in sorted(files.items())}
            places.write(self.staging / MANIFEST, json.dumps(manifest, indent=1).encode() + b"\n")
        judge(self.staging)
        with places.plain_errors(self.target):
            kept += self._swap(files, kept)
        return Delivered(self.target, tuple(kept))

    def _carry_over(self, files: Mapping[str, bytes], kept: Sequence[str]) -> None:
        """Link into the new folder what stays of the old one."""
        stale = set(_manifest(self.target)) - set(files) - set(changed_files(self.target))
        replaced = set(files) - set(kept)
        for name in places.names_in(self.target):
            if name not in stale and name not in replaced and name != MANIFEST:
                places.link(self.target / name, self.staging / name)
        for folder in places.folders_in(self.target):
            (self.staging / folder).mkdir(parents=True, exist_ok=True)
            shutil.copystat(self.target / folder, self.staging / folder)

    def _swap(self, files: Mapping[str, bytes], kept: Sequence[str]) -> list[str]:
        """Put the new folder in the old one's place; return what the maker changed meanwhile."""
        self.staging.chmod(0o777 & ~places.umask())
        if not self.target.exists():
            self.staging.rename(self.target)
            return []
        old = self.staging.with_name(self.staging.name + "-old")
        self.target.rename(old)
        try:
            self.staging.rename(self.target)
        except BaseException:  # an interrupt too
            old.rename(self.target)
            raise
        late = [] if self.force else [n for n in _makers(old, files) if n not in kept]
        done = {*_manifest(old), MANIFEST, *(files if self.force else ())} - set(late)
        for name in places.names_in(old):
            if name not in done and not places.same_file(old / name, self.target / name):
                places.move(old / name, self.target / name)
        shutil.rmtree(old, ignore_errors=True)
        return late


@contextlib.contextmanager
def opened(target: Path, *, force: bool, rerun: bool) -> Iterator[Delivery]:
    """Open ``target`` for a delivery: checked for write access and locked before any work is done.

    ``rerun`` says that the settings come from the folder's own card.toml.

    Raises:
        OutputError: where the folder exists and isn't empty (unless ``force`` or ``rerun``), can't
            be written, or another run is writing it.
    """
    _refuse_existing(target, force=force, rerun=rerun)
    with places.plain_errors(target):
        target.parent.mkdir(parents=True, exist_ok=True)
    with places.locked(target):
        with places.plain_errors(target):
            recover(target)
            prefix = f".{target.name}.building-"
            staging = Path(tempfile.mkdtemp(prefix=prefix, dir=target.parent))
        try:
            yield Delivery(target, staging, force=force)
        finally:
            shutil.rmtree(staging, ignore_errors=True)


def recover(target: Path) -> None:
    """Put back a folder that a killed run had set aside, and clear what that run left."""
    for left in sorted(target.parent.glob(f".{places.glob_escaped(target.name)}.building-*")):
        if not left.is_dir() or left.is_symlink():
            continue
        if left.name.endswith("-old"):
            if not target.exists():
                left.rename(target)
                continue
            own = _manifest(left)
            for name in places.names_in(left):
                if name not in own and not os.path.lexists(target / name):
                    places.move(left / name, target / name)
        shutil.rmtree(left, ignore_errors=True)


def _makers(target: Path, files: Mapping[str, bytes]) -> list[str]:
    """Return the names of ``files`` that in ``target`` are the maker's, by change or by origin."""
    own = _manifest(target)
    foreign = [name for name in files if name not in own and os.path.lexists(target / name)]
    return [*changed_files(target), *foreign]


def changed_files(target: Path) -> list[str]:
    """Return the manifest's files that are there but no longer as they were written.

    A folder or a link in such a file's place is the maker's too.
    """
    changed = []
    for name, checksum in _manifest(target).items():
        path = target / name
        plain = path.is_file() and not path.is_symlink()
        if os.path.lexists(path) and not (plain and places.file_digest(path) == checksum):
            changed.append(name)
    return changed


def written_files(target: Path) -> list[str]:
    """Return the names of the files this program wrote into a folder."""
    return list(_manifest(target))


def is_whole(target: Path) -> bool:
    """Whether a folder has a manifest and all files it names."""
    names = _manifest(target)
    return bool(names) and all((target / name).exists() for name in names)


def _manifest(target: Path) -> dict[str, str]:
    try:
        rows = json.loads((target / MANIFEST).read_text("utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    if not isinstance(rows, dict):
        return {}
    return {
        name: checksum
        for name, checksum in rows.items()
        if isinstance(checksum, str) and _inside(name)
    }


def _inside(name: str) -> bool:
    path = PurePosixPath(name)
    return not path.is_absolute() and ".." not in path.parts


def _refuse_existing(target: Path, *, force: bool, rerun: bool) -> None:
    if target.is_symlink() or (target.exists() and not target.is_dir()):
        raise OutputError(f"{target} is a file, not a folder", "name another folder with --out")
    with places.plain_errors(target):
        occupied = target.is_dir() and any(target.iterdir())
    if occupied and not force and not rerun:
        raise OutputError(
            f"{target} is there already and isn't empty",
            "name another folder with --out, or add --force to replace this program's files in it",
        )
