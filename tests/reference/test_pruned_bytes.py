"""What is left out before a file is decoded, byte by byte: segments, chunks, fields and boxes."""

from __future__ import annotations

import io
import struct
from dataclasses import replace

import pytest
from header_files import PNG_START, chunk, ihdr, pixels
from jpegs import segment
from metadata_files import tiff
from PIL import Image, TiffTags

from pytest_webdeliverable.measure import pruned

SINGLE = {
    "NewSubfileType", "ImageWidth", "ImageLength", "Compression", "PhotometricInterpretation",
    "FillOrder", "SamplesPerPixel", "RowsPerStrip", "PlanarConfiguration", "Predictor", "TileWidth",
    "TileLength", "JPEGProc", "YCbCrPositioning",
}  # fmt: skip
SEVERAL = {
    "BitsPerSample", "StripOffsets", "StripByteCounts", "T4Options", "T6Options", "ColorMap",
    "TileOffsets", "TileByteCounts", "ExtraSamples", "SampleFormat", "SMinSampleValue",
    "SMaxSampleValue", "JPEGTables", "JPEGInterchangeFormat", "JPEGInterchangeFormatLength",
    "JPEGRestartInterval", "JPEGLosslessPredictors", "JPEGPointTransforms", "JPEGQTables",
    "JPEGDCTables", "JPEGACTables", "YCbCrCoefficients", "YCbCrSubSampling", "ReferenceBlackWhite",
    "Matteing", "DataType", "ImageDepth", "TileDepth",
}  # fmt: skip
UNNAMED = {516, 50674}
"""516 is left free within the JPEG fields (TIFF 6.0, section 22); 50674 is of LERC compression."""


def test_fields_that_pixels_need() -> None:
    """Names of TIFF 6.0, its technical notes and libtiff's private fields; numbers as Pillow has them."""
    names = {TiffTags.lookup(tag).name for tag in pruned._SINGLE_FIELDS}
    assert names == SINGLE
    more = pruned._NEEDED_FIELDS - pruned._SINGLE_FIELDS - UNNAMED
    assert {TiffTags.lookup(tag).name for tag in more} == SEVERAL
    assert UNNAMED < pruned._NEEDED_FIELDS


def test_types_of_the_64_bit_form() -> None:
    """13 is an offset of 4 bytes; 16 to 18 have 8 (TIFF technical note 1; the 64-bit form)."""
    more = pruned._BIG_FIELD_BYTES.items() - pruned._FIELD_BYTES.items()
    assert dict(more) == {13: 4, 16: 8, 17: 8, 18: 8}


# JPEG


@pytest.mark.parametrize(
    ("marker", "kept"),
    [(0xE0, True), (0xE1, False), (0xE2, False), (0xED, False), (0xEE, True), (0xEF, False),
     (0xFE, False), (0xDB, True), (0xC0, True), (0xF0, True), (0xFD, True), (0xDF, True), (0xCF, True), (2, True)],
)  # fmt: skip
@pytest.mark.parametrize("fill", [b"", b"\xff", b"\xff\xff"])
def test_segments_before_the_scan(marker: int, kept: bool, fill: bytes) -> None:
    """T.872, section 6: APP0 and APP14 tell the color space. Fill bytes: T.81, B.1.1.2."""
    start, tables = b"\xff\xd8", segment(0xDB, b"tables")
    scan = segment(0xDA, b"scan") + b"data" + segment(0xE1, b"within")
    data = start + tables + fill + segment(marker, b"x" * 9) + tables + scan
    expected = start + tables + fill + (segment(marker, b"x" * 9) if kept else b"") + tables + scan
    assert pruned._jpeg(data) == expected


def test_segments_one_behind_the_other_and_cut_off() -> None:
    start = b"\xff\xd8"
    two = segment(0xE1, b"one") + segment(0xFE, b"two")
    assert pruned._jpeg(start + two + two) == start
    assert pruned._jpeg(start + two[:-1]) == start + segment(0xFE, b"two")[:-1]
    assert pruned._jpeg(start + b"\xff\xe1\0") == start + b"\xff\xe1\0"
    assert pruned._jpeg(start + b"\xff\xe1\0\2") == start
    assert pruned._jpeg(start + b"no marker" + two) == start + b"no marker" + two


