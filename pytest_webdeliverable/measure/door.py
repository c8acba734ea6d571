"""The one door through which files of a portfolio are read.

Only regular files inside the root folder come through, each read once, up to the size that its
format may have; what is hashed is what is measured. No picture is decoded here.
"""

from __future__ import annotations

import hashlib
import os
import stat
import unicodedata
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.measure.folders import (
    RefusedError,
    leaves_root,
    open_inside,
    parts_below,
)
from pytest_webdeliverable.measure.headers.sniff import PEEK, sniff
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, HeavyError, Limits

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

__all__ = ["RefusedError", "Source", "list_folder", "read_file", "refused_name"]

LONGEST_PATH: Final = 1024
"""Bytes of UTF-8 in a path; the shortest PATH_MAX of common systems (macOS, sys/syslimits.h)."""
MOST_LISTED: Final = 100_000
"""Files in a portfolio's picture folder, all folders below it included."""
DEEPEST_LISTED: Final = 32
"""Folders within folders."""

_JOINERS: Final = frozenset("\u200c\u200d")  # Persian, Indic and emoji spelling needs these two
_WINDOWS_ONLY: Final = frozenset('\\:*?"<>|')


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One file as it was read.

    ``bytes`` is the size, ``name`` the path as asked, ``name_on_disk`` the same path as the disk
    spells it, part by part: they differ in capitals or in the form of accents where a lenient disk
    let it pass.
    """

    data: bytes
    sha256: str
    bytes: int
    name: str
    name_on_disk: tuple[str, ...]


def _asked_parts(relative: str) -> list[str]:
    """Split a path of the manifest, refusing what no portfolio needs."""
    shown = display_name(relative)
    for character in relative:
        category = unicodedata.category(character)
        if category in {"Cc", "Cf", "Cs", "Zl", "Zp"} and character not in _JOINERS:
            # In TOML \t is a tab, so a path with the other slash turns into such a name.
            hint = "write / between folders, not \\" if character in "\b\t\n\f\r" else "rename it"
            raise RefusedError(
                "unreadable", f"the name {shown} holds a character that cannot be seen; {hint}"
            )
    if len(relative.encode()) > LONGEST_PATH:
        raise RefusedError(
            "unreadable", f"the name {shown} is longer than {LONGEST_PATH} bytes; shorten it"
        )
    if relative.startswith("/") or (os.name == "nt" and _WINDOWS_ONLY & set(relative)):
        raise RefusedError(
            "unreadable",
            f"{shown} is not a path below the manifest's folder, with '/' between folders",
        )
    parts = [part for part in relative.split("/") if part not in {"", "."}]
    if not parts or relative.endswith(("/", "/.")):
        raise RefusedError("unreadable", f"{shown or 'an empty name'} names no picture file")
    return parts


def refused_name(relative: str) -> str:
    """Say why a path could never be asked for, whatever is there; ``""`` for a sound one."""
    try:
        _asked_parts(relative)
    except RefusedError as refusal:
        return refusal.sentence
    return ""


def _size_cap(head: bytes, limits: Limits) -> int:
    """Most bytes a file that starts with ``head`` may have; what is no picture gets the least."""
    known = sniff(head)
    return limits.bytes_by_format[known] if known else min(limits.bytes_by_format.values())


def _read(descriptor: int, shown: str, limits: Limits, *, light_only: bool) -> bytes:
    before = os.fstat(descriptor)
    if not stat.S_ISREG(before.st_mode):
        raise RefusedError("unreadable", f"{shown} was replaced while it was being read")
    head = os.read(descriptor, PEEK)
    cap = _size_cap(head, limits)
    if before.st_size > cap:
        raise RefusedError(
            "unreadable",
            f"{shown} has {before.st_size:,} bytes; its kind of file may have at most {cap:,}",
        )
    if light_only and before.st_size >= max(limits.aside_bytes, DEFAULT_LIMITS.aside_bytes):
        raise HeavyError  # before each thread holds one
    # One read of a size known beforehand keeps a single copy in memory; the loop is for short
    # reads.
    os.lseek(descriptor, 0, os.SEEK_SET)
    pieces: list[bytes] = []
    left = before.st_size + 1
    while left > 0 and (piece := os.read(descriptor, left)):
        pieces.append(piece)
        left -= len(piece)
    after = os.fstat(descriptor)
    if left != 1 or (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns):
        raise RefusedError("unreadable", f"{shown} changed while it was being read; run again")
    return b"".join(pieces)


def read_file(
    root: Path,
    relative: str,
    *,
    base: Path | None = None,
    limits: Limits = DEFAULT_LIMITS,
    light_only: bool = False,
) -> Source:
    """Read the file ``relative``, seen from the folder ``base`` in ``root`` (default: ``root``).

    ``..`` and links may be used as long as they stay inside ``root``. Raises RefusedError, and
    with ``light_only`` HeavyError for a file whose size alone makes it heavy, before it is read.
    """
    shown = display_name(relative)
    opened = open_inside(root, base or root, _asked_parts(relative), shown)
    try:
        data = _read(opened.descriptor, shown, limits, light_only=light_only)
    except (OSError, MemoryError) as error:
        detail = getattr(error, "strerror", None) or "there is not enough memory"
        raise RefusedError("unreadable", f"{shown} cannot be read: {detail}") from None
    finally:
        os.close(opened.descriptor)
    return Source(
        data=data,
        sha256=hashlib.sha256(data).hexdigest(),
        bytes=len(data),
        name=relative,
        name_on_disk=opened.spelling,
    )


def _is_file(entry: os.DirEntry[str]) -> bool:
    try:
        return entry.is_file()
    except OSError:  # links in a circle
        return False


def _files_below(folder: str, depth: int) -> Iterator[tuple[str, os.DirEntry[str]]]:
    """Yield every file that is not hidden, with its path; links to folders are not followed."""
    with os.scandir(folder) as entries:
        shown_entries = [entry for entry in entries if not entry.name.startswith(".")]
    for entry in shown_entries:
        if entry.is_dir(follow_symlinks=False):
            if depth == 0:
                raise RefusedError(
                    "unreadable", f"folders below {display_name(entry.name)} are nested too deep"
                )
            for below, file in _files_below(entry.path, depth - 1):
                yield f"{entry.name}/{below}", file
        elif _is_file(entry):
            yield entry.name, entry


def list_folder(root: Path, folder: str, *, base: Path | None = None) -> list[str]:
    """List the files in ``folder`` and below, as sorted paths from ``base`` (default: ``root``).

    Hidden files, and links that leave ``root``, are not listed; links to folders are not followed.
    A name that is not UTF-8 has its bytes as lone surrogates. Raises RefusedError.
    """
    shown = display_name(folder)
    asked = [] if folder in {"", "."} else _asked_parts(folder.rstrip("/"))
    start = os.path.realpath(os.path.join(base or root, *asked))  # noqa: PTH118
    if parts_below(start, root) is None:
        raise leaves_root(shown)
    names: list[str] = []
    try:
        for below, entry in _files_below(start, DEEPEST_LISTED):
            if entry.is_symlink() and parts_below(entry.path, root) is None:
                continue
            names.append("/".join([*asked, below]))
            if len(names) > MOST_LISTED:
                raise RefusedError(
                    "unreadable", f"the folder {shown} holds more than {MOST_LISTED:,} files"
                )
    except FileNotFoundError:
        raise RefusedError("missing", f"there is no folder {shown}") from None
    except OSError as error:
        raise RefusedError(
            "unreadable", f"the folder {shown} cannot be read: {error.strerror}"
        ) from None
    return sorted(names)
