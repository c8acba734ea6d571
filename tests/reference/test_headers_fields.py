"""Single fields of picture files, written by hand: what each says, and what is no such field."""

from __future__ import annotations

import struct
from types import SimpleNamespace

import pytest
from header_files import PNG_START, avif, box, chunk, ihdr, ispe, pixels
from header_files import saved as written
from jpegs import saved, segment
from metadata_files import tiff
from PIL import Image, TiffTags

from pytest_webdeliverable.measure.headers import avif as avif_reader
from pytest_webdeliverable.measure.headers import jpeg, jpeg_quality
from pytest_webdeliverable.measure.headers import png as png_reader
from pytest_webdeliverable.measure.headers import tiff as tiff_reader
from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.headers.boxes import BoxFile
from pytest_webdeliverable.measure.headers.jpeg_entropy import _blocks_per_unit, _impossible_zeros
from pytest_webdeliverable.measure.headers.jpeg_tables import K1_LUMINANCE, K2_CHROMINANCE, ZIGZAG
from pytest_webdeliverable.measure.headers.sniff import PEEK, describe
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS


@pytest.mark.parametrize(("name", "sound"), [(b"teSt", True), (b"TESt", False)])
def test_an_unknown_chunk_that_may_not_be_left_out(name: bytes, sound: bool) -> None:
    """W3C PNG, 5.4: the case of the first letter says whether a chunk is needed."""
    found = png_reader.read(PNG_START + ihdr() + chunk(name) + pixels() + chunk(b"IEND"))
    assert (found.problems == ()) == sound
    if not sound:
        assert "extension of PNG" in found.problems[0]


@pytest.mark.parametrize(("marker", "previews"), [(0xE0, 1), (0xE5, 0), (0xEC, 0)])
def test_extensions_of_jfif_stand_in_app0(marker: int, previews: int) -> None:
    """ITU-T T.871, 10.2: APP0 with "JFXX"; 0x13 is three bytes a pixel."""
    data = saved()
    body = segment(marker, b"JFXX\0\x13\x01\x01rgb")
    at = data.index(b"\xff\xdb")
    assert len(jpeg.read(data[:at] + body + data[at:]).previews) == previews
    other = segment(0xE0, b"OTHER\0\x13\x01\x01rgb")
    assert jpeg.read(data[:at] + other + data[at:]).previews == ()


@pytest.mark.parametrize(("kind", "letter", "x"), [(16, "Q", None), (4, "I", None), (3, "H", 72.0)])
def test_whole_numbers_of_the_64_bit_form(kind: int, letter: str, x: float | None) -> None:
    """Types 16 (8 bytes), 4 and 3: the width may be any; a resolution is no long number."""
    entries = [(256, kind, letter, 4), (257, 3, "H", 3), (262, 3, "H", 1), (273, 16, "Q", 8),
               (279, 16, "Q", 12), (282, kind, letter, 72), (258, 3, "H", 8)]  # fmt: skip
    out = struct.pack("<2sHHHQ", b"II", 43, 8, 0, 16) + struct.pack("<Q", len(entries))
    for tag, type_, form, value in sorted(entries):
        out += struct.pack("<HHQ", tag, type_, 1) + struct.pack(f"<{form}", value).ljust(8, b"\0")
    header = tiff_reader.read(out + bytes(8))
    assert (header.width, header.height, header.problems) == (4, 3, ())
    assert header.densities[0].x == (72.0 if letter in "HI" else x)


@pytest.mark.parametrize(("photometric", "told"), [(6, True), (2, False), (7, False)])
def test_a_count_too_large_for_subsampled_colors_is_told(photometric: int, told: bool) -> None:
    """TIFF 6.0, section 21: YCbCr is subsampled, so that its bytes do not follow from its size."""
    fields = {256: (3, 4), 257: (3, 3), 258: (3, [8, 8, 8]), 262: (3, photometric), 273: (4, "tail"),
              277: (3, 3), 279: (4, 99_999)}  # fmt: skip
    header = tiff_reader.read(tiff([fields], tail=bytes(36)))
    assert bool(header.problems) == told


@pytest.mark.parametrize("offset", [0, 6, 5_000_000])
def test_exif_begins_where_the_number_before_it_says(offset: int) -> None:
    """ISO/IEC 23008-12, A.2.1: 4 bytes count what stands between; beyond the end it means nothing."""
    exif = Image.Exif()
    exif[0x010E] = "drawn"
    stored = exif.tobytes().removeprefix(b"Exif\0\0")
    data = written(Image.new("RGB", (4, 3)), "AVIF", exif=exif)
    at = data.index(b"Exif\0\0" + stored) - 4
    changed = data[:at] + struct.pack(">I", offset) + data[at + 4 :]
    header = avif_reader.read(changed)
    assert (header.exif, header.problems) == (stored, ())


