"""Boxes of an ISO base media file (ISO/IEC 14496-12) and the items of a picture file (23008-12).

Every step of every loop draws on one budget, so that no table can claim more than it costs to write.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.headers.base import DamagedError

if TYPE_CHECKING:
    from collections.abc import Iterator

BOX_PARTS: Final = 200_000
"""Most boxes, items, places and references read; a picture of 256 x 256 tiles has about 130,000."""


@dataclass(frozen=True, slots=True)
class Box:
    """Type of a box, and where its content stands in the file."""

    kind: bytes
    start: int
    end: int


@dataclass(slots=True)
class Item:
    """One item of a picture file: coded picture, grid, alpha plane, Exif or XMP."""

    kind: bytes = b""
    content: bytes = b""
    """MIME type where ``kind`` is ``mime``."""
    in_idat: bool = False
    extents: list[tuple[int, int]] = field(default_factory=list)
    """Offset and length, from the file's start or that of the ``idat`` box."""
    properties: list[Box] = field(default_factory=list)


class Cursor:
    """Reads big-endian numbers from a stretch of the file; DamagedError beyond its end."""

    def __init__(self, data: bytes, start: int, end: int) -> None:
        self._data = data
        self.at = start
        self.end = min(end, len(data))

    def number(self, size: int) -> int:
        """Read the next ``size`` bytes as a number; 0 for no bytes."""
        return int.from_bytes(self.take(size), "big")

    def take(self, size: int) -> bytes:
        """Read the next ``size`` bytes."""
        if self.at + size > self.end:
            raise DamagedError("the file is damaged: one of its tables is incomplete")
        self.at += size
        return self._data[self.at - size : self.at]


class BoxFile:
    """A file of boxes, and the budget for reading it."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        self.cut = False
        """Whether a box claims more than there is."""
        self._left = BOX_PARTS

    def spend(self, parts: int = 1) -> None:
        """Draw on the budget; DamagedError when it is used up."""
        self._left -= parts
        if self._left < 0:
            raise DamagedError(f"the file has more than {BOX_PARTS:,} parts")

    def boxes(self, start: int, end: int) -> Iterator[Box]:
        """Boxes one after the other between two places, not those inside them."""
        at = start
        while at < end:
            self.spend()
            if at + 8 > end:
                self.cut = True
                return
            size, kind = int.from_bytes(self.data[at : at + 4], "big"), self.data[at + 4 : at + 8]
            body = at + 8
            if size == 1:
                size = int.from_bytes(self.data[body : body + 8], "big")
                body += 8
            elif size == 0:
                size = end - at
            if size < body - at:
                raise DamagedError(f"the file is damaged at byte {at:,}: a part is too small")
            self.cut |= at + size > end
            yield Box(kind, min(body, end), min(at + size, end))
            at += size

    def child(self, parent: Box, kind: bytes, skip: int = 0) -> Box | None:
        """First box of a kind inside another, behind ``skip`` bytes of its own fields."""
        inside = self.boxes(parent.start + skip, parent.end)
        return next((box for box in inside if box.kind == kind), None)

    def cursor(self, box: Box) -> Cursor:
        """Cursor over a box's content."""
        return Cursor(self.data, box.start, box.end)


