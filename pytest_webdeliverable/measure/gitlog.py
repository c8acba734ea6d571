"""What git remembers of a file: when it changed last, and its previous version.

One process reads the changes of all files, two more the previous versions that are wanted, bounded in
time and bytes. Whatever goes wrong means "not known", never an error.
"""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import IO, TYPE_CHECKING, Final

from pytest_webdeliverable.measure.gitprocess import git
from pytest_webdeliverable.measure.limits import MIB

if TYPE_CHECKING:
    import subprocess
    from collections.abc import Iterable, Iterator, Mapping
    from pathlib import Path

MOST_LOG_BYTES: Final = 32 * MIB
"""Most output read from the log; about 200,000 changes of files."""
MOST_BLOB_BYTES: Final = 64 * MIB
"""Largest previous version read, as for the largest web format."""
MOST_FOLDERS: Final = 64
"""Most folders named on git's command line; beyond that the common folder is asked for."""
CHANGES_KEPT: Final = 16
"""Changes remembered per file, newest first."""
SHORT: Final = 10
"""Characters of a commit's name shown to people."""
POINTER: Final = b"version https://git-lfs.github.com/spec/"
"""First words of a large-file pointer, which stands in a commit instead of the picture."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One commit that changed a file: full name, commit time (UTC), the file's blob or None if removed."""

    commit: str
    time: datetime
    blob: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Previous:
    """The last committed version of a file that differs from the file as it is now."""

    commit: str
    """Shortened name of the commit, for people."""
    date: str
    """Commit date, ISO 8601, UTC."""
    data: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Log:
    """Changes by file, newest first; ``complete`` is False where reading stopped at a limit."""

    top: Path
    changes: Mapping[str, tuple[Change, ...]]
    complete: bool

    def of(self, file: Path) -> tuple[Change, ...]:
        """Give the changes of one file of the work tree; empty if it is not known to git."""
        name = _inside(self.top, file)
        return self.changes.get(name, ()) if name is not None else ()


def blob_id(data: bytes, like: str = "") -> str:
    """Name git gives to a file's bytes; ``like`` is another name, whose length tells the hash."""
    method = hashlib.sha256 if len(like) == 64 else hashlib.sha1
    return method(b"blob %d\0" % len(data) + data, usedforsecurity=False).hexdigest()


def work_tree(folder: Path) -> Path | None:
    """Nearest folder at or above ``folder`` that holds ``.git``."""
    try:
        here = folder.resolve()
        return next((top for top in (here, *here.parents) if (top / ".git").exists()), None)
    except OSError:
        return None


def read_log(root: Path, files: Iterable[Path]) -> Log | None:
    """Read the changes of ``files``, anywhere below ``root``, with one git process.

    None where there is no work tree, no git, no commit, or git refuses the folder's owner.
    """
    top = work_tree(root)
    if top is None:
        return None
    wanted = {name for file in files if (name := _inside(top, file)) is not None}
    if not wanted:
        return None
    changes: dict[str, list[Change]] = {}
    complete = False
    arguments = (
        *("log", "--format=%x01%H %ct", "-z", "--raw", "--no-abbrev", "--no-renames"),
        *("--no-ext-diff", "--no-textconv", "--no-color", "--no-notes", "--no-mailmap"),
        *("--no-decorate", "--no-show-signature", "--ignore-submodules=all", "HEAD", "--"),
        *_folders(wanted),
    )
    with git(top, arguments) as process:
        if process is None or process.stdout is None:
            return None
        for name, change in _parse(_fields(process.stdout, MOST_LOG_BYTES)):
            if name in wanted:
                known = changes.setdefault(name, [])
                if len(known) < CHANGES_KEPT:
                    known.append(change)
        complete = process.wait() == 0
    if not changes:
        return None
    return Log(
        top=top, changes={name: tuple(known) for name, known in changes.items()}, complete=complete
    )


