"""Decoding: what is decoded, what is left out before, what is not even tried."""

from __future__ import annotations

import io
import struct
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import cache

import pytest
from pictures import KINDS
from PIL import Image, ImageChops, ImageOps

from pytest_webdeliverable.measure import decode as module
from pytest_webdeliverable.measure.decode import apply_orientation, decode, too_costly
from pytest_webdeliverable.measure.headers import read_header
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits
from pytest_webdeliverable.measure.pruned import MOST_FIELDS, MOST_STRIPS, for_decoding


@cache
def drawn(width=97, height=61):
    noise = Image.effect_noise((width, height), 60)
    slope = Image.linear_gradient("L").resize((width, height))
    return Image.merge("RGB", (noise, slope, slope.rotate(180)))


def encoded(kind, picture=None, **more):
    name, options = KINDS[kind]
    file = io.BytesIO()
    (picture or drawn()).save(file, name, **options, **more)
    return file.getvalue()


def same(one, other):
    return one.mode == other.mode and ImageChops.difference(one, other).getbbox() is None


def plain(data):
    with Image.open(io.BytesIO(data)) as picture:
        return picture.copy()


@pytest.mark.parametrize("kind", KINDS)
def test_every_format_decodes_to_the_same_pixels_as_plain_pillow(kind):
    data = encoded(kind)
    decoded = decode(data, read_header(data))
    assert decoded.problem is None
    assert same(decoded.picture.copy(), plain(data))
    assert decoded.picture.getpixel((96, 60))


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGBA", "CMYK", "I;16"])
def test_every_kind_of_pixels_of_a_tiff(mode):
    picture = Image.new("I;16", (40, 30), 777) if mode == "I;16" else drawn().convert(mode)
    for compression in (None, "tiff_lzw"):
        file = io.BytesIO()
        picture.save(file, "TIFF", compression=compression)
        data = file.getvalue()
        decoded = decode(data, read_header(data)).picture
        assert decoded.mode == mode
        assert decoded.tobytes() == plain(data).tobytes()


@pytest.mark.parametrize("big", [False, True])
@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize(
    "options", [{}, {"tile": (32, 32)}, {"rowsperstrip": 1}, {"compression": "zlib"}]
)
def test_tiffs_of_another_writer(big, order, options):
    if big and order == ">":
        pytest.skip("Pillow opens no such file")
    tifffile = pytest.importorskip("tifffile")
    np = pytest.importorskip("numpy")
    pixels = np.random.default_rng(5).integers(0, 255, (61, 83, 3), dtype=np.uint8)
    file = io.BytesIO()
    tifffile.imwrite(file, pixels, bigtiff=big, byteorder=order, **options)
    data = file.getvalue()
    assert np.array_equal(np.asarray(decode(data, read_header(data)).picture), pixels)


@pytest.mark.parametrize("flag", range(1, 9))
@pytest.mark.parametrize("kind", ["jpeg", "tiff", "tiff-lzw", "png"])
def test_nothing_is_turned_unasked(kind, flag):
    exif = Image.Exif()
    exif[0x0112] = flag
    data = encoded(kind, exif=exif)
    decoded = decode(data, read_header(data)).picture
    assert decoded.size == (97, 61)
    assert same(decoded.copy(), plain(encoded(kind)))


@pytest.mark.parametrize("flag", range(1, 9))
def test_turning_is_what_the_exif_standard_says(flag):
    """Against ImageOps.exif_transpose of Pillow, an independent table of Exif 3.0, tag 0x0112."""
    picture = drawn().copy()
    picture.getexif()[0x0112] = flag
    assert same(apply_orientation(drawn_like(picture), flag), ImageOps.exif_transpose(picture))


def drawn_like(picture):
    return Image.frombytes(picture.mode, picture.size, picture.tobytes())


@pytest.mark.parametrize("flag", [None, 0, 9, -1])
def test_unknown_flags_turn_nothing(flag):
    picture = drawn()
    assert apply_orientation(picture, flag) is picture


def test_metadata_does_not_reach_the_decoder():
    exif = Image.Exif()
    exif[0x010E] = "a secret"
    for kind in ("jpeg", "png", "tiff", "avif"):
        data = encoded(kind, exif=exif)
        assert b"a secret" in data
        picture = decode(data, read_header(data)).picture
        assert b"a secret" not in b"".join(v for v in picture.info.values() if isinstance(v, bytes))


def test_color_signs_of_a_jpeg_stay():
    """Without its Adobe segment a CMYK JPEG would come out inverted (T.872, 6.5.3)."""
    data = encoded("jpeg", drawn().convert("CMYK"))
    assert same(decode(data, read_header(data)).picture.copy(), plain(data))
    rgb = encoded("jpeg", keep_rgb=True)
    assert same(decode(rgb, read_header(rgb)).picture.copy(), plain(rgb))


