"""Who made the picture and who holds the rights, as Exif, XMP and IPTC-IIM each state it.

Source: Exif Artist and Copyright (CIPA DC-008; the copyright of photographer and editor are
separated by a zero byte), Photographer (Exif 3.0), dc:creator and dc:rights, data sets 2:80 and
2:116 (IPTC Photo Metadata Standard 2024.1). The longest values of IIM, 32 and 128 bytes, and the
semicolon between several artists are from memory. XPAuthor is common practice, no source.
"""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING, Final, TypedDict

from pytest_webdeliverable.display import display_name

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.metadata.exif import Exif
    from pytest_webdeliverable.measure.metadata.packets import Metadata

_ARTIST: Final = 0x013B
_COPYRIGHT: Final = 0x8298
_XP_AUTHOR: Final = 0x9C9D  # UTF-16, little end first
_PHOTOGRAPHER: Final = 0xA437
_BYLINE: Final = (2, 80)
_NOTICE: Final = (2, 116)
_BYLINE_BYTES: Final = 32
_NOTICE_BYTES: Final = 128
_VALUES_KEPT: Final = 20
"""Values kept per place; a credit line with more names than this is not read by anyone."""
_COMPARED: Final = 1000
"""Characters of a value that are compared: marks above and below letters are put in order in a time
that grows with the square of their number."""

Stated = dict[str, list[str]]
"""Values by place: "Exif", "XMP", "IPTC"; a place that states nothing is left out."""


class CreditFacts(TypedDict):
    """Values by place, each made plain and at most 200 characters.

    ``disagree`` names those of "creator" and "copyright" that two places state differently.
    Differences of letter case, spaces and order do not count, nor does a value that is cut where
    IPTC-IIM cuts it; a copyright notice agrees where one of its languages does.
    """

    creator: Stated
    copyright: Stated
    disagree: list[str]


def credit_facts(metadata: Metadata) -> CreditFacts:
    """Read creator and copyright from all three places and compare them."""
    creator = _places(
        exif=_exif_creators(metadata.exif) if metadata.exif else [],
        xmp=[name for xmp in metadata.xmp for name in xmp.values("dc:creator")],
        iptc=metadata.iptc.texts(*_BYLINE) if metadata.iptc else [],
    )
    rights = _places(
        exif=_exif_texts(metadata.exif, _COPYRIGHT) if metadata.exif else [],
        xmp=[text for xmp in metadata.xmp for text in xmp.values("dc:rights")],
        iptc=metadata.iptc.texts(*_NOTICE) if metadata.iptc else [],
    )
    disagree = []
    if not _agree(creator, _BYLINE_BYTES, every=True):
        disagree.append("creator")
    if not _agree(rights, _NOTICE_BYTES, every=False):
        disagree.append("copyright")
    return CreditFacts(creator=_shown(creator), copyright=_shown(rights), disagree=disagree)


def _places(**values: list[str]) -> Stated:
    names = {"exif": "Exif", "xmp": "XMP", "iptc": "IPTC"}
    return {names[place]: found[:_VALUES_KEPT] for place, found in values.items() if found}


def _shown(stated: Stated) -> Stated:
    return {place: [display_name(value) for value in values] for place, values in stated.items()}


def _exif_texts(exif: Exif, tag: int) -> list[str]:
    value = exif.ifd0.get(tag, exif.exif.get(tag, ""))
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    parts = value.split("\0") if isinstance(value, str) else []
    return [part.strip() for part in parts if part.strip()]


def _exif_creators(exif: Exif) -> list[str]:
    author = exif.ifd0.get(_XP_AUTHOR, b"")
    wide = author.decode("utf-16-le", "replace").strip("\0 ") if isinstance(author, bytes) else ""
    found = _exif_texts(exif, _ARTIST) or _exif_texts(exif, _PHOTOGRAPHER) or [wide]
    return [name.strip() for text in found for name in text.split(";") if name.strip()]


def _agree(stated: Stated, iptc_bytes: int, *, every: bool) -> bool:
    # ``every``: the values must be the same; else one value in common is enough.
    sets = {place: {_plain(value) for value in values} for place, values in stated.items()}
    places = list(sets)
    for index, one in enumerate(places):
        for other in places[index + 1 :]:
            left, right = sets[one], sets[other]
            if other == "IPTC":  # the last of the three places
                right = {_uncut(value, left, iptc_bytes) for value in right}
            if (left != right) if every else not (left & right):
                return False
    return True


def _plain(value: str) -> str:
    text = unicodedata.normalize("NFC", value[:_COMPARED]).casefold()
    return re.sub(r"\s+", " ", text.replace("(c)", "©")).strip()


def _uncut(value: str, full: set[str], longest: int) -> str:
    # The value that ``value`` was cut from, where its length shows that it may have been cut.
    # A letter of several bytes may fall at the cut, hence the few bytes of tolerance.
    if len(value.encode("utf-8", "replace")) < longest - 4:
        return value
    return next((text for text in full if text.startswith(value)), value)
