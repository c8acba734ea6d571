"""A bounded reader of TIFF directories, the structure that Exif metadata are written in.

Written here rather than taken from a library, because hostile structures (loops, huge counts,
offsets into nowhere) must end in a sentence and never in an exception or a long wait.

Source: TIFF 6.0 sections 2 (structure, value types) and CIPA DC-008 (the pointers to the Exif, GPS
and interoperability directories). The 64-bit form of TIFF is from memory: number 43, offsets of 8
bytes.
"""

from __future__ import annotations

import struct
from collections import deque
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.limits import Limits


class Rational(NamedTuple):
    """A fraction as stored; the denominator may be 0."""

    num: int
    den: int


Scalar = int | float | Rational
Value = Scalar | tuple[Scalar, ...] | str | bytes
Directory = dict[int, Value]
Kind = Literal["page", "exif", "gps", "interop"]

XMP_PACKET: Final = 0x02BC
IPTC_STREAM: Final = 0x83BB
_PACKETS: Final = frozenset({XMP_PACKET, IPTC_STREAM})
"""Tags whose values are bytes, whatever type a writer gave them."""

_POINTERS: Final[dict[int, Kind]] = {
    0x8769: "exif",
    0x8825: "gps",
    0xA005: "interop",
    0x014A: "page",  # sub-directories
}

_CLASSIC: Final = 42
_BIG: Final = 43
_NUMBERS_READ: Final = 64
"""Numbers decoded per entry; no tag judged here has more, strip tables of whole TIFF files do."""
_PROBLEMS_KEPT: Final = 20
"""Sentences kept per structure; more would say nothing new."""

# Letter of the struct module and bytes of one value. 13 is a directory offset, 16 to 18 are the
# 64-bit types, 129 is UTF-8 text (Exif 3.0).
_TYPES: Final[dict[int, tuple[str, int]]] = {
    1: ("B", 1),
    2: ("s", 1),
    3: ("H", 2),
    4: ("I", 4),
    5: ("I", 8),
    6: ("b", 1),
    7: ("B", 1),
    8: ("h", 2),
    9: ("i", 4),
    10: ("i", 8),
    11: ("f", 4),
    12: ("d", 8),
    13: ("I", 4),
    16: ("Q", 8),
    17: ("q", 8),
    18: ("Q", 8),
    129: ("s", 1),
}
_TEXTS: Final = (2, 129)
_RATIONALS: Final = (5, 10)
_UNDEFINED: Final = 7
"""Type of plain bytes (TIFF 6.0, section 2)."""
_WHOLE: Final = frozenset({3, 4, 8, 9, 13, 16, 17, 18})
"""Types of fields (TIFF 6.0, section 2); 129 is UTF-8 since Exif 3.0."""