def test_transparency_of_a_png_stays():
    picture = drawn().convert("P")
    data = encoded("png", picture, transparency=3)
    assert decode(data, read_header(data)).picture.info["transparency"] == 3


def test_the_first_picture_of_several():
    red, blue = (Image.new("RGB", (20, 20), color) for color in ("#ff0000", "#0000ff"))
    for kind in ("png", "webp-lossless", "gif", "tiff"):
        data = encoded(kind, red, save_all=True, append_images=[blue])
        picture = decode(data, read_header(data)).picture
        assert picture.convert("RGB").getpixel((5, 5)) == (255, 0, 0)


def test_too_many_pixels_are_not_decoded():
    data = encoded("png")
    header = read_header(data)
    assert decode(data, header, Limits(pixels=97 * 61)).problem is None
    problem = decode(data, header, Limits(pixels=97 * 61 - 1)).problem
    assert "97 x 61 px" in problem


@pytest.mark.parametrize("kind", KINDS)
def test_memory_decides_too(kind):
    header = read_header(encoded(kind))
    scans = header.jpeg["scans"] if header.jpeg else 1
    each = module.SCANS_BYTES_PER_PIXEL if scans > 1 else module.BYTES_PER_PIXEL[header.format]
    assert too_costly(header, 1000, Limits(decode_bytes=97 * 61 * each + 1000)) is None
    assert too_costly(header, 1000, Limits(decode_bytes=97 * 61 * each + 999)) is not None


@pytest.mark.parametrize(
    ("mode", "each"), [("RGB", 4), ("RGBA", 9), ("L", 4), ("LA", 12), ("I;16", 13), ("1", 4)]
)
def test_memory_is_that_of_the_copies_in_which_a_mode_is_measured(mode, each):
    """Rounded up from peaks of whole processes, all facets, at 64 megapixels: 7.8, 11.7, 10.7 bytes a pixel."""
    file = io.BytesIO()
    Image.new(mode, (97, 61)).save(file, "PNG")
    header = read_header(file.getvalue())
    assert too_costly(header, 1000, Limits(decode_bytes=97 * 61 * each + 1000)) is None
    assert too_costly(header, 1000, Limits(decode_bytes=97 * 61 * each + 999)) is not None


def test_scans_times_pixels_are_limited():
    header = read_header(encoded("jpeg-progressive"))
    scans = header.jpeg["scans"]
    assert scans > 1
    assert too_costly(header, 1000, Limits(jpeg_scan_pixels=scans * 97 * 61)) is None
    assert "passes" in too_costly(header, 1000, Limits(jpeg_scan_pixels=scans * 97 * 61 - 1))
    assert "passes" in too_costly(header, 1000, Limits(jpeg_scans=scans - 1))
    assert too_costly(read_header(encoded("jpeg")), 1000, Limits(jpeg_scans=0)) is None


def test_two_sizes_are_a_problem():
    data = encoded("webp")
    header = replace(read_header(data), width=96)
    assert decode(data, header).problem == "the file states two different sizes for its picture"


def test_another_format_than_the_header_says_is_not_decoded():
    data = encoded("gif")
    header = replace(read_header(data), format="webp")
    decoded = decode(data, header)
    assert decoded.picture is None
    assert decoded.detail == "the decoder does not recognize it"


@pytest.mark.parametrize(
    "error",
    [
        MemoryError(),
        RecursionError("x"),
        SyntaxError("x"),
        struct.error("x"),
        UserWarning("a\n::b"),
    ],
)
def test_whatever_is_raised_becomes_a_sentence(monkeypatch, error):
    def fail(*args, **kwargs):
        raise error

    monkeypatch.setattr(module.Image, "open", fail)
    data = encoded("png")
    decoded = decode(data, read_header(data))
    assert decoded.picture is None
    assert decoded.problem
    assert "\n" not in (decoded.detail or "")
    assert "::" not in (decoded.detail or "")


def test_threads_decode_side_by_side():
    files = [encoded(kind) for kind in KINDS] * 4
    headers = [read_header(data) for data in files]
    with ThreadPoolExecutor(4) as pool:
        for data, decoded in zip(files, pool.map(decode, files, headers), strict=True):
            assert same(decoded.picture.copy(), plain(data))


