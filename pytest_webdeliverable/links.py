"""Folders on pytest's way to manifests: linked in circles, locked, or named so that the name acts.

pytest follows links to folders. Links that lead back up would show it the same manifest again and
again, and two of them in one folder would keep it walking for ever.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Final

import pytest

from pytest_webdeliverable.display import display_name

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

MOST_LINKED_FOLDERS: Final = 1000
"""Linked folders that are walked into in one run; links to links multiply without any circle."""

_WALKED: Final[pytest.StashKey[int]] = pytest.StashKey()


def is_endless(link: Path, config: pytest.Config) -> bool:
    """Whether the link leads to a folder above itself, or is one of too many."""
    if not link.is_dir():
        return False
    real = os.path.realpath(link)
    inside = os.path.join(real, "")  # noqa: PTH118 - the root "/" ends in its own separator
    if any(f"{os.path.realpath(above)}{os.sep}".startswith(inside) for above in link.parents):
        return True
    walked = config.stash.get(_WALKED, 0) + 1
    config.stash[_WALKED] = walked
    return walked > MOST_LINKED_FOLDERS


def is_behind_link(path: Path, session: pytest.Session) -> bool:
    """Whether a folder between the file and what the command line names is a link."""
    for folder in path.parents:
        if folder == session.config.rootpath or session.isinitpath(folder):
            return False
        if folder.is_symlink():
            return True
    return False


def acts(nodeid: str) -> bool:
    """Whether a path that pytest prints could act on a terminal or in a CI service.

    A folder's name may hold line breaks and terminal escapes; a line that begins with ``::``, or that
    has ``##[`` in it, is a command to some services. Joiners, which scripts and emoji need, do nothing.
    """
    visible = nodeid.replace("\u200c", "").replace("\u200d", "")
    return not visible.isprintable() or nodeid.startswith("::") or "##[" in nodeid


class LockedFolder(pytest.Directory):
    """A folder that cannot be read and whose name could act: shown by a plain name."""

    @classmethod
    def under_plain_name(cls, parent: pytest.Collector, path: Path) -> LockedFolder:
        """Return its node."""
        above = f"{parent.nodeid}/" if parent.nodeid not in {"", "."} else ""
        name = display_name(f"{above}{path.name}")
        folder: LockedFolder = cls.from_parent(parent, path=path, nodeid=name)
        return folder

    def collect(self) -> Iterator[pytest.Item]:
        """Refuse."""
        raise self.CollectError(f"{self.nodeid}: this user has no permission to read this folder")


class OddlyPlaced(pytest.File):
    """A manifest whose path could act: not read, and shown by a plain name."""

    def collect(self) -> Iterator[pytest.Item]:
        """Refuse."""
        raise self.CollectError(
            f"{self.nodeid}: the path of this manifest holds what could act on a terminal or in a CI "
            "service; rename the folder"
        )
