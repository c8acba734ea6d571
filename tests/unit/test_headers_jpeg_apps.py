"""What a JPEG holds beside its picture: profile, metadata, previews, further pictures."""

from __future__ import annotations

import io
import struct

import pytest
from jpegs import (
    noise,
    saved,
    segment,
    with_segments,
)
from PIL import Image

from pytest_webdeliverable.measure.headers.jpeg import read
from pytest_webdeliverable.measure.limits import Limits


def icc_part(number: int, count: int, content: bytes) -> bytes:
    return segment(0xE2, b"ICC_PROFILE\0" + bytes((number, count)) + content)


@pytest.mark.parametrize(
    ("mode", "expected"), [("L", "gray"), ("RGB", "rgb"), ("CMYK", "cmyk")], ids=str
)
def test_mode_size_and_depth(mode: str, expected: str) -> None:
    header = read(saved(noise(mode, (37, 21))))
    assert (header.format, header.width, header.height) == ("jpeg", 37, 21)
    assert (header.mode, header.bits, header.alpha, header.frames) == (expected, 8, False, 1)
    assert header.problems == ()


# Profile


def test_profile_in_one_part() -> None:
    header = read(saved(icc_profile=b"profile" * 9))
    assert header.icc == b"profile" * 9
    assert header.icc_problem is None


def test_profile_in_parts_of_any_order() -> None:
    data = with_segments(saved(), icc_part(2, 3, b"b"), icc_part(3, 3, b"c"), icc_part(1, 3, b"a"))
    assert read(data).icc == b"abc"


def test_large_profile_split_by_pillow() -> None:
    profile = bytes(range(256)) * 600  # three segments
    assert read(saved(icc_profile=profile)).icc == profile


@pytest.mark.parametrize(
    ("parts", "problem"),
    [
        ([icc_part(2, 2, b"b")], "1 of 2 parts of the color profile are missing"),
        ([icc_part(1, 2, b"a"), icc_part(2, 3, b"b")], "disagree"),
        ([icc_part(1, 1, b"a"), icc_part(1, 1, b"b")], "same number"),
        ([icc_part(0, 1, b"a")], "missing"),
        ([icc_part(1, 0, b"a")], "numbered wrongly"),
        ([icc_part(1, 1, b"")], "empty"),
        ([segment(0xE2, b"ICC_PROFILE\0\1")], "damaged"),
    ],
    ids=["part missing", "counts differ", "twice", "part 0", "count 0", "empty", "short"],
)
def test_profile_that_cannot_be_put_together(parts: list[bytes], problem: str) -> None:
    header = read(with_segments(saved(), *parts))
    assert header.icc is None
    assert header.icc_problem is not None
    assert problem in header.icc_problem


def test_only_what_stands_before_the_first_scan_is_a_profile() -> None:
    """ICC.1 annex B.4; decoders put it together when they meet the scan (libjpeg's jdicc.c)."""
    data = saved(icc_profile=b"profile" * 9)
    again = icc_part(1, 1, b"another")
    assert read(data[:-2] + again + data[-2:]).icc == b"profile" * 9
    late = read(saved()[:-2] + again + data[-2:])
    assert late.icc is None
    assert late.icc_problem == "the color profile stands too late in the file to be used"


def test_the_same_profile_part_twice_is_harmless() -> None:
    assert read(with_segments(saved(), icc_part(1, 1, b"a"), icc_part(1, 1, b"a"))).icc == b"a"


def test_profile_beyond_the_limit() -> None:
    header = read(saved(icc_profile=bytes(5000)), Limits(profile_bytes=4999))
    assert header.icc is None
    assert "larger" in str(header.icc_problem)


# Metadata


def test_exif_block_starts_at_the_byte_order() -> None:
    exif = Image.Exif()
    exif[0x013B] = "Quill"
    block = read(saved(exif=exif)).exif
    assert block is not None
    assert block[:2] in (b"II", b"MM")
    assert b"Quill" in block


def test_exif_continued_in_the_next_segment() -> None:
    data = with_segments(saved(), segment(0xE1, b"Exif\0\0II*\0abc"), segment(0xE1, b"Exif\0\0def"))
    header = read(data)
    assert header.exif == b"II*\0abcdef"
    assert header.problems == ()


def test_second_exif_block_is_a_problem() -> None:
    data = with_segments(saved(), *[segment(0xE1, b"Exif\0\0MM\0*abc")] * 2)
    header = read(data)
    assert header.exif == b"MM\0*abc"
    assert "more than one Exif block" in header.problems[0]


def test_xmp_with_its_extension() -> None:
    guid = b"0123456789ABCDEF0123456789ABCDEF"

    def part(offset: int, content: bytes) -> bytes:
        head = b"http://ns.adobe.com/xmp/extension/\0" + guid
        return segment(0xE1, head + struct.pack(">II", 6, offset) + content)

    main = segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0<x:xmpmeta/>")
    data = with_segments(saved(), main, part(3, b"def"), part(0, b"abc"))
    assert read(data).xmp == (b"<x:xmpmeta/>", b"abcdef")