def previous_versions(log: Log, now: Mapping[Path, str]) -> Iterator[tuple[Path, Previous]]:
    """Yield the previous version of each file that has one, with two git processes for all files.

    ``now`` gives each file's present blob name (see :func:`blob_id`). Versions larger than
    MOST_BLOB_BYTES, large-file pointers and versions a shallow or partial clone lacks are left out.
    """
    wanted = {
        file: change
        for file, blob in now.items()
        if (change := _last_other(log.of(file), blob)) is not None
    }
    sizes = _sizes(log.top, [change.blob for change in wanted.values() if change.blob])
    wanted = {
        file: change
        for file, change in wanted.items()
        if change.blob is not None and 0 < sizes.get(change.blob, 0) <= MOST_BLOB_BYTES
    }
    if not wanted:
        return
    with git(log.top, ("cat-file", "--batch"), talks=True) as process:
        for file, change in wanted.items():
            data = _blob(process, change.blob)
            if data is None:
                return
            if not data.startswith(POINTER):
                yield (
                    file,
                    Previous(commit=change.commit[:SHORT], date=change.time.isoformat(), data=data),
                )


def _last_other(changes: tuple[Change, ...], blob: str) -> Change | None:
    return next((change for change in changes if change.blob not in {None, blob}), None)


def _inside(top: Path, file: Path) -> str | None:
    """Path as git writes it; the folder's links are resolved, the file itself is not followed."""
    try:
        return (file.parent.resolve() / file.name).relative_to(top).as_posix()
    except (OSError, ValueError):
        return None


def _folders(names: Iterable[str]) -> list[str]:
    """Folders that hold all of ``names``, as few as can be named."""
    folders = sorted({name.rpartition("/")[0] for name in names})
    if len(folders) > MOST_FOLDERS:
        folders = [os.path.commonpath(folders)] if all(folders) else [""]
    return [folder or "." for folder in folders]


def _fields(stream: IO[bytes], most: int) -> Iterator[bytes]:
    """Split a stream at NUL, up to ``most`` bytes."""
    rest = b""
    while most > 0 and (chunk := stream.read1(65536)):  # type: ignore[attr-defined]
        most -= len(chunk)
        *whole, rest = (rest + chunk).split(b"\0")
        yield from whole
    if rest:
        yield rest


def _parse(fields: Iterator[bytes]) -> Iterator[tuple[str, Change]]:
    """Read ``SOH COMMIT TIME`` and ``:MODE MODE OLD NEW STATUS``, NAME, as git writes them with -z."""
    commit, time = "", datetime.fromtimestamp(0, UTC)
    for raw in fields:
        field = raw.lstrip(b"\n")
        if field.startswith(b"\x01"):
            name, _, seconds = field[1:].partition(b" ")
            commit = name.decode("ascii", "replace")
            time = _moment(seconds)
        elif field.startswith(b":"):
            parts = field.split(b" ")
            file = next(fields, None)
            if file is None or len(parts) != 5:
                return
            blob = parts[3].decode("ascii", "replace")
            removed = parts[4].startswith(b"D") or not blob.strip("0")
            yield (
                os.fsdecode(file),
                Change(commit=commit, time=time, blob=None if removed else blob),
            )


def _moment(seconds: bytes) -> datetime:
    try:
        return datetime.fromtimestamp(int(seconds), UTC)
    except (ValueError, OverflowError, OSError):
        return datetime.fromtimestamp(0, UTC)


def _sizes(top: Path, blobs: list[str]) -> dict[str, int]:
    """Bytes of each blob that is there."""
    sizes = {}
    with git(top, ("cat-file", "--batch-check"), talks=True) as process:
        for blob in blobs:
            size = _ask(process, blob)
            if size is None:
                break
            sizes[blob] = size
    return sizes


def _ask(process: subprocess.Popen[bytes] | None, blob: str) -> int | None:
    """Ask a cat-file process for one blob: its bytes, 0 if it is not there, None if git is gone."""
    if process is None or process.stdin is None or process.stdout is None:
        return None
    try:
        process.stdin.write(blob.encode("ascii", "replace") + b"\n")
        process.stdin.flush()
        answer = process.stdout.readline(256).split()
    except (OSError, ValueError):
        return None
    if not answer:
        return None
    return int(answer[2]) if len(answer) == 3 and answer[1] == b"blob" else 0


def _blob(process: subprocess.Popen[bytes] | None, blob: str | None) -> bytes | None:
    size = _ask(process, blob or "")
    if not size or process is None or process.stdout is None:
        return None
    data = process.stdout.read(size + 1)
    return data[:size] if len(data) == size + 1 else None
