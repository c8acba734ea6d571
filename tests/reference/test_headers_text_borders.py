"""Text chunks of PNG, and telling files by their first bytes, at their borders."""

from __future__ import annotations

import importlib
import struct
import zlib

import pytest
from header_files import box, chunk, png

from pytest_webdeliverable.measure.headers import describe, sniff
from pytest_webdeliverable.measure.headers import png as reader
from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.headers.sniff import PEEK
from pytest_webdeliverable.measure.limits import Limits

EXIF = b"MM\0*\0\0\0\x08\0\0\0\0\0\0"
XMP = b"<x/>"


@pytest.mark.parametrize("compressed", [False, True])
@pytest.mark.parametrize(("language", "translated"), [(b"", b""), (b"en", b""), (b"", b"t"), (b"en-GB", b"Titel")])  # fmt: skip
def test_international_text(compressed: bool, language: bytes, translated: bytes) -> None:
    """PNG, 11.3.3.4: keyword, flag, method, language, translated keyword, text; zeros between them.

    Zeros within the text belong to it.
    """
    for text in (XMP, b"<x>\0\0</x>"):
        body = zlib.compress(text) if compressed else text
        head = b"XML:com.adobe.xmp\0" + bytes([compressed, 0]) + language + b"\0" + translated
        assert reader.read(png(chunk(b"iTXt", head + b"\0" + body))).xmp == (text,)


def test_plain_and_packed_text() -> None:
    """11.3.3.2 and 11.3.3.3: tEXt has no flag, zTXt a method before its stream; empty XMP is none."""
    keyword = b"XML:com.adobe.xmp\0"
    for name, body in ((b"tEXt", XMP), (b"zTXt", b"\0" + zlib.compress(XMP))):
        assert reader.read(png(chunk(name, keyword + body))).xmp == (XMP,)
    assert reader.read(png(chunk(b"tEXt", keyword))).xmp == ()
    two = png(chunk(b"tEXt", keyword + b"a"), chunk(b"tEXt", keyword + b"b"))
    assert reader.read(two).xmp == (b"a", b"b")


@pytest.mark.parametrize(
    ("keyword", "kept"),
    [(b"XML:com.adobe.xmp", True), (b"XML:com.adobe.xmq", False), (b"exif", True), (b"Exif", False),
     (b"Raw profile type exif", True), (b"Raw profile type ", False), (b"raw profile type exif", False)],
)  # fmt: skip
def test_keywords_of_metadata(keyword: bytes, kept: bool) -> None:
    text = b"\nname\n 4\n" + EXIF.hex().encode() if b"profile" in keyword else EXIF
    header = reader.read(png(chunk(b"tEXt", keyword + b"\0" + text)))
    assert bool(header.exif or header.xmp) == kept


@pytest.mark.parametrize("letters", [79, 80])
def test_the_longest_keyword(letters: int) -> None:
    """11.3.3.2: 79 letters at most, so that a zero byte further on ends none."""
    keyword = b"Raw profile type exif".ljust(letters)
    packed = chunk(b"zTXt", keyword + b"\0\0no stream")
    assert bool(reader.read(png(packed)).problems) == (letters == 79)


@pytest.mark.parametrize(
    ("text", "exif"),
    [(b"\nexif\n 14\n" + EXIF.hex().encode(), EXIF), (b"exif\n14\n" + EXIF.hex().upper().encode(), EXIF),
     (b"\nexif\n 14\n4d4d 002a\n0000\t0008\r\n0000 0000 0000\x0b\x0c\n", EXIF), (b"\nexif\n14", None),
     (b"\nexif\n14\n4d4", b"M"), (b"\nexif\n14\nzz", None), (b"\nexif\n14\n4d4d\x002a", b"MM*")],
)  # fmt: skip
def test_digits_on_lines(text: bytes, exif: bytes | None) -> None:
    """A name, a length and hexadecimal digits; common practice, no source.

    What is no digit is passed over, as forgiving readers do; half a byte at the end is none.
    """
    assert reader.read(png(chunk(b"tEXt", b"Raw profile type exif\0" + text))).exif == exif