class Items:
    """The tables of a ``meta`` box: what items there are, where, and how they belong together."""

    def __init__(self, file: BoxFile, meta: Box) -> None:
        self._file = file
        self.box = meta
        self.primary: int | None = None
        self.primary_place = 0, 0
        """Where in the file the number of the main picture stands."""
        self.by_id: dict[int, Item] = {}
        self._references: dict[tuple[bytes, int], list[int]] = {}
        self._idat: Box | None = None
        for box in file.boxes(meta.start + 4, meta.end):
            match box.kind:
                case b"pitm":
                    cursor = file.cursor(box)
                    self.primary = cursor.number(2 if cursor.number(4) >> 24 == 0 else 4)
                    self.primary_place = box.start + 4, cursor.at
                case b"iinf":
                    self._read_infos(box)
                case b"iloc":
                    self._read_places(box)
                case b"iref":
                    self._read_references(box)
                case b"iprp":
                    self._read_properties(box)
                case b"idat":
                    self._idat = box

    def content(self, item: Item) -> list[tuple[int, int]] | None:
        """Start and end in the file of each part of an item, None where one lies outside."""
        base, end = 0, len(self._file.data)
        if item.in_idat:
            if self._idat is None:
                return None
            base, end = self._idat.start, self._idat.end
        # A length of 0 means all that is left.
        places = [
            (base + start, base + start + size if size else end) for start, size in item.extents
        ]
        return places if all(start <= stop <= end for start, stop in places) else None

    def targets(self, kind: bytes, item_id: int) -> list[int]:
        """Ids that an item refers to: ``auxl`` from an alpha plane, ``dimg`` to a grid's tiles."""
        return self._references.get((kind, item_id), [])

    def referred(self, kind: bytes) -> set[int]:
        """Ids that any item refers to, such as ``dimg``: what others are put together of."""
        found = (ids for (reference, _), ids in self._references.items() if reference == kind)
        return {item_id for ids in found for item_id in ids}

    def _item(self, item_id: int) -> Item:
        self._file.spend()
        return self.by_id.setdefault(item_id, Item())

    def _read_infos(self, box: Box) -> None:
        """Item information entries, versions 2 and 3 (14496-12, 8.11.6)."""
        count = 2 if self._file.data[box.start : box.start + 1] == b"\0" else 4
        for entry in self._file.boxes(box.start + 4 + count, box.end):
            cursor = self._file.cursor(entry)
            version = cursor.number(4) >> 24
            if entry.kind != b"infe" or version < 2:
                continue
            item = self._item(cursor.number(2 if version == 2 else 4))
            cursor.number(2)
            item.kind = cursor.take(4)
            texts = self._file.data[cursor.at : min(cursor.end, cursor.at + 1024)].split(b"\0")
            item.content = texts[1] if item.kind == b"mime" and len(texts) > 1 else b""

    def _read_places(self, box: Box) -> None:
        """Item locations (14496-12, 8.11.3); methods: 0 the file, 1 the idat box."""
        cursor = self._file.cursor(box)
        version = cursor.number(4) >> 24
        sizes = cursor.number(2)
        offset, length, base = sizes >> 12, sizes >> 8 & 15, sizes >> 4 & 15
        index = sizes & 15 if version else 0
        wide = 4 if version == 2 else 2
        for _ in range(cursor.number(wide)):
            item = self._item(cursor.number(wide))
            method = cursor.number(2) & 15 if version else 0
            cursor.number(2)
            start = cursor.number(base)
            item.in_idat = method == 1
            for _ in range(cursor.number(2)):
                self._file.spend()
                cursor.number(index)
                place = start + cursor.number(offset), cursor.number(length)
                if method < 2:
                    item.extents.append(place)

    def _read_references(self, box: Box) -> None:
        """Item references (14496-12, 8.11.12)."""
        wide = 2 if self._file.data[box.start : box.start + 1] == b"\0" else 4
        for entry in self._file.boxes(box.start + 4, box.end):
            cursor = self._file.cursor(entry)
            origin, count = cursor.number(wide), cursor.number(2)
            self._file.spend(count)
            targets = self._references.setdefault((entry.kind, origin), [])
            targets.extend(cursor.number(wide) for _ in range(count))

    def _read_properties(self, box: Box) -> None:
        """Properties and which items they belong to (23008-12, 9.3)."""
        container = self._file.child(box, b"ipco")
        if container is None:
            return
        known = list(self._file.boxes(container.start, container.end))
        for table in self._file.boxes(box.start, box.end):
            if table.kind != b"ipma":
                continue
            cursor = self._file.cursor(table)
            head = cursor.number(4)
            id_size, wide = (2 if head >> 24 == 0 else 4), head & 1
            for _ in range(cursor.number(4)):
                item = self._item(cursor.number(id_size))
                for _ in range(cursor.number(1)):
                    self._file.spend()
                    # The uppermost bit says that a reader must know the property.
                    index = cursor.number(2) & 0x7FFF if wide else cursor.number(1) & 0x7F
                    if 0 < index <= len(known):
                        item.properties.append(known[index - 1])