def test_pillow_is_not_imported_before_it_is_needed():
    code = (
        "import sys, pytest_webdeliverable.measure.door, pytest_webdeliverable.display;"
        "sys.exit('PIL' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def directory(data):
    (start,) = struct.unpack_from("<I", data, 4)
    (count,) = struct.unpack_from("<H", data, start)
    return start, count


def changed_field(tag, **changes):
    """A TIFF with one directory entry changed."""
    data = bytearray(encoded("tiff-lzw"))
    start, count = directory(data)
    for place in range(start + 2, start + 2 + 12 * count, 12):
        if struct.unpack_from("<H", data, place)[0] == tag:
            kind, number, value = struct.unpack_from("<HII", data, place + 2)
            new = {"kind": kind, "number": number, "value": value} | changes
            struct.pack_into("<HII", data, place + 2, *new.values())
    return bytes(data)


@pytest.mark.parametrize(
    "data",
    [
        changed_field(256, number=2),  # two widths
        changed_field(273, value=2**31),  # strips beyond the end
        changed_field(273, number=MOST_STRIPS + 1),
        changed_field(259, kind=99),
    ],
)
def test_a_damaged_directory_of_a_tiff_is_a_problem(data):
    header = read_header(encoded("tiff-lzw"))
    assert decode(data, header).problem


def test_too_many_fields_of_a_tiff_are_a_problem():
    data = bytearray(encoded("tiff-lzw"))
    header = read_header(bytes(data))
    struct.pack_into("<H", data, directory(data)[0], MOST_FIELDS + 1)
    assert decode(bytes(data), header).problem


def test_the_pruned_tiff_is_the_file_but_for_its_directory():
    data = encoded("tiff")
    file = for_decoding(data, read_header(data), DEFAULT_LIMITS)
    whole = file.read()
    assert len(whole) == len(data)
    start, _ = directory(data)
    assert whole[:start] == data[:start]
    for at, size in ((0, 4), (start - 3, 9), (len(data) - 2, 10), (len(data) + 5, 3), (7, 0)):
        assert file.seek(at) == at
        assert file.read(size) == whole[at : at + size]
    assert file.seek(-4, io.SEEK_END) == len(data) - 4
    buffer = bytearray(8)
    assert file.readinto(buffer) == 4
    assert buffer[:4] == whole[-4:]
    assert file.seek(-1, io.SEEK_CUR) == len(data) - 1


def segment(marker, content):
    return b"\xff" + bytes([marker]) + struct.pack(">H", len(content) + 2) + content


def test_segments_and_fill_of_a_jpeg_are_left_out():
    data = encoded("jpeg")
    more = b"\xff\xff" + segment(0xFE, b"comment")[1:] + segment(0xE1, b"app") + b"\xff"
    longer = data[:20] + more + data[20:]
    pruned = for_decoding(longer, read_header(longer), DEFAULT_LIMITS)
    assert b"comment" not in pruned.getvalue()
    assert b"app" not in pruned.getvalue()
    assert same(decode(longer, read_header(longer)).picture.copy(), plain(data))


def test_the_pruned_tiff_is_a_file():
    data = encoded("tiff")
    file = for_decoding(data, read_header(data), DEFAULT_LIMITS)
    assert file.readable()
    assert file.seekable()
    assert not file.writable()


def test_a_png_without_its_end_is_a_problem():
    data = encoded("png")
    header = read_header(data)
    assert decode(data[:-12], header).detail == "ValueError: the last chunk is missing"
    assert decode(data[:-20], header).detail == "ValueError: the last chunk is missing"


def test_a_lab_tiff_decodes_to_the_colors_it_stands_for():
    """Expected values: CIE 15 Lab to XYZ (D50), Bradford to D65, IEC 61966-2-1, by colour-science."""
    tifffile = pytest.importorskip("tifffile")
    colour = pytest.importorskip("colour")
    samples = [(50, 40, -30), (80, -20, 50), (20, 5, 5), (95, 0, 0)]
    pixels = [[lightness * 255 // 100, a % 256, b % 256] for lightness, a, b in samples]
    file = io.BytesIO()
    numpy = pytest.importorskip("numpy")
    tifffile.imwrite(file, numpy.array([pixels], numpy.uint8), photometric="cielab")
    decoded = decode(file.getvalue(), read_header(file.getvalue())).picture
    assert (decoded.mode, decoded.size) == ("RGB", (4, 1))
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]
    for place, (stored, lab) in enumerate(zip(pixels, samples, strict=True)):
        xyz = colour.Lab_to_XYZ([stored[0] / 2.55, *lab[1:]], white)
        expected = colour.XYZ_to_sRGB(xyz, white, chromatic_adaptation_transform="Bradford") * 255
        assert decoded.getpixel((place, 0)) == pytest.approx(tuple(expected), abs=2)