def test_exif_in_its_chunk_goes_before_text() -> None:
    text = chunk(b"tEXt", b"exif\0" + EXIF)
    other = chunk(b"eXIf", b"II*\0")
    assert reader.read(png(text, other)).exif == reader.read(png(other, text)).exif == b"II*\0"
    first = chunk(b"tEXt", b"exif\0first!"), text
    assert reader.read(png(*first)).exif == b"first!"
    assert reader.read(png(chunk(b"eXIf", b"Exif\0\0" + EXIF))).exif == EXIF


def test_iptc_without_image_resources() -> None:
    def text(block: bytes) -> bytes:
        return chunk(b"tEXt", b"Raw profile type iptc\0\niptc\n 9\n" + block.hex().encode())

    assert reader.read(png(text(b"\x1c\2\5"))).iptc == b"\x1c\2\5"
    assert reader.read(png(text(b""))).iptc is None


@pytest.mark.parametrize(("most", "read"), [(8, True), (7, False)])
def test_text_up_to_what_is_allowed(most: int, read: bool) -> None:
    """What is stored counts, keyword and other text do not; packed text counts once more."""
    parts = chunk(b"tEXt", b"XML:com.adobe.xmp\0abcd"), chunk(b"tEXt", b"exif\0efgh"), chunk(b"tEXt", b"t\0other")  # fmt: skip
    if read:
        assert reader.read(png(*parts), Limits(metadata_bytes=most)).exif == b"efgh"
    else:
        with pytest.raises(DamagedError, match="of metadata"):
            reader.read(png(*parts), Limits(metadata_bytes=most))


# First bytes


@pytest.mark.parametrize("place", range(12, 40, 4))
@pytest.mark.parametrize("size", range(12, 41))
def test_brands_stand_within_their_box(place: int, size: int) -> None:
    """ISO/IEC 14496-12, 4.3: major brand, version, then brands of 4 bytes to the box's end."""
    data = bytearray(struct.pack(">I", size) + b"ftypxxxx" + b"xxxx" * 8)
    data[place : place + 4] = b"avif"
    # A version that reads like a brand is none.
    assert (sniff(bytes(data)) == "avif") == (place >= 16 and place + 4 <= size)


@pytest.mark.parametrize("offset", range(1, 4))
def test_brands_stand_at_steps_of_four_bytes(offset: int) -> None:
    data = bytearray(box(b"ftyp", b"xxxx", bytes(4), b"x" * 16))
    data[16 + offset : 20 + offset] = b"avif"
    assert sniff(bytes(data)) is None
    assert sniff(box(b"ftyp", b"avis")) == "avif"
    assert sniff(box(b"ftyq", b"avif")) is None


@pytest.mark.parametrize(("place", "seen"), [(PEEK - 4, True), (PEEK, False)])
def test_brands_are_looked_for_in_the_first_bytes(place: int, seen: bool) -> None:
    data = bytearray(box(b"ftyp", b"xxxx", bytes(4), b"x" * 8000))
    data[place : place + 4] = b"avif"
    assert (sniff(bytes(data)) == "avif") == seen


@pytest.mark.parametrize(
    ("start", "known"),
    [(b"\xff\xd8\xff", "jpeg"), (b"\x89PNG\r\n\x1a\n", "png"), (b"GIF87a", "gif"), (b"GIF89a", "gif"),
     (b"RIFF\1\2\3\4WEBP", "webp"), (b"II*\0", "tiff"), (b"MM\0*", "tiff"), (b"II+\0", "tiff"), (b"MM\0+", "tiff")],
)  # fmt: skip
def test_every_byte_of_a_signature_counts(start: bytes, known: str) -> None:
    assert sniff(start) == known
    assert sniff(start[:-1]) is None
    free = range(4, 8) if known == "webp" else ()
    for at in range(len(start)):
        changed = start[:at] + bytes([start[at] ^ 0x80]) + start[at + 1 :]
        assert sniff(changed) == (known if at in free else None)