@pytest.mark.parametrize("bare", [b"\xff\x01", b"\xff\0", b"\xff\xd0", b"\xff\xd7"])
def test_markers_without_a_length(bare: bytes) -> None:
    """T.81, B.1.1.3: TEM and RST have none; 0xFF with a zero is no marker. What follows is no length."""
    start, comment, tables = b"\xff\xd8", segment(0xFE, b"note"), segment(0xDB, b"tables")
    scan = segment(0xDA, b"scan") + segment(0xFE, b"no comment") * 9_000
    assert pruned._jpeg(start + bare + comment + tables + scan) == start + bare + tables + scan


@pytest.mark.parametrize("marker", [0xD8, 0xD9, 0xDA])
def test_nothing_is_left_out_behind_the_start_of_a_scan_or_an_end(marker: int) -> None:
    data = b"\xff\xd8" + bytes([0xFF, marker, 0, 4]) + b"ab" + segment(0xFE, b"note")
    assert pruned._jpeg(data) == data


# PNG


@pytest.mark.parametrize("name", [b"tRNS", b"PLTE"])
def test_transparency_behind_the_pixels_has_no_effect(name: bytes) -> None:
    """W3C PNG, 5.6: both stand before IDAT; this decoder alone takes them from behind it, too."""
    sound = PNG_START + ihdr() + pixels() + chunk(b"IEND")
    late = PNG_START + ihdr() + pixels() + chunk(name, bytes(6)) + chunk(b"IEND")
    assert pruned._png(late) == sound
    with Image.open(io.BytesIO(pruned._png(late))) as picture:
        picture.load()
        assert "transparency" not in picture.info


def test_chunks_that_pixels_need() -> None:
    """W3C PNG: the critical chunks and tRNS make the pixels; nothing behind IEND belongs to it."""
    needed = [
        ihdr(),
        chunk(b"PLTE", b"abc"),
        chunk(b"tRNS", b"\0"),
        pixels(),
        pixels(),
        chunk(b"IEND"),
    ]
    left_out = [
        chunk(b"eXIf", b"x" * 30),
        chunk(b"acTL", bytes(8)),
        chunk(b"zTXt"),
        chunk(b"iCCP", b"n"),
    ]
    mixed = [needed[0], *left_out, *needed[1:4], left_out[0], *needed[4:]]
    assert pruned._png(PNG_START + b"".join(mixed) + b"behind") == PNG_START + b"".join(needed)


@pytest.mark.parametrize("cut", [1, 4, 11, 12, 13])
def test_a_png_without_its_end(cut: int) -> None:
    whole = PNG_START + ihdr() + pixels() + chunk(b"IEND")
    assert pruned._png(whole) == whole
    with pytest.raises(ValueError, match="the last chunk is missing"):
        pruned._png(whole[:-cut])


# AVIF


@pytest.mark.parametrize(("size", "replaced"), [(14, True), (20, True), (13, False)])
def test_exif_of_an_avif_becomes_an_empty_directory(size: int, replaced: bool) -> None:
    """TIFF 6.0: II, 42, a directory at 8 of 0 entries, and none behind it: 14 bytes."""
    exif = b"II*\0" + bytes(range(1, size - 3))
    found = pruned._avif(b"before" + exif + b"after", exif)
    empty = struct.pack("<2sHIHI", b"II", 42, 8, 0, 0) + bytes(size - 14 if replaced else 0)
    assert found == b"before" + (empty if replaced else exif) + b"after"
    assert pruned._avif(b"before", None) == b"before"


# TIFF


def entries(data: bytes, order: str = "<") -> dict[int, tuple[int, int, bytes]]:
    """Entries of the only directory, read by hand; after it no other may follow."""
    (start,) = struct.unpack_from(order + "I", data, 4)
    (count,) = struct.unpack_from(order + "H", data, start)
    places = range(start + 2, start + 2 + 12 * count, 12)
    found = [struct.unpack_from(order + "HHI4s", data, place) for place in places]
    assert [tag for tag, *_ in found] == sorted(tag for tag, *_ in found)
    assert data[start + 2 + 12 * count :][:4] == bytes(4)
    return {tag: (kind, number, value) for tag, kind, number, value in found}


