"""Prove, while a JPEG is decoded, that its picture data was enough and no more than enough.

Decoders forgive: where the data runs out they fill the rest with flat gray, and data left over is
skipped, both without a word. Neither shows in the pixels beyond doubt, since flat art looks the
same. But an intact stream is used up exactly: its last unit needs its last byte, and nothing behind
it. So the data is handed over in portions, and what the decoder asks for tells:

- it is satisfied before the last bytes were handed over: data is left over, so the stream went out
  of step somewhere (a garbled or cut-out stretch);
- it asks for more after the last byte (and a few spare bytes, since decoders look ahead): data is
  missing.

That costs no second decoding for files of one scan. Progressive files are read whole before the
first line appears, and with restart markers a decoder finds its place again after each; there a
second decoding, with spare bytes behind each scan and interval, gives a different picture exactly
when one of them ran short.
"""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING, Final

from PIL import Image, ImageChops

from pytest_webdeliverable.measure.headers import jpeg_tables as t81
from pytest_webdeliverable.measure.headers.jpeg_walk import walk
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.headers.jpeg_parts import Scan

_HELD_BACK: Final = 4
"""Last bytes of the picture data that an intact file needs.

Fewer left over are forgiven: a writer that fills up to whole 32-bit words or ends with a superfluous
restart marker loses nothing.
"""
_LOOK_AHEAD: Final = b"\xfe" * 8
"""Spare bytes: libjpeg-turbo fills a register of 64 bits before it decodes (jdhuff.h).

Long runs of one bits are long codes, so that data cut short does not get far with them.
"""
_FOREIGN: Final = b"\xfe\x35\xca" * 8
"""Spare bytes that data which ran short takes for its own; no 0xFF, so no marker among them."""
_STRIP_ROWS: Final = 64
"""Rows compared at a time."""
_RESTART: Final = re.compile(rb"\xff[\xd0-\xd7]")
_FOREIGN_AND_RESTART: Final = _FOREIGN + rb"\g<0>"


class PictureFeed(io.BytesIO):
    """A JPEG in memory as a file for ``Image.open``; ask it once the picture has been loaded.

    One feed serves one picture, once. Raises DamagedError like the header reader.
    """

    def __init__(self, data: bytes, limits: Limits = DEFAULT_LIMITS) -> None:
        found = walk(data, limits)
        process, coding = t81.FRAMES[found.frame.marker] if found.frame else ("", "")
        self._is_huffman = coding == "huffman" and not found.hierarchical
        self._data = data
        self._scans = found.scans
        self._appears_at_once = process in ("baseline", "extended") and len(found.scans) == 1
        self._stops: tuple[int, ...] = ()
        self._asked_at: set[int] = set()
        if self._is_huffman and self._appears_at_once:
            super().__init__(self._portioned(found.scans[0]))
        else:
            super().__init__(data)

    def _portioned(self, scan: Scan) -> bytes:
        held_back = max(scan.start, scan.end - _HELD_BACK)
        self._stops = (held_back, scan.end + len(_LOOK_AHEAD))
        view = memoryview(self._data)  # joined at once: a copy of a large file is felt
        return b"".join((view[: scan.end], _LOOK_AHEAD, view[scan.end :]))

    def read(self, size: int | None = -1, /) -> bytes:
        """Read on, but never past the end of a portion."""
        position = self.tell()
        self._asked_at.add(position)
        room = next((stop - position for stop in self._stops if stop > position), None)
        if room is not None and (size is None or size < 0 or size > room):
            size = room
        return super().read(size)

    def problem(self, picture: Image.Image) -> str | None:
        """Say in a sentence what decoding proved wrong with the picture data, None for nothing."""
        missing = self.missing_tail(picture)
        if missing is not None:
            return (
                f"the picture data stops early: the last {max(missing, 0.01):.0%} of the picture's"
                " height are filled up by the decoder"
            )
        if self.has_left_over():
            return (
                "picture data is left over when the picture is complete: part of it is garbled"
                " or was lost"
            )
        if self._intervals_ran_short(picture):
            return "part of the picture data is missing, and the decoder filled up its place"
        return None

    def has_left_over(self) -> bool:
        """Whether the decoder was done before the last bytes of picture data were handed over."""
        return bool(self._stops) and self._stops[0] not in self._asked_at

    def missing_tail(self, picture: Image.Image) -> float | None:
        """Return the fraction of the height for which there is no data, None where none is proven.

        ``picture`` is what was decoded through this feed, unchanged. A progressive picture is
        decoded once more; of it, the fraction that is not in its final state is returned.
        """
        if not self._is_huffman or not self._scans:
            return None
        if not self._appears_at_once:
            box = self._changed_by_spare_bytes(picture)
            return None if box is None else 1 - box[1] / picture.height
        if self._stops[1] not in self._asked_at:
            return None
        return max(_flat_rows(picture), min(t81.BLOCK, picture.height)) / picture.height

    def _intervals_ran_short(self, picture: Image.Image) -> bool:
        return (
            bool(self._stops)
            and self._scans[0].has_restarts
            and self._changed_by_spare_bytes(picture) is not None
        )

    def _changed_by_spare_bytes(self, picture: Image.Image) -> tuple[int, int, int, int] | None:
        """Return the area of the picture for which spare bytes are taken as its data."""
        pieces = []
        at = 0
        for scan in self._scans:
            coded = self._data[scan.start : scan.end]
            if scan.has_restarts:
                coded = _RESTART.sub(_FOREIGN_AND_RESTART, coded)
            pieces += [self._data[at : scan.start], coded, _FOREIGN]
            at = scan.end
        spliced = io.BytesIO(b"".join((*pieces, self._data[at:])))
        try:
            with Image.open(spliced, formats=["JPEG"]) as other:
                return ImageChops.difference(picture, other).getbbox()
        except Exception:  # a decoder that trips over the spare bytes proves nothing
            return None


def _flat_rows(picture: Image.Image) -> int:
    """Count the rows at the foot of a picture that are wholly of the last pixel's color."""
    last = picture.getpixel((picture.width - 1, picture.height - 1))
    flat = 0
    for bottom in range(picture.height, 0, -_STRIP_ROWS):  # a second whole picture would be large
        strip = picture.crop((0, max(0, bottom - _STRIP_ROWS), picture.width, bottom))
        box = ImageChops.difference(strip, Image.new(strip.mode, strip.size, last)).getbbox()
        if box is not None:
            return flat + strip.height - box[3]
        flat += strip.height
    return flat
