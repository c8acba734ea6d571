"""Read the boxes of an AVIF file (AVIF v1 on ISO/IEC 23008-12 and 14496-12)."""

from __future__ import annotations

from typing import Final

from pytest_webdeliverable.measure.headers.base import ColorSignals, DamagedError, Header
from pytest_webdeliverable.measure.headers.boxes import Box, BoxFile, Items
from pytest_webdeliverable.measure.headers.reading import (
    ENDS_EARLY,
    EXIF_PREFIX,
    Allowance,
    bytes_behind,
    pictures_in_assertions,
    require,
)
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, MIB, Limits

_ALPHA: Final = (
    b"urn:mpeg:mpegB:cicp:systems:auxiliary:alpha\0",
    b"urn:mpeg:hevc:2015:auxid:1\0",
)
_AV1: Final = frozenset({b"av01", b"grid"})
_PICTURES: Final = _AV1 | {b"jpeg", b"hvc1"}
"""Kinds of items that are pictures, coded in AV1, of such tiles, or in another way (23008-12)."""
_PREVIEWS: Final = 5
"""Previews that are kept; one is usual."""
_PREVIEW_FILE: Final = 4 * MIB
"""Largest file of which a preview is a copy; larger ones are not opened as a preview."""
_XMP_TYPE: Final = b"application/rdf+xml"
_CUT: Final = (
    "the file asks programs to cut its picture off at the edges (clean aperture): not all do, and what is"
    " cut off is still inside"
)
"""ISO/IEC 14496-12, 12.1.4, and MIAF (23000-22, 7.3.6.7): it is applied before turning."""
_TURNED: Final = {
    (0, None): 1,
    (1, None): 8,
    (2, None): 3,
    (3, None): 6,
    (0, 0): 4,
    (0, 1): 2,
    (1, 0): 5,
    (1, 1): 7,
    (2, 0): 2,
    (2, 1): 4,
    (3, 0): 7,
    (3, 1): 5,
}
"""Exif orientation for quarter turns anticlockwise (irot), then a mirror whose axis is 0, top and
bottom exchanged, or 1, left and right exchanged (imir); ISO/IEC 23008-12, 6.5.10 and 6.5.12."""


def read(data: bytes, limits: Limits = DEFAULT_LIMITS) -> Header:
    """Read a whole AVIF file held in memory.

    A file whose major brand is ``avis`` is the animation of its track, one of ``avif`` is its main
    picture. ``frames`` counts the samples of the track, or the pictures beside the main one and itself. Raises DamagedError when the file is no
    AVIF, does not tell its size, or exceeds the limits.
    """
    require(data, "avif")
    return _Avif(data, limits).header()