@pytest.mark.parametrize("order", ["<", ">"])
def test_only_needed_fields_are_kept(order: str) -> None:
    fields = {256: (3, 4), 257: (3, 3), 273: (4, [8, 9]), 270: (2, b"a description"), 274: (3, 6),
              305: (2, b"program"), 258: (3, [8, 8, 8]), 33432: (2, b"rights")}  # fmt: skip
    data = tiff([fields, {256: (3, 1)}], order=order)
    found = entries(pruned._tiff(data).read(), order)
    before = struct.unpack_from(order + "H", data, 8)[0]
    assert before == len(fields)
    assert set(found) == {256, 257, 258, 273}
    original = {tag: (kind, number, value) for tag, kind, number, value in (
        struct.unpack_from(order + "HHI4s", data, 10 + 12 * at) for at in range(before))}  # fmt: skip
    assert found == {tag: original[tag] for tag in found}


@pytest.mark.parametrize("order", ["<", ">"])
def test_the_64_bit_form_keeps_its_fields(order: str) -> None:
    mark = b"II" if order == "<" else b"MM"
    fields = [(256, 3, 1, 4), (270, 2, 8, 5), (273, 16, 1, 6)]
    data = mark + struct.pack(order + "HHHQQ", 43, 8, 0, 16, 3)
    data += b"".join(struct.pack(order + "HHQQ", *one) for one in fields) + struct.pack(
        order + "Q", 99
    )
    kept = b"".join(struct.pack(order + "HHQQ", *fields[at]) for at in (0, 2))
    found = pruned._tiff(data).read()
    assert len(found) == len(data)
    assert found[16:].startswith(struct.pack(order + "Q", 2) + kept + bytes(8))


@pytest.mark.parametrize(
    ("field", "sound"),
    [
        ((256, 3, 1, 7), True),
        ((256, 3, 2, 7), False),  # of one value
        ((256, 3, 0, 7), False),
        ((256, 99, 1, 7), False),  # no such type
        ((258, 3, 2, 7), True),
        ((258, 3, 3, 20), True),  # 6 bytes at 20: to the end
        ((258, 3, 3, 21), False),
        ((258, 12, 1, 18), True),
        ((258, 12, 1, 19), False),
        ((273, 4, 1, 10**9), True),  # in place, whatever it says
        ((258, 1, 4, 10**9), True),
        ((258, 1, 5, 10**9), False),
    ],
)
def test_fields_of_one_value_and_at_the_end(field: tuple[int, ...], sound: bool) -> None:
    data = b"II*\0\x08\0\0\0" + struct.pack("<HHHIII", 1, *field, 0)
    assert len(data) == 26
    if sound:
        assert set(entries(pruned._tiff(data).read())) == {field[0]}
    else:
        with pytest.raises(ValueError, match=str(field[0])):
            pruned._tiff(data)


SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8}
"""Bytes of a value by type, TIFF 6.0, section 2; then those of the 64-bit form."""
BIG_SIZES = SIZES | {13: 4, 16: 8, 17: 8, 18: 8}


@pytest.mark.parametrize("big", [False, True])
@pytest.mark.parametrize("kind", range(20))
def test_values_of_every_type_lie_within_the_file(big: bool, kind: int) -> None:
    """Nine values end with the file, or one byte behind it; types that there are not are damaged."""
    size = (BIG_SIZES if big else SIZES).get(kind, 0)
    heading = struct.pack("<2sHHHQQ", b"II", 43, 8, 0, 16, 1) if big else b"II*\0\x08\0\0\0\1\0"
    numbers = "QQQ" if big else "III"
    at = len(heading) + struct.calcsize("<HH" + numbers)
    data = heading + struct.pack("<HH" + numbers, 258, kind, 9, at, 0) + bytes(9 * size)
    if not size:
        with pytest.raises(ValueError, match="field 258 is damaged"):
            pruned._tiff(data)
        return
    assert pruned._tiff(data).read() == data
    with pytest.raises(ValueError, match="field 258 is damaged"):
        pruned._tiff(data[:-1])


