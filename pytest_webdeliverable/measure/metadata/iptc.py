"""A bounded reader of IPTC-IIM data sets, the oldest place for captions and credit in pictures.

Source: IPTC-NAA Information Interchange Model version 4 for the stream (tag marker 0x1C, record,
data set, length; lengths above 32767 in extended form) and 1:90 for the character set, from memory;
which data set means what: IPTC Photo Metadata Standard 2024.1.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.metadata.directories import decode

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.limits import Limits

_MARKER: Final = 0x1C
_MARKED_TEXT: Final = bytes((_MARKER, 2))
"""Begin of a data set of record 2, which holds all that describes a picture."""
_EXTENDED: Final = (
    0x8000  # top bit of the length: the other bits count the bytes of the real length
)
_LENGTH_BYTES: Final = 8  # longest extended length that is believed
_CHARACTER_SET: Final = (1, 90)
_UTF8: Final = b"\x1b%G"  # ISO 2022 escape that selects UTF-8
_TEXT_BYTES: Final = 64 * 1024
"""Bytes of one data set that are decoded; the standard's longest text has 2,000."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Iptc:
    """Data sets by (record, number), each a list because most may be repeated, as stored."""

    sets: dict[tuple[int, int], list[bytes]] = field(default_factory=dict)
    problems: tuple[str, ...] = ()
    unread: bool = False
    """There are more data sets than are read."""

    def texts(self, record: int, number: int) -> list[str]:
        """Return the values of one data set as text, without padding or empty ones."""
        utf8 = _UTF8 in self.sets.get(_CHARACTER_SET, ())
        found = []
        for raw in self.sets.get((record, number), ()):
            part = raw[:_TEXT_BYTES]
            text = part.decode("utf-8", "replace") if utf8 else decode(part)
            if text := text.strip("\0 \t\r\n"):
                found.append(text)
        return found


def read_iptc(data: bytes, limits: Limits) -> Iptc:
    """Read the data sets of a raw IIM stream, at most ``limits.ifd_entries``. Never raises."""
    sets: dict[tuple[int, int], list[bytes]] = {}
    problems: list[str] = []
    unread = False
    at = 0
    for _ in range(limits.ifd_entries):
        if at >= len(data):
            break
        if data[at] != _MARKER:
            if data[at : at + 8].strip(b"\0"):  # zeros at the end are padding
                problems.append("the IPTC data hold something that is no data set")
            at = data.find(_MARKED_TEXT, at)  # forgiving programs go on where they find one
            if at < 0:
                break
        if at + 5 > len(data):
            problems.append("the IPTC data are cut off")
            break
        key = (data[at + 1], data[at + 2])
        length = int.from_bytes(data[at + 3 : at + 5], "big")
        at += 5
        if length & _EXTENDED:
            width = length & ~_EXTENDED
            if width > _LENGTH_BYTES or at + width > len(data):
                problems.append("the IPTC data hold a length that cannot be")
                break
            length = int.from_bytes(data[at : at + width], "big")
            at += width
        value = data[at : at + length]
        if len(value) < length:
            problems.append("the IPTC data are cut off")
        sets.setdefault(key, []).append(value)
        at += length
    else:
        if at < len(data):
            problems.append("the IPTC data hold more data sets than are read")
            unread = True
    return Iptc(sets=sets, problems=tuple(dict.fromkeys(problems)), unread=unread)