@pytest.mark.parametrize(("signature", "name"), [(b"\x89PNG\r\n\x1a\n", "PNG"), (b"\xff\xd8\xff", "JPEG"), (b"GIF89a", "GIF"), (b"GIF87a", "GIF"), (b"II*\0", "TIFF"), (b"MM\0*", "TIFF")])  # fmt: skip
def test_files_that_end_within_a_signature(signature: bytes, name: str) -> None:
    """Two bytes at least; one could be anything."""
    for length in range(2, len(signature)):
        words = describe(signature[:length])
        expected = f"cut off after the first {length} bytes of a {name}"
        assert words == expected
    assert "cut off" not in describe(signature[:1])
    assert "cut off" not in describe(signature[:2] + b"?")


@pytest.mark.parametrize("before", [35, 36, 37])
def test_a_profile_has_its_mark_at_36(before: int) -> None:
    """ICC.1, 7.2: bytes 36 to 39 of a profile are "acsp"."""
    words = describe(b"\1" * before + b"acsp" + bytes(99))
    assert (words == "a color profile without a picture") == (before == 36)


@pytest.mark.parametrize("before", [256, 257, 258])
def test_an_archive_has_its_mark_at_257(before: int) -> None:
    """POSIX.1, pax interchange format: "ustar" at 257."""
    assert (describe(b"\1" * before + b"ustar" + bytes(99)) == "a TAR archive") == (before == 257)


@pytest.mark.parametrize(("kind", "words"), [(b"WAVE", "a sound file"), (b"AVI ", "a video"), (b"WEBX", "a RIFF file, not WebP")])  # fmt: skip
def test_kinds_of_riff_files(kind: bytes, words: str) -> None:
    assert describe(b"RIFF\x99\0\0\0" + kind + b"\xfe") == words


@pytest.mark.parametrize(("zeros", "rest"), [(PEEK + 1, b""), (PEEK + 1, b"x")])
def test_nothing_but_zeros(zeros: int, rest: bytes) -> None:
    words = describe(bytes(zeros) + rest)
    assert (words == "nothing but zero bytes") == (not rest)


@pytest.mark.parametrize("name", ["png", "gif", "webp", "avif", "tiff"])
def test_each_reader_reads_its_own_format_only(name: str) -> None:
    module = importlib.import_module(f"pytest_webdeliverable.measure.headers.{name}")
    with pytest.raises(DamagedError, match="the file is a JPEG picture"):
        module.read(b"\xff\xd8\xff\xe0" + bytes(99))


@pytest.mark.parametrize("wrong", [b"\xff", b"\xc3a", b"\xe6\xb5a", b"\xed\xa0\x80", b"\xf5\x80"])
@pytest.mark.parametrize("behind", range(5))
def test_letters_that_are_none_at_the_end_of_the_look(wrong: bytes, behind: int) -> None:
    """RFC 3629: a letter that is cut may go on, but these cannot."""
    head = b"a" * (PEEK - len(wrong) - behind) + wrong + b"a" * behind
    assert "plain text" not in describe(head)
    assert "plain text" not in describe(head + b"a")


def test_pages_and_drawings_by_their_first_tag() -> None:
    """HTML, 13.1.1: the doctype names the first element; tags may be written in either case."""
    assert describe(b"<!DOCTYPE html>") == describe(b"<!doctype\n\tHTML >") == "an HTML page"
    assert describe(b"<!DOCTYPE svg PUBLIC 'x'>") == "an SVG drawing"
    assert describe(b"\n <x:svg/>") == "an SVG drawing"
    assert describe(b"<note><p>") == "an HTML page"
    assert describe(b"<note>") == "plain text"