def test_the_first_of_two_equal_fields_counts() -> None:
    data = b"II*\0\x08\0\0\0" + struct.pack("<HHHIIHHIII", 2, 256, 3, 1, 5, 256, 3, 1, 9, 0)
    found = entries(pruned._tiff(data).read())
    assert found == {256: (3, 1, struct.pack("<I", 5))}


@pytest.mark.parametrize("tag", [273, 324])
@pytest.mark.parametrize(("more", "sound"), [(0, True), (1, False)])
def test_the_number_of_strips_and_tiles(tag: int, more: int, sound: bool) -> None:
    data = b"II*\0\x08\0\0\0" + struct.pack("<HHHIII", 1, tag, 1, 100_000 + more, 26, 0)
    data += bytes(100_001)
    if sound:
        assert set(entries(pruned._tiff(data).read())) == {tag}
    else:
        with pytest.raises(ValueError, match="strips or tiles"):
            pruned._tiff(data)


@pytest.mark.parametrize(("count", "sound"), [(4096, True), (4097, False)])
def test_the_number_of_fields(count: int, sound: bool) -> None:
    fields = b"".join(struct.pack("<HHII", 40_000 + at, 3, 1, 0) for at in range(count))
    data = b"II*\0\x08\0\0\0" + struct.pack("<H", count) + fields + bytes(4)
    if sound:
        assert entries(pruned._tiff(data).read()) == {}
    else:
        with pytest.raises(ValueError, match="fields in the directory"):
            pruned._tiff(data)


def test_a_patched_file_reads_like_one_that_was_copied() -> None:
    """Against io.BytesIO, in every way that a decoder reads."""
    data = bytes(range(200))
    file = pruned._Patched(data, 50, b"-" * 30)
    plain = io.BytesIO(data[:50] + b"-" * 30 + data[80:])
    for at, size in (
        (0, 10),
        (45, 10),
        (49, 1),
        (50, 30),
        (79, 2),
        (75, 200),
        (200, 5),
        (300, 1),
        (10, -1),
    ):
        assert file.seek(at) == plain.seek(at)
        assert file.read(size) == plain.read(size)
        # beyond the end it stays at the end
        assert file.tell() == min(200, plain.tell())
    for offset, whence in (
        (-20, io.SEEK_END),
        (5, io.SEEK_CUR),
        (-9, io.SEEK_CUR),
        (3, io.SEEK_SET),
    ):
        assert file.seek(offset, whence) == plain.seek(offset, whence)
        one, other = bytearray(12), bytearray(12)
        assert file.readinto(one) == plain.readinto(other)
        assert one == other
    assert file.seek(-9) == 0
    assert file.read(None) == plain.getvalue()


def test_each_format_is_pruned_in_its_way() -> None:
    from pytest_webdeliverable.measure.headers import read_header
    from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS

    whole = PNG_START + ihdr() + chunk(b"eXIf", b"x") + pixels() + chunk(b"IEND")
    header = read_header(whole)
    assert b"eXIf" not in pruned.for_decoding(whole, header, DEFAULT_LIMITS).read()
    as_gif = replace(header, format="gif")
    assert pruned.for_decoding(whole, as_gif, DEFAULT_LIMITS).read() == whole
    as_avif = replace(header, format="avif", exif=b"eXIf" + bytes(20))
    assert pruned.for_decoding(b"1" + as_avif.exif, as_avif, DEFAULT_LIMITS).read()[1:4] == b"II*"
    picture = tiff([{256: (3, 4), 257: (3, 3), 270: (2, b"a note")}])
    as_tiff = replace(header, format="tiff")
    assert set(entries(pruned.for_decoding(picture, as_tiff, DEFAULT_LIMITS).read())) == {256, 257}


@pytest.mark.parametrize("size", [0, 253, 254, 255, 256, 65_533])
def test_segments_of_every_length(size: int) -> None:
    """T.81, B.1.1.4: two bytes of length, which they count as well."""
    start, scan = b"\xff\xd8", segment(0xDA, b"scan")
    assert pruned._jpeg(start + segment(0xE1, bytes(size)) + scan) == start + scan
