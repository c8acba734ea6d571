"""Previews in boxes of assertions (JUMBF): what a picture was made of, often before it was cut.

ISO/IEC 19566-5: a superbox holds a description, a box that tells the type of a file ("bfdb") and the file
("bidb"); in a JPEG they stand in APP11, cut into segments that repeat the heading (annex D). The published
specification of content credentials names the other places: a chunk caBX of PNG, C2PA of WebP, a uuid box
of AVIF, tag 52545 of TIFF.
"""

from __future__ import annotations

import struct
from typing import TYPE_CHECKING

import pytest
from header_files import box, chunk, riff_chunk, saved, vp8x, webp
from jpegs import segment, with_segments
from PIL import Image, TiffImagePlugin

from pytest_webdeliverable.measure.content import content_facts
from pytest_webdeliverable.measure.headers import read_header
from pytest_webdeliverable.measure.headers.reading import pictures_in_assertions
from tests.edges import drawn

if TYPE_CHECKING:
    from collections.abc import Callable

PICTURE = drawn.draw("landscape", 3, (320, 240))
OTHER = drawn.draw("landscape", 8, (160, 120))
FILE_TYPE = bytes.fromhex("40cb0c32bb8a489da70b2ad6f47f4369")
"""The content type "embedded file"."""


def assertion(*files: bytes, wide: bool = False) -> bytes:
    parts = []
    for file in files:
        head = box(b"jumd", FILE_TYPE, b"\3thumbnail\0") + box(b"bfdb", b"\0image/jpeg\0")
        data = (
            struct.pack(">I4sQ", 1, b"bidb", 16 + len(file)) + file if wide else box(b"bidb", file)
        )
        parts.append(box(b"jumb", head, data))
    return box(b"jumb", box(b"jumd", bytes(16), b"\3store\0"), *parts)


def in_segments(block: bytes, each: int) -> list[bytes]:
    """A box cut into APP11 segments, each with number, count and the heading of the box."""
    heading, body = block[:8], block[8:]
    pieces = [body[at : at + each] for at in range(0, len(body), each)]
    return [
        segment(0xEB, b"JP\0\1" + struct.pack(">I", number) + heading + piece)
        for number, piece in enumerate(pieces, 1)
    ]


def in_jpeg(block: bytes) -> bytes:
    return with_segments(saved(PICTURE, "JPEG", quality=90), *in_segments(block, 60_000))


def in_many_segments(block: bytes) -> bytes:
    """In another order, which their numbers put right."""
    return with_segments(saved(PICTURE, "JPEG", quality=90), *in_segments(block, 700)[::-1])


def in_png(block: bytes) -> bytes:
    data = saved(PICTURE, "PNG")
    return data[:33] + chunk(b"caBX", block) + data[33:]


def in_webp(block: bytes) -> bytes:
    return webp(
        vp8x(0, 320, 240), saved(PICTURE, "WEBP", quality=90)[12:], riff_chunk(b"C2PA", block)
    )


def in_avif(block: bytes) -> bytes:
    return saved(PICTURE, "AVIF") + box(b"uuid", bytes(16), b"manifest\0", block)


def in_tiff(block: bytes) -> bytes:
    fields = TiffImagePlugin.ImageFileDirectory_v2()
    fields[52545] = block
    fields.tagtype[52545] = 7
    return saved(PICTURE, "TIFF", tiffinfo=fields)


PLACES = [in_jpeg, in_many_segments, in_png, in_webp, in_avif, in_tiff]


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("wide", [False, True])
def test_a_preview_among_assertions_is_compared(
    place: Callable[[bytes], bytes], wide: bool
) -> None:
    for shown, same in ((PICTURE.resize((160, 120)), True), (OTHER, False)):
        data = place(assertion(saved(shown, "JPEG", quality=85), wide=wide))
        facts = content_facts(data, ["previews"])
        assert "problem" not in facts
        (found,) = facts["metadata"]["previews"]
        assert (found["place"], found["width"], found["same"]) == ("file header", 160, same)


@pytest.mark.parametrize("place", PLACES)
def test_assertions_without_a_picture_are_none(place: Callable[[bytes], bytes]) -> None:
    data = place(assertion(b"a text", b"\xff\xd8 none"))
    assert read_header(data).previews == ()


def test_pictures_are_taken_as_they_are_and_five_of_them() -> None:
    files = [saved(Image.new("RGB", (8 + number, 8)), "PNG") for number in range(9)]
    assert pictures_in_assertions(assertion(*files)) == tuple(files[:5])
    open_end = assertion(files[0]).replace(
        struct.pack(">I", 8 + len(files[0])) + b"bidb", bytes(4) + b"bidb"
    )
    assert pictures_in_assertions(open_end) == (files[0],)
    assert pictures_in_assertions(b"bidb" + files[1]) == (files[1],)


def test_of_many_boxes_in_a_jpeg_a_few_pictures_are_kept() -> None:
    """Each box is numbered; copies of all pictures in all of them could take many times the file."""
    other = saved(OTHER, "JPEG", quality=60)
    segments = [
        segment(0xEB, b"JP" + struct.pack(">HI", number, 1) + assertion(other[:200], other[:200]))
        for number in range(9)
    ]
    header = read_header(with_segments(saved(PICTURE, "JPEG", quality=90), *segments))
    assert 5 <= len(header.previews) <= 6