class DirectoryReader:
    """One pass over all directories of ``data``: a queue instead of recursion, no offset twice.

    ``pages`` are the directories of the main chain in order (IFD0, IFD1, ...). ``exif``, ``gps``,
    ``interop`` and ``more`` (sub-directories) gather all directories of their kind, the first to
    state a tag counts. ``gps`` is None where no GPS directory is announced.
    """

    def __init__(self, data: bytes, limits: Limits) -> None:
        self.data = data
        self.pages: list[Directory] = []
        self.exif: Directory = {}
        self.gps: Directory | None = None
        self.interop: Directory = {}
        self.more: Directory = {}
        self.subs: list[Directory] = []
        """Sub-directories one by one."""
        self.problems: list[str] = []
        self.unread = False
        """Whether there is more than the limits allow to read."""
        self._pointers: deque[tuple[Kind, int]] = deque()
        self._entries_left = limits.ifd_entries
        self._bytes_left = limits.metadata_bytes
        self._order = "<"
        self._big = False
        self._seen: set[tuple[Kind, int]] = set()

    def run(self) -> None:
        """Read everything the limits allow; faults become ``problems``."""
        offset = self._start()
        pointers = self._pointers
        while offset and self._entries_left > 0:
            found, offset = self._directory("page", offset)
            self.pages.append(found)
        while pointers and self._entries_left > 0:
            kind, offset = pointers.popleft()
            found, _ = self._directory(kind, offset)
            self._gather(kind, found)
        if self._entries_left <= 0:
            self.unread = True
            self.problem("the Exif data hold more directory entries than are read")

    def problem(self, text: str) -> None:
        """Keep a sentence, once."""
        if len(self.problems) < _PROBLEMS_KEPT and text not in self.problems:
            self.problems.append(text)

    def _gather(self, kind: Kind, found: Directory) -> None:
        if kind == "gps":
            self.gps = found | (self.gps or {})
        else:
            if kind == "page":
                self.subs.append(found)
            target = {"page": self.more, "exif": self.exif, "interop": self.interop}[kind]
            for tag, value in found.items():
                target.setdefault(tag, value)

    def _start(self) -> int:
        # 0 stands for "no directory", as it does in the structure itself.
        if self.data[:6] == b"Exif\0\0":  # the marker of a JPEG segment, left in by some writers
            self.data = self.data[6:]
        order = {b"II": "<", b"MM": ">"}.get(self.data[:2])
        if order is None:
            self.problem("the Exif data do not start with a byte-order mark")
            return 0
        self._order = order
        version = self._number("H", 2)
        self._big = version == _BIG
        if version not in (_CLASSIC, _BIG):
            self.problem("the Exif data do not carry the number 42 that marks them")
        offset = self._number("Q", 8) if self._big else self._number("I", 4)
        if not offset:
            self.problem("the Exif data hold no directory")
        return offset

    def _number(self, letter: str, at: int) -> int:
        # Behind the end there are only zeros, which mean "nothing" wherever this is asked.
        size = struct.calcsize(self._order + letter)
        if at + size > len(self.data):
            return 0
        return int(struct.unpack_from(self._order + letter, self.data, at)[0])

    def _directory(self, kind: Kind, offset: int) -> tuple[Directory, int]:
        # Returns the entries and the offset of the next directory in the chain.
        self._entries_left -= 1  # an empty directory costs something too
        found: Directory = {}
        head, size = (8, 20) if self._big else (2, 12)
        if (kind, offset) in self._seen:
            self.problem("the Exif directories point at each other in a loop")
            return found, 0
        self._seen.add((kind, offset))
        if offset + head > len(self.data):
            self.problem("an Exif directory lies beyond the end of the data")
            return found, 0
        count = self._number("Q" if self._big else "H", offset)
        first = offset + head
        for at in range(first, first + min(count, self._entries_left) * size, size):
            if at + size > len(self.data):
                self.problem("an Exif directory is cut off")
                break
            self._entries_left -= 1
            self._entry(found, at)
        return found, self._number("Q" if self._big else "I", first + count * size)

    def _entry(self, found: Directory, at: int) -> None:
        tag, kind = struct.unpack_from(self._order + "HH", self.data, at)
        wide = "Q" if self._big else "I"
        inline = 8 if self._big else 4
        count = self._number(wide, at + 4)
        here = at + 4 + inline
        if tag in _POINTERS and kind not in _WHOLE:  # many programs follow it whatever its type
            self._point(tag, self._number(wide, here))
        if kind not in _TYPES:
            self.problem("an Exif entry has a value type that does not exist")
            return
        letter, size = _TYPES[kind]
        start = self._number(wide, here) if count * size > inline else here
        there = max(0, min(count * size, len(self.data) - start))
        if there < count * size:
            self.problem("an Exif value reaches beyond the end of the data")
        if size == 1 or tag in _PACKETS:
            value = self._bytes(start, there, kind, plain=tag in _PACKETS)
        else:
            value = self._numbers(f"{self._order}%d{letter}", start, there // size, kind)
        if tag in _POINTERS and kind in _WHOLE:
            for offset in value if isinstance(value, tuple) else (value,):
                self._point(tag, offset)
        if value is not None:
            found.setdefault(tag, value)

    def _point(self, tag: int, offset: object) -> None:
        # A pointer of 0 points at no directory.
        if isinstance(offset, int) and offset > 0:
            self._pointers.append((_POINTERS[tag], offset))

    def _numbers(self, pattern: str, start: int, count: int, kind: int) -> Value | None:
        if not 0 < count <= _NUMBERS_READ:
            return None
        values: tuple[Scalar, ...]
        if kind in _RATIONALS:
            flat = struct.unpack_from(pattern % (2 * count), self.data, start)
            values = tuple(Rational(*pair) for pair in zip(flat[::2], flat[1::2], strict=True))
        else:
            values = struct.unpack_from(pattern % count, self.data, start)
        return values[0] if count == 1 else values

    def _bytes(self, start: int, count: int, kind: int, *, plain: bool) -> Value | None:
        # Entries may share one stretch of data, so that many small entries could ask for much.
        if count > self._bytes_left:
            self.problem("the Exif values take more memory than is read")
            self.unread = True
            return None
        self._bytes_left -= count
        raw = self.data[start : start + count]
        if kind in _TEXTS and not plain:
            return decode(raw.rstrip(b"\0"))
        if len(raw) == 1 and kind != _UNDEFINED and not plain:
            return int(struct.unpack("b" if _TYPES[kind][0] == "b" else "B", raw)[0])
        return raw


def decode(raw: bytes) -> str:
    """Text of an unstated encoding: UTF-8 where that is valid, else Latin-1, which always is."""
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        return raw.decode("latin-1")
