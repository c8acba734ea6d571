"""Linked folders on pytest's way to manifests.

pytest follows links to folders. Links that lead back up would show it the same manifest again and
again, and two of them in one folder would keep it walking for ever.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Final

import pytest

if TYPE_CHECKING:
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