def test_boxes_whose_size_takes_eight_bytes() -> None:
    """ISO/IEC 14496-12, 4.2: a size of 1, the kind, then the size; 0 reaches to the end."""
    data = struct.pack(">I4sQ", 1, b"wide", 19) + b"abc" + box(b"next", b"de") + struct.pack(">I4s", 0, b"last") + b"f"  # fmt: skip
    found = [(one.kind, data[one.start : one.end]) for one in BoxFile(data).boxes(0, len(data))]
    assert found == [(b"wide", b"abc"), (b"next", b"de"), (b"last", b"f")]


def test_blocks_of_a_unit() -> None:
    """ITU-T T.81, A.2: alone, a component has one block a unit, else its two factors' product."""
    parts = [
        SimpleNamespace(component=SimpleNamespace(h=h, v=v)) for h, v in ((2, 2), (1, 1), (2, 1))
    ]
    assert _blocks_per_unit(SimpleNamespace(parts=parts)) == [4, 1, 2]
    assert _blocks_per_unit(SimpleNamespace(parts=parts[:1])) == [1]


@pytest.mark.parametrize(("depths", "bits", "mode"), [(b"\x0a", 10, "gray"), (b"\x08\x0c\x08", 12, "rgb"), (b"\x08\x08", 8, "rgb"), (b"", 8, "rgb")])  # fmt: skip
def test_channels_of_an_avif_without_a_configuration(depths: bytes, bits: int, mode: str) -> None:
    """ISO/IEC 23008-12, 6.5.6: the number of channels, then the bits of each."""
    pixi = box(b"pixi", bytes([len(depths)]) + depths, full=0)
    header = avif_reader.read(avif(properties=(ispe(4, 3), pixi)))
    assert (header.bits, header.mode) == (bits, mode)


NAMED = {
    "ImageDescription", "Make", "Model", "Orientation", "Software", "DateTime", "Artist",
    "HostComputer", "Copyright", "ExifIFD", "GPSInfoIFD",
}  # fmt: skip


@pytest.mark.parametrize(
    "tag", [270, 271, 272, 274, 305, 306, 315, 316, 33432, 34665, 34853, 50735]
)
def test_fields_that_tell_of_people_places_and_devices(tag: int) -> None:
    """Names as Pillow has them; 50735 is the camera's serial number (DNG)."""
    assert tag == 50735 or TiffTags.lookup(tag).name in NAMED
    fields = {256: (3, 4), 257: (3, 3), 258: (3, [8, 8, 8]), 262: (3, 2), 273: (4, "tail"), 277: (3, 3),
              279: (4, 36)}  # fmt: skip
    data = tiff([fields | {tag: (4, 1)}], tail=bytes(36))
    assert tiff_reader.read(data).exif == data


@pytest.mark.parametrize("tag", [269, 275, 307, 314, 317, 33431, 34664, 34854, 50734, 50736])
def test_fields_that_tell_nothing(tag: int) -> None:
    fields = {256: (3, 4), 257: (3, 3), 258: (3, [8, 8, 8]), 262: (3, 2), 273: (4, "tail"), 277: (3, 3),
              279: (4, 36)}  # fmt: skip
    assert tiff_reader.read(tiff([fields | {tag: (4, 1)}], tail=bytes(36))).exif is None


@pytest.mark.parametrize(("letter", "size"), [("é", 2), ("海", 3), ("🌊", 4)])
def test_a_letter_cut_by_the_end_of_the_look_is_text(letter: str, size: int) -> None:
    """UTF-8 (RFC 3629): letters of up to 4 bytes."""
    for there in range(1, size + 1):
        head = b"a" * (PEEK - there) + letter.encode()
        assert "plain text" in describe(head[:PEEK])
    assert "plain text" not in describe(b"a" + letter.encode()[:-1] + b"a" * PEEK)
    assert "plain text" not in describe(b"a" * 99 + letter.encode()[:-1])


@pytest.mark.parametrize("more", [0, 3, 6])
def test_bytes_behind_the_components_of_a_frame_header(more: int) -> None:
    """ITU-T T.81, B.2.2: three bytes a component; what stands behind them is passed over."""
    data = saved()
    at = data.index(b"\xff\xc0")
    size = int.from_bytes(data[at + 2 : at + 4], "big")
    frame = segment(0xC0, data[at + 4 : at + 2 + size] + bytes(more))
    header = jpeg.read(data[:at] + frame + data[at + 2 + size :])
    assert (header.width, header.height, header.mode) == (160, 120, "rgb")


