"""From the root folder down to one named file, without ever leaving the root.

On POSIX systems each folder is opened below the one before, links are resolved by hand, and the
file itself is opened without following a link and without waiting: nothing that is swapped
meanwhile can lead outside or block. Elsewhere (Windows) the real path is computed, checked and
compared with what was opened.
"""

from __future__ import annotations

import errno
import os
import stat
from collections import deque
from dataclasses import dataclass
from pathlib import PurePath
from typing import TYPE_CHECKING, Final, Literal

from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.measure.spelling import (
    folded,
    names_in,
    nearest_name,
    true_spelling,
)

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

MOST_LINKS: Final = 40
"""Links followed on the way to one file, as Linux itself does (path_resolution(7))."""

_WALKS: Final = os.open in os.supports_dir_fd and hasattr(os, "O_NOFOLLOW")
_FILE_FLAGS: Final = (
    os.O_RDONLY
    | getattr(os, "O_NONBLOCK", 0)
    | getattr(os, "O_NOFOLLOW", 0)
    | getattr(os, "O_CLOEXEC", 0)
    | getattr(os, "O_NOCTTY", 0)
    | getattr(os, "O_BINARY", 0)
)
_FOLDER_FLAGS: Final = (
    os.O_RDONLY
    | getattr(os, "O_DIRECTORY", 0)
    | getattr(os, "O_NOFOLLOW", 0)
    | getattr(os, "O_CLOEXEC", 0)
)


@dataclass(frozen=True, slots=True)
class Opened:
    """An open file: its descriptor, and how the disk spells each part of the name asked for."""

    descriptor: int
    spelling: tuple[str, ...]


class RefusedError(Exception):
    """A file that is not read; ``sentence`` says why, for a designer.

    ``kind`` is ``"missing"`` where there is no such file, ``"unreadable"`` for everything else.
    """

    def __init__(self, kind: Literal["missing", "unreadable"], sentence: str) -> None:
        super().__init__(sentence)
        self.kind = kind
        self.sentence = sentence


def _missing(shown: str, name: str, place: int | str) -> RefusedError:
    near = nearest_name(name, names_in(place))
    if near is None:
        hint = ""
    elif folded(near) == folded(name):
        hint = (
            f"; the folder has {display_name(near)!r}, with other capitals or other accents, which web"
            " servers tell apart"
        )
    else:
        hint = f"; the nearest name in that folder is {display_name(near)!r}"
    return RefusedError("missing", f"there is no file {shown}{hint}")


def _refusal(error: OSError, shown: str, name: str, place: int | str) -> RefusedError:
    if error.errno == errno.ENOENT:
        return _missing(shown, name, place)
    if error.errno == errno.ENOTDIR:
        return RefusedError(
            "missing", f"there is no file {shown}: {display_name(name)!r} is not a folder"
        )
    reasons = {
        errno.EACCES: "this user has no permission to read it",
        errno.EPERM: "this user has no permission to read it",
        errno.ENAMETOOLONG: "its name is too long for the disk",
        errno.ELOOP: "it is a link that cannot be followed",
        errno.EMFILE: "too many files are open at once",
        errno.ENFILE: "too many files are open at once",
    }
    reason = reasons.get(error.errno or 0) or f"the disk reports: {error.strerror or error}"
    return RefusedError("unreadable", f"{shown} cannot be read: {reason}")


def _not_a_file(mode: int, shown: str) -> RefusedError:
    kinds = (
        (stat.S_ISDIR, "a folder"),
        (stat.S_ISFIFO, "a pipe"),
        (stat.S_ISSOCK, "a socket"),
        (stat.S_ISLNK, "a link that changed while it was being read"),
    )
    kind = next((words for test, words in kinds if test(mode)), "a device")
    return RefusedError("unreadable", f"{shown} is {kind}, not a picture file")


def leaves_root(shown: str) -> RefusedError:
    """Return the refusal of a name that leads out of the root folder."""
    return RefusedError(
        "unreadable",
        f"{shown} leads out of the root folder of this test run, through '..' or a link;"
        " only files inside it are read",
    )


def parts_below(path: str | Path, root: str | Path) -> tuple[str, ...] | None:
    """Return the parts of ``path`` below ``root``, both resolved; None where it lies outside."""
    try:
        relative = os.path.relpath(os.path.realpath(path), os.path.realpath(root))
    except ValueError:  # another drive
        return None
    parts = PurePath(relative).parts
    return None if os.pardir in parts or os.path.isabs(relative) else parts  # noqa: PTH117