class _Avif:
    """The facts gathered from the boxes of one file."""

    def __init__(self, data: bytes, limits: Limits) -> None:
        self._data = data
        self._file = BoxFile(data)
        self._allowance = Allowance(limits)
        self._problems: list[str] = []
        self._size: tuple[int, int] | None = None
        self._bits: int | None = None
        self._gray = False
        self._alpha = False
        self._frames = 1
        self._cicp: tuple[int, int, int, int] | None = None
        self._icc: bytes | None = None
        self._icc_problem: str | None = None
        self._exif: bytes | None = None
        self._loose: list[bytes] = []
        self._previews: list[bytes] = []
        self._xmp: dict[bytes, None] = {}
        self._turn: int | None = None
        self._mirror: int | None = None
        self._aperture: tuple[int, ...] | None = None

    def header(self) -> Header:
        top = self._top_boxes()
        meta, movie = top.get(b"meta"), top.get(b"moov")
        items = Items(self._file, meta) if meta else None
        if movie is not None and (self._data[8:12] != b"avif" or items is None):
            self._take_tracks(movie)
        if self._size is None and items is not None:
            self._take_picture(items)
            self._frames += movie is not None  # an animation beside the picture is one more
        if items is not None:
            self._take_metadata(items)
        if self._file.cut:
            self._problem(ENDS_EARLY)
        if self._size is None:
            raise DamagedError((*self._problems, "the file holds no picture")[0])
        if 0 in self._size:
            raise DamagedError(f"the file gives a size of {self._size[0]} x {self._size[1]}")
        if self._aperture is not None and not self._shows_all(*self._aperture):
            self._problem(_CUT)
        return Header(
            format="avif",
            width=self._size[0],
            height=self._size[1],
            mode="gray" if self._gray else "rgb",
            bits=self._bits or 8,
            alpha=self._alpha,
            frames=self._frames,
            orientation=_TURNED[self._turn or 0, self._mirror],
            icc=self._icc,
            icc_problem=self._icc_problem,
            exif=self._exif,
            previews=tuple(self._previews),
            xmp=tuple(self._xmp),
            loose=tuple(self._loose),
            signals=ColorSignals(cicp=self._cicp),
            problems=tuple(self._problems),
        )

    def _top_boxes(self) -> dict[bytes, Box]:
        """First box of each kind at the top of the file."""
        found: dict[bytes, Box] = {}
        end = 0
        for box in self._file.boxes(0, len(self._data)):
            if not box.kind.isalnum():
                self._problem(bytes_behind(len(self._data) - end))
                self._file.cut = False
                break
            found.setdefault(box.kind, box)
            if box.kind == b"uuid" and len(self._previews) < _PREVIEWS:
                boxes = self._allowance.take(self._data, box.start, box.end)
                self._previews.extend(pictures_in_assertions(boxes))
            end = box.end
        return found

    def _take_picture(self, items: Items) -> None:
        """Note what the properties of the main picture say, and of its tiles where it has some."""
        primary = items.by_id.get(items.primary or 0)
        if primary is None or items.primary is None:
            raise DamagedError("the file does not tell which of its pictures is the main one")
        if primary.kind not in _AV1:
            raise DamagedError("the main picture is not stored as AVIF stores it")
        tiles = items.targets(b"dimg", items.primary)
        for box in primary.properties:
            self._take_property(box)
        first = items.by_id.get(tiles[0]) if tiles else None
        for box in first.properties if first else []:
            if box.kind == b"av1C":
                self._take_property(box)
        pictures = {items.primary, *tiles}
        for item_id, item in items.by_id.items():
            if item_id not in pictures and self._is_alpha(item.properties):
                self._alpha |= not pictures.isdisjoint(items.targets(b"auxl", item_id))
        for item_id in pictures:
            item = items.by_id.get(item_id, primary)
            if items.content(item) is None or not item.extents:
                self._problem(ENDS_EARLY)
        self._take_others(items, pictures | items.referred(b"dimg"))

    def _take_others(self, items: Items, parts: set[int]) -> None:
        """Count further pictures, and keep the previews among them (23008-12, 6.4.3 and 6.6.1).

        Planes of alpha, depth or gain belong to a picture, as what one is put together of does.
        """
        for item_id, item in items.by_id.items():
            if item.kind not in _PICTURES or item_id in parts or items.targets(b"auxl", item_id):
                continue
            if not items.targets(b"thmb", item_id):
                self._frames += 1
            elif len(self._previews) < _PREVIEWS:
                self._previews.append(self._preview(items, item_id))

    def _preview(self, items: Items, item_id: int) -> bytes:
        """Return a preview as a file: this one, if it is small, with the preview as its main picture.

        Decoders take no preview for the main picture, so that it must not be known as one.
        """
        start, end = items.primary_place
        whole = items.by_id[item_id].kind in _AV1 and len(self._data) <= _PREVIEW_FILE
        if whole and item_id < 256 ** (end - start):
            number = item_id.to_bytes(end - start, "big")
            boxes = self._data[:start] + number + self._data[end : items.box.end]
            return boxes.replace(b"thmb", b"free") + self._data[items.box.end :]
        places = items.content(items.by_id[item_id]) or []
        return b"".join(self._allowance.take(self._data, *place) for place in places)

    def _is_alpha(self, properties: list[Box]) -> bool:
        return any(
            box.kind == b"auxC" and self._data.startswith(_ALPHA, box.start + 4, box.end)
            for box in properties
        )

    def _take_property(self, box: Box) -> None:
        """Note one property (23008-12, 6.5; AV1 in ISOBMFF, 2.3)."""
        cursor = self._file.cursor(box)
        match box.kind:
            case b"ispe" if self._size is None:
                cursor.number(4)
                self._size = cursor.number(4), cursor.number(4)
            case b"pixi" if self._bits is None:
                cursor.number(4)
                depths = cursor.take(cursor.number(1))
                self._bits, self._gray = max(depths, default=8), len(depths) == 1
            case b"av1C":
                # Third byte: high bit depth, twelve bits, monochrome (and chroma sampling).
                flags = cursor.number(4) >> 8 & 0xFF
                self._bits = (12 if flags & 0x20 else 10) if flags & 0x40 else 8
                self._gray = bool(flags & 0x10)
            case b"irot" if self._turn is None:
                self._turn = cursor.number(1) & 3
            case b"imir" if self._mirror is None:
                self._mirror = cursor.number(1) & 1
            case b"clap" if self._aperture is None:
                self._aperture = tuple(cursor.number(4) for _ in range(8))
            case b"colr":
                self._take_color(box)

    def _shows_all(self, *aperture: int) -> bool:
        """Return whether a clean aperture is the whole picture: two lengths and two offsets, as fractions."""
        width, over_width, height, over_height, right, _, down, _ = aperture
        lengths = self._size and (self._size[0] * over_width, self._size[1] * over_height)
        return (
            lengths == (width, height)
            and 0 not in {over_width, over_height}
            and not (right or down)
        )

    def _take_color(self, box: Box) -> None:
        """Note a color property: coded numbers (nclx) or a profile (14496-12, 12.1.5)."""
        cursor = self._file.cursor(box)
        kind = cursor.take(4)
        if kind == b"nclx" and self._cicp is None:
            primaries, transfer, matrix = cursor.number(2), cursor.number(2), cursor.number(2)
            self._cicp = primaries, transfer, matrix, cursor.number(1) >> 7
        elif kind in {b"prof", b"rICC"} and self._icc is None:
            place = cursor.at, box.end
            self._icc, self._icc_problem = self._allowance.profile(self._data, *place)

    def _take_metadata(self, items: Items) -> None:
        """Keep the Exif and XMP items, whichever picture they describe."""
        for item in items.by_id.values():
            if item.kind != b"Exif" and item.content != _XMP_TYPE:
                continue
            places = items.content(item)
            if places is None:
                self._problem(ENDS_EARLY)
                continue
            stored = b"".join(self._allowance.take(self._data, *place) for place in places)
            if item.kind == b"mime":
                if stored:
                    self._xmp[stored] = None
            elif len(stored) > 4:
                # Exif begins where the number before it says, which skips what JPEG needs.
                start = 4 + int.from_bytes(stored[:4], "big")
                exif = stored[start:] if start < len(stored) else stored[4:]
                exif = exif.removeprefix(EXIF_PREFIX)
                if self._exif is None:
                    self._exif = exif
                else:
                    self._loose.append(exif)

    def _take_tracks(self, movie: Box) -> None:
        """Note what the tracks of an animation say (14496-12, 8)."""
        for track in self._file.boxes(movie.start, movie.end):
            media = self._file.child(track, b"mdia") if track.kind == b"trak" else None
            handler = self._file.child(media, b"hdlr") if media else None
            if media is None or handler is None:
                continue
            kind = self._data[handler.start + 8 : handler.start + 12]
            if kind == b"pict" and self._size is None:
                self._take_track(track, media)
            elif kind == b"auxv":
                self._alpha = True
            meta = self._file.child(track, b"meta")
            if meta is not None:
                self._take_metadata(Items(self._file, meta))

    def _take_track(self, track: Box, media: Box) -> None:
        """Size, color and number of frames of one track of pictures."""
        head = self._file.child(track, b"tkhd")
        information = self._file.child(media, b"minf")
        table = self._file.child(information, b"stbl") if information else None
        description = self._file.child(table, b"stsd") if table else None
        entry = self._file.child(description, b"av01", skip=8) if description else None
        if head is None or table is None or entry is None:
            raise DamagedError("the animation is damaged: it does not describe its frames")
        cursor = self._file.cursor(head)
        # Up to the size: times, ids and duration, 8 bytes longer each in version 1, and a matrix.
        cursor.take(72 if cursor.number(4) >> 24 == 0 else 84)
        self._size = cursor.number(4) >> 16, cursor.number(4) >> 16
        for box in self._file.boxes(entry.start + 78, entry.end):
            self._take_property(box)
        self._frames = self._count_frames(table)

    def _count_frames(self, table: Box) -> int:
        """Count the samples of a track, as far as the file can hold them (14496-12, 8.7.3)."""
        sizes = self._file.child(table, b"stsz")
        if sizes is None:
            raise DamagedError("the animation is damaged: it does not describe its frames")
        cursor = self._file.cursor(sizes)
        cursor.number(4)
        each, claimed = cursor.number(4), cursor.number(4)
        # One size for all frames, or a list of their sizes.
        possible = len(self._data) // each if each else (cursor.end - cursor.at) // 4
        if claimed > possible:
            self._problem(f"the animation claims {claimed:,} frames, more than the file can hold")
        return max(min(claimed, possible), 1)

    def _problem(self, sentence: str) -> None:
        if sentence not in self._problems:
            self._problems.append(sentence)
