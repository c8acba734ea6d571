"""Choose the checks that changed files call for, before a commit."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from pytest_webdeliverable.nodes import CheckItem, bench_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    import pytest

    from pytest_webdeliverable.nodes import CheckGroup


def select_by_files(config: pytest.Config, items: list[pytest.Item], named: Iterable[str]) -> None:
    """Keep the checks that the named files call for; paths are relative to where pytest was called.

    A picture calls for its piece, for its copies and for the copy of which it is the original; a
    manifest, or a file of specs, for all that it says. Either way, rules on the portfolio that open no
    picture are kept: they are quick, and find a new picture that no piece lists.
    """
    changed = {_key(config.invocation_params.dir / name) for name in named}
    folders = {os.path.dirname(path) for path in changed}  # noqa: PTH120 - plain text, as in _key
    kept: list[pytest.Item] = []
    left_out: list[pytest.Item] = []
    for item in items:
        wanted = isinstance(item, CheckItem) and _is_called_for(item, changed, folders)
        (kept if wanted else left_out).append(item)
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = kept


def is_check(config: pytest.Config, nodeid: str) -> bool:
    """Whether the test of this name is a check: of its processes' tests a run knows the names alone."""
    return nodeid.count("::") >= 2 and nodeid.rpartition("::")[2] in bench_of(config).rules


def _is_called_for(item: CheckItem, changed: set[str], folders: set[str]) -> bool:
    group = item.parent
    if changed.intersection(map(_key, _declared_in(group))):
        return True
    if group.piece is not None:
        return not changed.isdisjoint(map(_key, _files_of(group)))
    quick = not (item.rule.needs or item.rule.needs_files)
    below = _key(group.parent.path.parent)
    return quick and any(folder == below or folder.startswith(below + os.sep) for folder in folders)


def _declared_in(group: CheckGroup) -> Iterator[Path]:
    """Yield the files that say what is asked: the manifest and the specs it shares."""
    manifest = group.parent.path
    yield manifest
    for shared in group.manifest.portfolio.specs_from:
        yield manifest.parent / shared


def _files_of(group: CheckGroup) -> Iterator[Path]:
    """Yield the files that the checks of a piece look at."""
    home, piece = group.parent.home, group.piece
    assert piece is not None, "asked of pieces only"
    yield home.folder / piece.file
    if piece.original:
        yield home.folder / piece.original
    if piece.spec.profile:
        yield home.root / piece.spec.profile
    for other in group.manifest.pieces:
        if other.id == piece.copy_of:
            yield home.folder / other.file


def _key(path: Path) -> str:
    """Return a path in the one form in which paths are compared; links are not followed."""
    return os.path.normcase(os.path.abspath(path))  # noqa: PTH100 - Path.resolve() follows links