class _Walk:
    """The way down: one open folder, and the names that led to it from the root."""

    def __init__(self, root: Path, shown: str) -> None:
        self.roots = {os.path.realpath(root), os.path.abspath(root)}  # noqa: PTH100
        self.root = os.path.realpath(root)
        self.shown = shown
        self.names: list[str] = []
        self.folder = os.open(self.root, _FOLDER_FLAGS)

    def close(self) -> None:
        os.close(self.folder)

    def down(self, name: str) -> None:
        below = os.open(name, _FOLDER_FLAGS, dir_fd=self.folder)
        os.close(self.folder)
        self.folder = below
        self.names.append(name)

    def up(self) -> None:
        """Go one folder up, by walking down again: only one folder is open at a time."""
        if not self.names:
            raise leaves_root(self.shown)
        again = self.names[:-1]
        self.to_root()
        for name in again:
            self.down(name)

    def to_root(self) -> None:
        root = os.open(self.root, _FOLDER_FLAGS)
        os.close(self.folder)
        self.folder = root
        self.names = []

    def follow(self, name: str) -> list[str] | None:
        """Return the parts that the link ``name`` stands for, None where it is no link."""
        try:
            target = os.readlink(name, dir_fd=self.folder)
        except OSError as error:
            if error.errno == errno.EINVAL:
                return None
            raise
        if not target.startswith("/"):
            return target.split("/")
        for root in self.roots:
            if f"{target}/".startswith(f"{root.rstrip('/')}/"):
                self.to_root()
                return target[len(root) :].split("/")
        raise leaves_root(self.shown)

    def open_file(self, name: str) -> int:
        mode = os.stat(name, dir_fd=self.folder, follow_symlinks=False).st_mode
        if not stat.S_ISREG(mode):
            raise _not_a_file(mode, self.shown)
        return os.open(name, _FILE_FLAGS, dir_fd=self.folder)


def _walk_down(root: Path, above: Sequence[str], asked: Sequence[str], shown: str) -> Opened:
    walk = _Walk(root, shown)
    spelling: list[str] = []
    # Each part with whether the manifest spelled it, as opposed to the folder's place or a link.
    pending = deque([(part, False) for part in above] + [(part, True) for part in asked])
    links = 0
    name = ""
    try:
        while pending:
            name, is_asked = pending.popleft()
            if name == os.pardir:
                walk.up()
                if is_asked:
                    spelling.append(name)
                continue
            if is_asked:
                name = true_spelling(name, walk.folder)
                spelling.append(name)
            target = walk.follow(name)
            if target is not None:
                links += 1
                if links > MOST_LINKS:
                    raise RefusedError(
                        "unreadable", f"{shown} cannot be read: its links lead in a circle"
                    )
                parts = [part for part in target if part not in {"", os.curdir}]
                pending.extendleft((part, False) for part in reversed(parts))
            elif pending:
                walk.down(name)
            else:
                return Opened(walk.open_file(name), tuple(spelling))
    except OSError as error:
        raise _refusal(error, shown, name, walk.folder) from None
    finally:
        walk.close()
    raise RefusedError("unreadable", f"{shown} is a folder, not a picture file")


def _open_by_path(root: Path, above: Sequence[str], asked: Sequence[str], shown: str) -> Opened:
    """Open without descriptors of folders (Windows): resolve, check, open, compare."""
    parent = os.path.join(os.path.realpath(root), *above)  # noqa: PTH118
    if parts_below(os.path.join(parent, *asked), root) is None:  # noqa: PTH118
        raise leaves_root(shown)  # before it is known whether there is such a file
    spelling: list[str] = []
    for part in asked:
        parent = os.path.join(parent, *spelling[-1:])  # noqa: PTH118
        spelling.append(part if part == os.pardir else true_spelling(part, parent))
    path = os.path.join(parent, spelling[-1])  # noqa: PTH118
    if parts_below(path, root) is None:  # the other spelling may be a link
        raise leaves_root(shown)
    try:
        real = os.path.realpath(path, strict=True)
        mode = os.stat(real)  # noqa: PTH116
        if not stat.S_ISREG(mode.st_mode):
            raise _not_a_file(mode.st_mode, shown)
        opened = os.open(real, _FILE_FLAGS)
    except OSError as error:
        raise _refusal(error, shown, asked[-1], parent) from None
    if not os.path.samestat(os.fstat(opened), mode):
        os.close(opened)
        raise RefusedError("unreadable", f"{shown} was replaced while it was being read")
    return Opened(opened, tuple(spelling))


def open_inside(root: Path, base: Path, asked: Sequence[str], shown: str) -> Opened:
    """Open the regular file with the parts ``asked``, seen from the folder ``base`` in ``root``.

    Parts are neither empty nor ``.``; ``..`` and links are followed while they stay inside
    ``root``. ``shown`` is the name for messages. The caller closes the descriptor.
    Raises RefusedError.
    """
    above = parts_below(base, root)
    if above is None:
        raise leaves_root(shown)
    try:
        return (_walk_down if _WALKS else _open_by_path)(root, above, asked, shown)
    except OSError as error:  # the root itself cannot be opened
        raise _refusal(error, shown, str(root), str(root)) from None
