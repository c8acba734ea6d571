"""Facts of images measured before, by content: what the same bytes told will be told again.

One small file of JSON for each content, in a folder named after everything that could change the facts: the
version of the measuring code and of Pillow. A damaged or foreign file is measured anew. Several processes
may use the folder at once. An entry is marked with a key (``own_key``), so that one that somebody else
brought along is not believed.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, cast

from pytest_webdeliverable.atomic import replace_file
from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from pytest_webdeliverable.measure.facts import Facet, Measurements

MOST_BYTES: Final = 256 * 1024 * 1024
"""Size of the cache above which the oldest entries go: some 30,000 pictures of 8 kB each."""
MOST_ENTRY_BYTES: Final = 4 * 1024 * 1024
"""Largest entry that is read or written."""
_NOT_OF_CONTENT: Final = frozenset({"git"})
_MARKS: Final = (b"\\", b"::", b"##")
"""What stands in an entry with texts that could act; few have one of them."""
_ENTRY: Final = re.compile(r"[0-9a-f]{24}/[0-9a-f]{2}/\.?[0-9a-f]{62}\.json(\.\w+)?")
"""Path of an entry, or of half of one, in the folder of all versions: nothing else is ever removed."""
_GROUPS: Final = frozenset(
    {
        "problem",
        "header",
        "color",
        "metadata",
        "pixels",
        "edges",
        "history",
        "motion",
        "likeness",
    }
)


class FactsCache:
    """A folder of facts, marked with ``key``; without one whoever can write to it can change facts."""

    def __init__(self, folder: Path, limits: Limits = DEFAULT_LIMITS, *, key: bytes = b"") -> None:
        self._open(folder / _stamp(limits), key)

    @classmethod
    def at(cls, folder: Path, key: bytes) -> FactsCache:
        """Return the cache whose ``folder`` this is, for another process of the same run."""
        cache = cls.__new__(cls)
        cache._open(folder, key)
        return cache

    def _open(self, folder: Path, key: bytes) -> None:
        self.folder = folder
        self.key = key
        self._written = False
        self.answers = folder.is_dir()
        """Whether the latest question was answered: the next one likely is as well."""

    def heard(self, *, known: bool) -> None:
        """Note how the cache answered another process of this run, which keeps what it measures."""
        self.answers = known
        self._written |= not known

    def get(self, sha256: str, facets: Collection[Facet]) -> Measurements | None:
        """Return the facts of a content if they were kept with all these facets."""
        known = self._get(sha256, facets)
        self.answers = known is not None
        return known

    def _get(self, sha256: str, facets: Collection[Facet]) -> Measurements | None:
        try:
            with open(self._path(sha256), "rb", opener=_at_once) as file:
                data = file.read(MOST_ENTRY_BYTES + 1)
            check, kept, body = data.split(b"\n", 2)
            if check != _check(sha256, kept, body, self.key):
                return None
            known = json.loads(body)
            if any(mark in body for mark in _MARKS) and not _is_plain(known):
                return None
        except (OSError, ValueError, RecursionError):
            return None
        if not _has_shape(known):
            return None
        if "problem" not in known and not _asked(facets).issubset(kept.decode().split()):
            return None
        return cast("Measurements", known)

    def put(self, sha256: str, facets: Collection[Facet], known: Measurements) -> None:
        """Keep facts; a folder that cannot be written to only costs time."""
        asked = _asked(facets)
        if "problem" in known and not asked:
            return  # more may be told once the picture is decoded
        # Whatever is measured of the pixels, the facet "pixels" is measured with it.
        kept = " ".join(sorted(asked | {"pixels"} if asked else asked)).encode()
        body = json.dumps(known, separators=(",", ":"), allow_nan=False).encode()
        data = b"\n".join((_check(sha256, kept, body, self.key), kept, body))
        if len(data) > MOST_ENTRY_BYTES:
            return
        path = self._path(sha256)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            replace_file(path, data)
        except OSError:
            return
        self._written = True

    def close(self) -> None:
        """Drop what other versions left, and the oldest entries beyond the size allowed."""
        if not self._written:
            return
        entries = sorted(_entries(self.folder.parent))
        left = sum(size for _, size, _ in entries)
        for _, size, path in entries:
            if left <= MOST_BYTES:
                break
            Path(path).unlink(missing_ok=True)
            left -= size

    def _path(self, sha256: str) -> Path:
        return self.folder / sha256[:2] / f"{sha256[2:]}.json"


def _asked(facets: Collection[Facet]) -> set[str]:
    return {facet for facet in facets if facet not in _NOT_OF_CONTENT}


def _stamp(limits: Limits) -> str:
    """Name everything beside the bytes that facts depend on."""
    from importlib.metadata import version  # takes long to load, and only the run itself asks

    here = Path(__file__).parent
    digest = hashlib.blake2b(digest_size=12)
    for path in sorted((*here.rglob("*.py"), *here.with_name("likeness").rglob("*.py"))):
        digest.update(path.read_bytes())
    digest.update(f"{version('pillow')} {sys.byteorder} {limits}".encode())
    return digest.hexdigest()


def _check(sha256: str, kept: bytes, body: bytes, key: bytes) -> bytes:
    """Tell a damaged or forged entry, or one of another content, from a sound one."""
    text = b"\n".join((sha256.encode(), kept, body))
    return hashlib.blake2b(text, digest_size=16, key=key).hexdigest().encode()


def _has_shape(known: Any) -> bool:
    if not isinstance(known, dict) or not _GROUPS.issuperset(known):
        return False
    return all(isinstance(group, dict) for group in known.values())


def _is_plain(known: Any) -> bool:
    """Whether no text in it could act in a message: what was measured is plain before it is kept."""
    if isinstance(known, dict):
        return all(_is_plain(name) and _is_plain(one) for name, one in known.items())
    if isinstance(known, list):
        return all(map(_is_plain, known))
    return not isinstance(known, str) or display_name(known, len(known)) == known


def _at_once(path: str, flags: int) -> int:
    """Open without waiting, whatever lies there: a pipe would be waited for."""
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


def _entries(folder: Path) -> Iterator[tuple[float, int, str]]:
    """Yield time, size and path of every entry, and of nothing else that may lie there."""
    for above, _, names in os.walk(folder):
        for name in names:
            path = os.path.join(above, name)  # noqa: PTH118 - thousands of them
            if not _ENTRY.fullmatch(path[len(str(folder)) + 1 :].replace(os.sep, "/")):
                continue
            try:
                state = os.stat(path, follow_symlinks=False)  # noqa: PTH116
            except OSError:
                continue
            yield state.st_mtime, state.st_size, path
