"""How names are spelled on the disk, which may not tell capitals or forms of accents apart."""

from __future__ import annotations

import os
import unicodedata
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import lru_cache
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Sequence

MOST_COMPARED: Final = 300
"""Names that are searched for one of similar spelling: about 5 ms."""
_SWAP_ASCII_CASE: Final = {
    **{code: code + 32 for code in range(ord("A"), ord("Z") + 1)},
    **{code: code - 32 for code in range(ord("a"), ord("z") + 1)},
}


@dataclass(frozen=True, slots=True)
class _Folder:
    """A folder's identity and state; ``place`` is an open descriptor or a path."""

    device: int
    inode: int
    changed_ns: int
    place: int | str = field(compare=False)


@lru_cache(maxsize=16)
def _listed(folder: _Folder) -> tuple[str, ...]:
    return tuple(sorted(os.listdir(folder.place)))  # noqa: PTH208  (descriptors, which Path lacks)


def names_in(place: int | str) -> tuple[str, ...]:
    """Return the names in a folder, read once for all the pictures in it while it does not change."""
    try:
        state = os.stat(place)  # noqa: PTH116
        return _listed(_Folder(state.st_dev, state.st_ino, state.st_mtime_ns, place))
    except OSError:
        return ()


def folded(name: str) -> str:
    """Return what names that differ in capitals or the form of accents alone have in common."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


def _is_there(name: str, place: int | str) -> bool:
    try:
        if isinstance(place, int):
            os.stat(name, dir_fd=place, follow_symlinks=False)
        else:
            os.lstat(os.path.join(place, name))  # noqa: PTH118
    except (OSError, ValueError):
        return False
    return True


def true_spelling(name: str, place: int | str) -> str:
    """Return how ``name`` is really spelled in its folder.

    On a disk that tells capitals apart, a name that differs from the only similar one in capitals or
    accents alone is taken for that one, so that the verdict is the same on every disk: the file is
    there, under another spelling. Where the name itself is there, only a disk that also answers to
    another spelling needs its listing read.
    """
    if not _is_there(name, place):
        return _only_variant(name, names_in(place))
    swapped = name.translate(_SWAP_ASCII_CASE)
    variants = {
        swapped if swapped != name else name.swapcase(),
        unicodedata.normalize("NFC", name),
        unicodedata.normalize("NFD", name),
    } - {name}
    if not any(_is_there(variant, place) for variant in variants):
        return name
    names = names_in(place)
    return name if name in names else _only_variant(name, names)


def _only_variant(name: str, names: Sequence[str]) -> str:
    same = [other for other in names if folded(other) == folded(name)]
    return same[0] if len(same) == 1 else name


def nearest_name(name: str, names: Sequence[str]) -> str | None:
    """Return the name in ``names`` most likely meant by ``name``.

    That is one the same but for case or the form of accents, else the same but for the suffix,
    else a similar one; None where nothing is near.
    """
    wanted = folded(name)
    stem = wanted.rpartition(".")[0] or wanted
    by_stem: str | None = None
    for other in names:
        found = folded(other)
        if found == wanted:
            return other
        if by_stem is None and (found.rpartition(".")[0] or found) == stem:
            by_stem = other
    if by_stem is not None:
        return by_stem
    near = get_close_matches(name, names[:MOST_COMPARED], n=1)
    return near[0] if near else None
