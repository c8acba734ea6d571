"""Paths in a manifest: relative to its folder, inside the root, the same on every system."""

from __future__ import annotations

import os
import posixpath
import re
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from pathlib import Path

_DRIVE: Final = re.compile(r"[A-Za-z]:")
_ADDRESS: Final = re.compile(r"[A-Za-z]+://")


def path_problem(text: str, folder: str) -> str:
    """Say what is wrong with a path written in a manifest whose folder is ``folder`` below the root.

    ``folder`` is a posix path relative to the root, ``""`` for the root itself. Returns ``""`` for a
    good path. Links, odd characters and length are looked at when the file is opened, so that one bad
    file fails one piece.
    """
    if not text.strip():
        return "the path is empty"
    if _ADDRESS.match(text):
        return "this is a web address; the picture must be a file beside or below the manifest"
    if "\\" in text:
        return "write / between folders, not \\, so that the path works on every system"
    if text.startswith(("/", "~")) or _DRIVE.match(text):
        return 'the path must be relative to this file, such as "images/tide-table.jpg"'
    if leaves_root(text, folder):
        return "the path leaves the folder that pytest runs in (its root directory)"
    return ""


def leaves_root(text: str, folder: str) -> bool:
    """Whether ``..`` climbs out of the root at any point on the way."""
    depth = len([part for part in folder.split("/") if part])
    for part in text.split("/"):
        if part == "..":
            depth -= 1
        elif part not in {"", "."}:
            depth += 1
        if depth < 0:
            return True
    return False


def linked_outside(path: Path, root: Path) -> bool:
    """Whether links on the way to an existing file lead out of the root."""
    try:
        real, inside = os.path.realpath(path), os.path.realpath(root)
    except ValueError:  # a name that no disk can hold, so there is no such file
        return False
    return not real.startswith(os.path.join(inside, ""))  # noqa: PTH118 - also for the root "/"


def below_root(text: str, folder: str) -> str:
    """Path relative to the root, of a path that has no problem."""
    return posixpath.normpath(posixpath.join(folder, text))
