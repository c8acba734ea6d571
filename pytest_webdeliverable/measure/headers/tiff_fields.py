"""Fields of TIFF directories (TIFF 6.0 section 2; BigTIFF has wider counts and offsets)."""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.headers.reading import ENDS_EARLY

if TYPE_CHECKING:
    from collections.abc import Set as AbstractSet

_TYPES: Final = {
    1: "B",
    2: "s",
    3: "H",
    4: "I",
    5: "II",
    6: "b",
    7: "B",
    8: "h",
    9: "i",
    10: "ii",
    11: "f",
    12: "d",
    13: "I",
    16: "Q",
    17: "q",
    18: "Q",
}
"""Field types of section 2 and of BigTIFF, as ``struct`` letters; 5 and 10 are fractions."""
_WHOLE: Final = frozenset({1, 3, 4, 13, 16, 18})
"""Those that are whole numbers without a sign."""
_MEASURES: Final = frozenset({3, 4, 5, 11, 12})
"""Those that writers use for a resolution; 5 is what the standard asks for."""


@dataclass(frozen=True, slots=True)
class _Field:
    """Type and count of one field, and where its values stand."""

    kind: int
    count: int
    at: int

    @property
    def end(self) -> int:
        return self.at + self.count * struct.calcsize(f"={_TYPES[self.kind]}")


class TiffFile:
    """The bytes of a file, its byte order and the width of its counts and offsets."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        self.order = "<" if data[:2] == b"II" else ">"
        big = data[2:4] in {b"+\0", b"\0+"}
        self.count_size, self.entry_size, self.offset_size = (8, 20, 8) if big else (2, 12, 4)
        self.first = self.number(self.offset_size, self.offset_size)
        """Place of the first directory."""
        self.cut = False
        """Whether a field that was asked for lies outside the file."""

    def number(self, at: int, size: int) -> int:
        """Unsigned number in the file's byte order; DamagedError where the file ends before it."""
        if at + size > len(self.data):
            raise DamagedError(ENDS_EARLY)
        return int.from_bytes(self.data[at : at + size], "little" if self.order == "<" else "big")

    def directory(self, at: int, most: int) -> Directory:
        """Read the directory at a place; DamagedError when it has more than ``most`` entries."""
        count = self.number(at, self.count_size)
        if count > most:
            raise DamagedError(f"the file's directory claims {count:,} entries")
        fields: dict[int, _Field] = {}
        for index in range(count):
            place = at + self.count_size + index * self.entry_size
            tag, kind = self.number(place, 2), self.number(place + 2, 2)
            many = self.number(place + 4, self.offset_size)
            values = place + 4 + self.offset_size
            if kind in _TYPES:
                inline = many * struct.calcsize(f"={_TYPES[kind]}") <= self.offset_size
                where = values if inline else self.number(values, self.offset_size)
                # Of repeated tags the first counts.
                fields.setdefault(tag, _Field(kind, many, where))
        return Directory(self, fields, count)


class Directory:
    """The fields of one page, by tag. What is missing or cut off reads as if it were not there."""

    def __init__(self, file: TiffFile, fields: dict[int, _Field], count: int) -> None:
        self._file = file
        self._fields = fields
        self.count = count
        """Entries read, repeated and unknown ones included."""

    @property
    def tags(self) -> AbstractSet[int]:
        """Tags of the fields."""
        return self._fields.keys()

    def values(self, tag: int, most: int) -> tuple[int, ...]:
        """Whole numbers of a field, at most ``most`` of them."""
        field = self._fields.get(tag)
        if field is None or field.kind not in _WHOLE:
            return ()
        return self._unpack(field, f"{min(field.count, most)}{_TYPES[field.kind]}")

    def value(self, tag: int) -> int | None:
        """First whole number of a field."""
        return next(iter(self.values(tag, 1)), None)

    def measure(self, tag: int) -> float | None:
        """Positive value of a fraction (or float), None for 0/0 and the like."""
        field = self._fields.get(tag)
        if field is None or not field.count or field.kind not in _MEASURES:
            return None
        parts = self._unpack(field, _TYPES[field.kind])
        if not parts:
            return None
        top, bottom = (*parts, 1)[:2]
        value = top / bottom if bottom else math.nan
        return value if math.isfinite(value) and value > 0 else None

    def place(self, tag: int) -> tuple[int, int]:
        """Start and end of a field's values, whatever their type; (0, 0) where there are none."""
        field = self._fields.get(tag)
        if field is None:
            return 0, 0
        if field.end > len(self._file.data):
            self._file.cut = True
            return 0, 0
        return field.at, field.end

    def _unpack(self, field: _Field, layout: str) -> tuple[int, ...]:
        layout = self._file.order + layout
        if field.at + struct.calcsize(layout) > len(self._file.data):
            self._file.cut = True
            return ()
        return struct.unpack_from(layout, self._file.data, field.at)