@pytest.mark.parametrize(("tables", "read"), [(8, True), (9, False)])
def test_the_most_huffman_tables_of_a_segment(tables: int, read: bool) -> None:
    """ITU-T T.81, B.2.4.2: four for DC and four for AC coefficients."""
    data = saved()
    at = data.index(b"\xff\xdb")
    one = bytes([1, *[0] * 15, 7])
    many = segment(
        0xC4, b"".join(bytes([number % 8 // 4 << 4 | number % 4]) + one for number in range(tables))
    )
    if read:
        assert jpeg.read(data[:at] + many + data[at:]).width == 160
    else:
        with pytest.raises(DamagedError, match="Huffman table"):
            jpeg.read(data[:at] + many + data[at:])


@pytest.mark.parametrize(("size", "there"), [(4, False), (5, True)])
def test_exif_of_an_avif_is_more_than_the_number_before_it(size: int, there: bool) -> None:
    found = avif_reader._Avif(avif(), DEFAULT_LIMITS)
    item = SimpleNamespace(kind=b"Exif", content=b"")
    found._take_metadata(SimpleNamespace(by_id={2: item}, content=lambda _: [(0, size)]))  # type: ignore[arg-type]
    assert (found._exif is not None) == there


@pytest.mark.parametrize(("tables", "read"), [(4, True), (5, False)])
def test_the_most_quantization_tables_of_a_segment(tables: int, read: bool) -> None:
    """ITU-T T.81, B.2.4.1: four places for tables."""
    data = saved()
    at = data.index(b"\xff\xc0")
    many = segment(
        0xDB, b"".join(bytes([number % 4]) + bytes([9]) * 64 for number in range(tables))
    )
    if read:
        assert jpeg.read(data[:at] + many + data[at:]).width == 160
    else:
        with pytest.raises(DamagedError, match="quantization table"):
            jpeg.read(data[:at] + many + data[at:])


@pytest.mark.parametrize("code", range(32))
def test_controls_that_stand_in_text(code: int) -> None:
    """Tab, line and page feeds, and escape: 9 to 13 and 27; common practice, no source."""
    text = b"a note" + bytes([code]) + b"for nobody"
    assert ("plain text" in describe(text)) == (code in {9, 10, 11, 12, 13, 27})


def test_metadata_of_a_track_count_too() -> None:
    """ISO/IEC 14496-12, 8.11.1: a meta box may stand in a track; the one of the file is taken away."""
    exif = Image.Exif()
    exif[0x010E] = "drawn"
    frames = [Image.new("RGB", (8, 6), color) for color in ("red", "blue")]
    data = written(frames[0], "AVIF", exif=exif, save_all=True, append_images=frames[1:])
    assert data.index(b"meta") < data.index(b"moov")
    header = avif_reader.read(data.replace(b"meta", b"free", 1))
    assert header.exif == exif.tobytes().removeprefix(b"Exif\0\0")
    assert (header.width, header.height, header.frames) == (8, 6, 2)


@pytest.mark.parametrize(("marker", "told"), [(0xC0, True), (0xC3, False), (0xCB, False)])
def test_zeros_in_a_lossless_file_may_be_anything(marker: int, told: bool) -> None:
    """ITU-T T.81, B.1.1.3: SOF3 and SOF11 are lossless."""
    part = SimpleNamespace(
        dc=SimpleNamespace(length=2, symbol=3),
        ac=None,
        component=SimpleNamespace(ident=1, h=1, v=1, table=0),
    )
    scan = SimpleNamespace(high=0, low=0, first=0, last=0, parts=[part])
    frame = SimpleNamespace(marker=marker, precision=8)
    assert (_impossible_zeros(scan, SimpleNamespace(steps={}), frame) is not None) == told


@pytest.mark.parametrize("qualities", [(50, 90), (90, 50)])
def test_the_lower_quality_of_both_color_tables_counts(qualities: tuple[int, int]) -> None:
    def written_order(base: tuple[int, ...], quality: int) -> tuple[int, ...]:
        rows = jpeg_quality.scaled(base, quality)
        return tuple(rows[at] for at in ZIGZAG)

    tables = [
        written_order(K1_LUMINANCE, 80),
        *(written_order(K2_CHROMINANCE, q) for q in qualities),
    ]
    found = jpeg_quality.read_quality(tables)
    assert found is not None
    assert (found["luma"], found["chroma"], found["value"], found["exact"]) == (80, 50, 50, True)
