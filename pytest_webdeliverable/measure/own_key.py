"""A secret of this user's on this machine, with which kept facts are marked as measured here.

A portfolio may come from somebody else, with a cache of pytest in it that tells of its pictures what is not
so. The mark (BLAKE2b with a key, RFC 7693) is one that only who knows the key can make.
"""

from __future__ import annotations

import os
import secrets
import sys
from pathlib import Path
from typing import Final

from pytest_webdeliverable.atomic import replace_file

KEY_BYTES: Final = 32
"""Bytes of the key; twice the digest's 16, and half of what RFC 7693 allows."""
FOLDER: Final = "pytest-webdeliverable"
NAME: Final = "cache-key"


def own_key() -> bytes | None:
    """Return the key, made where there is none yet; None where this user has no place for one."""
    try:
        path = _home() / FOLDER / NAME
        return _read(path) or _made(path)
    except (OSError, RuntimeError):  # no home, or none to be written to
        return None


def _home() -> Path:
    """Folder for what a program keeps of its own. Raises RuntimeError where there is no home.

    Source: XDG Base Directory Specification 0.8 for POSIX; the systems' customs for the others, from memory.
    """
    if sys.platform == "win32":
        named = os.environ.get("LOCALAPPDATA", "")
        return Path(named) if Path(named).is_absolute() else Path.home() / "AppData" / "Local"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches"
    named = os.environ.get("XDG_CACHE_HOME", "")
    return Path(named) if Path(named).is_absolute() else Path.home() / ".cache"


def _read(path: Path) -> bytes | None:
    try:
        flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOFOLLOW", 0)
        with open(path, "rb", opener=lambda name, _: os.open(name, flags)) as file:
            key = file.read(KEY_BYTES + 1)
    except FileNotFoundError:
        return None
    return key if len(key) == KEY_BYTES else None


def _made(path: Path) -> bytes | None:
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    replace_file(path, secrets.token_bytes(KEY_BYTES), mode=0o600)
    return _read(path)  # another run may have made its own in the meantime: one of both holds