def test_iptc_and_preview_in_image_resources() -> None:
    preview = saved(noise("RGB", (8, 8)))
    record = b"\x1c\x02\x50\0\5Quill"
    resources = (
        b"8BIM\x04\x04\0\0" + struct.pack(">I", len(record)) + record
        + b"8BIM\x04\x0c\0\0" + struct.pack(">I", 28 + len(preview)) + bytes(28) + preview
    )  # fmt: skip
    header = read(with_segments(saved(), segment(0xED, b"Photoshop 3.0\0" + resources)))
    assert header.iptc == record
    assert header.previews == (preview,)


def test_resources_that_run_over_two_segments() -> None:
    record = b"\x1c\x02\x50\0\5Quill"
    block = b"8BIM\x04\x04\0\0" + struct.pack(">I", len(record)) + record
    parts = [segment(0xED, b"Photoshop 3.0\0" + piece) for piece in (block[:15], block[15:])]
    assert read(with_segments(saved(), *parts)).iptc == record


# Previews


def colors(preview: bytes) -> list[tuple[int, ...]]:
    with Image.open(io.BytesIO(preview)) as picture:
        return [picture.getpixel((x, 0)) for x in range(picture.width)]


def test_uncompressed_preview_of_jfif() -> None:
    samples = bytes((10, 20, 30, 40, 50, 60))
    body = b"JFIF\0" + struct.pack(">HBHHBB", 0x0102, 1, 72, 72, 2, 1) + samples
    data = saved()
    length = struct.unpack_from(">H", data, 4)[0]
    header = read(data[:2] + segment(0xE0, body) + data[4 + length :])
    assert [colors(preview) for preview in header.previews] == [[(10, 20, 30), (40, 50, 60)]]


def test_previews_of_jfif_extensions() -> None:
    jpeg = saved(noise("RGB", (8, 8)))
    palette = bytes((1, 2, 3, 4, 5, 6)) + bytes(762)
    data = with_segments(
        saved(),
        segment(0xE0, b"JFXX\0\x10" + jpeg),
        segment(0xE0, b"JFXX\0\x11\x02\x01" + palette + b"\1\0"),
        segment(0xE0, b"JFXX\0\x13\x01\x01\x07\x08\x09"),
    )
    first, second, third = read(data).previews
    assert first == jpeg
    assert colors(second) == [(4, 5, 6), (1, 2, 3)]
    assert colors(third) == [(7, 8, 9)]


def test_incomplete_previews_are_left_out() -> None:
    data = with_segments(
        saved(),
        segment(0xE0, b"JFXX\0\x13\xff\xff\x07\x08\x09"),
        segment(0xE0, b"JFXX\0\x11\x02\x01\x07"),
        segment(0xE0, b"JFXX\0\x13"),
        segment(0xE0, b"JFXX\0"),
    )
    assert read(data).previews == ()


# Several pictures in one file


def several_pictures(count: int) -> bytes:
    buffer = io.BytesIO()
    noise().save(buffer, "MPO", save_all=True, append_images=[noise().rotate(90)] * (count - 1))
    return buffer.getvalue()


@pytest.mark.parametrize("count", [2, 3])
def test_pictures_of_a_multi_picture_file_are_frames_and_no_trailing_data(count: int) -> None:
    header = read(several_pictures(count))
    assert header.frames == count
    assert header.problems == ()


def test_data_behind_the_last_of_several_pictures() -> None:
    header = read(several_pictures(2) + b"PK\3\4 archive")
    assert header.problems == ("12 bytes follow the end of the picture: a ZIP archive",)


def test_further_picture_that_is_not_there() -> None:
    data = several_pictures(2)
    header = read(data[: data.rindex(b"\xff\xd8")])
    assert header.frames == 1
    assert any("further pictures" in problem for problem in header.problems)


def test_large_preview_of_a_multi_picture_file() -> None:
    main, small = saved(), saved(noise("RGB", (16, 16)))
    # Byte order, 1 directory entry: tag B002, undefined type, two entries of 16 bytes at offset 26.
    index = b"MM\0*\0\0\0\x08\0\x01" + struct.pack(">HHII", 0xB002, 7, 32, 26) + bytes(4)
    segment_size = 4 + 4 + len(index) + 32
    offset = len(main) + segment_size - (2 + 4 + 4)
    entries = struct.pack(
        ">IIIHHIIIHH", 0x20030000, len(main) + segment_size, 0, 0, 0,
        0x00010001, len(small), offset, 0, 0,
    )  # fmt: skip
    data = with_segments(main, segment(0xE2, b"MPF\0" + index + entries)) + small
    header = read(data)
    assert header.previews == (small,)
    assert header.frames == 2
    assert header.problems == ()


@pytest.mark.parametrize(
    "index", [b"", b"XX*\0\0\0\0\x08", b"II*\0\xff\xff\xff\xff", b"II*\0\x08\0\0\0\xff\xff"]
)
def test_broken_multi_picture_index_is_no_index(index: bytes) -> None:
    assert read(with_segments(saved(), segment(0xE2, b"MPF\0" + index))).frames == 1
