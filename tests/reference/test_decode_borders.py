"""What may be decoded, at each limit and one beyond; what is told of the decoded picture."""

from __future__ import annotations

import io
import zlib
from dataclasses import replace

import numpy as np
import pytest
from header_files import png
from jpegs import saved
from PIL import Image, ImageOps

from pytest_webdeliverable.measure import content
from pytest_webdeliverable.measure import rows as rows_module
from pytest_webdeliverable.measure.content import content_facts
from pytest_webdeliverable.measure.decode import apply_orientation, is_heavy, too_costly
from pytest_webdeliverable.measure.headers import read_header
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits

OPEN = {"pixels": 10**15, "side": 10**9, "decode_bytes": 10**15, "jpeg_scans": 10**9, "jpeg_scan_pixels": 10**15}  # fmt: skip
PNG, JPEG = read_header(png()), read_header(saved(progressive=True))


def sized(width, height, form="png", scans=None):
    header = replace(PNG, width=width, height=height, format=form)
    return replace(header, jpeg={**JPEG.jpeg, "scans": scans}) if scans else header


def costly(header, size=0, **limits):
    return too_costly(header, size, Limits(**OPEN | limits))


def heavy(header, size, **limits):
    return is_heavy(header, size, Limits(**OPEN | limits))


MIB = 1024 * 1024


@pytest.mark.parametrize(
    ("form", "scans", "each"),
    [("jpeg", 1, 4), ("jpeg", 2, 12), ("png", None, 4), ("webp", None, 16), ("avif", None, 10),
     ("gif", None, 5), ("tiff", None, 4)],
)  # fmt: skip
def test_heavy_by_memory(form, scans, each):
    """128 MiB for file and decoding together, by the bytes a pixel of the module's table."""
    header = sized(1000, 1000, form, scans)
    assert heavy(header, 128 * MIB - each * 1_000_000)
    assert not heavy(header, 128 * MIB - each * 1_000_000 - 1)


def test_heavy_by_a_limit_of_ones_own():
    """With 1 byte every picture is, whatever its size; what is refused is not sent anywhere."""
    tiny = sized(1, 1)
    assert heavy(tiny, 0, aside_bytes=4)
    assert not heavy(tiny, 0, aside_bytes=5)
    assert not heavy(sized(11, 10), 0, aside_bytes=1, pixels=100)
    assert Limits(aside_bytes=1).all_aside
    assert not Limits(aside_bytes=2).all_aside
    assert not DEFAULT_LIMITS.all_aside


@pytest.mark.parametrize(("alpha", "each"), [(False, 13), (True, 15)])
def test_heavy_by_depth(alpha, each):
    """Gray of 16 bits, by the same table; with a see-through level it is held in 8 bits as well."""
    header = replace(sized(1000, 1000), mode="gray", bits=16, alpha=alpha)
    assert heavy(header, 128 * MIB - each * 1_000_000)
    assert not heavy(header, 128 * MIB - each * 1_000_000 - 1)


def test_heavy_by_passes():
    """Honest files were seen to have 15 passes at most."""
    assert not heavy(sized(10, 10, "jpeg", 15), 0)
    assert heavy(sized(10, 10, "jpeg", 16), 0)


def test_heavy_by_frames():
    """100 million pixels in all frames together; one frame is no animation."""
    moving = replace(sized(1000, 1000, "gif"), frames=100)
    assert heavy(moving, 0)
    assert not heavy(replace(moving, frames=99), 0)
    assert not heavy(replace(sized(25_000, 1000, "gif"), frames=None), 0)
    assert heavy(replace(sized(10_000, 1000, "gif"), frames=10), 0)


def test_web_copies_are_not_heavy():
    """The boxes of the built-in specs, the larger one at 3200 x 2400, in any format."""
    for form in ("jpeg", "png", "webp", "avif", "gif", "tiff"):
        assert not heavy(sized(3200, 2400, form), 10 * MIB)
    assert not heavy(sized(3200, 2400, "jpeg", 15), 10 * MIB)


def test_what_is_heavy_is_left_to_another_only_where_it_may_be_decoded():
    """What the limits refuse has its sentence at once; what is light is measured."""
    from pytest_webdeliverable.measure.limits import HeavyError

    file = io.BytesIO()
    Image.new("1", (8000, 5000)).save(file, "PNG")
    data = file.getvalue()
    with pytest.raises(HeavyError):
        content_facts(data, ("pixels",), light_only=True)
    refused = content_facts(data, ("pixels",), Limits(pixels=1000), light_only=True)
    assert "are decoded" in refused["problem"]["text"]
    assert "header" in content_facts(data, (), light_only=True)
    assert "pixels" in content_facts(png(), ("pixels",), light_only=True)


@pytest.mark.parametrize(("width", "height"), [(65_536, 1), (1, 65_536)])
def test_the_longest_side(width, height):
    """JPEG holds sides in 16 bits: 65,535 at most (ITU-T T.81, B.2.2)."""
    assert "a side of at most 65,535 is decoded" in too_costly(
        sized(width, height), 0, DEFAULT_LIMITS
    )
    assert too_costly(sized(min(width, 65_535), min(height, 65_535)), 0, DEFAULT_LIMITS) is None


def test_the_most_pixels():
    assert costly(sized(100, 100), pixels=10_000) is None
    said = costly(sized(3000, 1000), pixels=2_999_999)
    assert said == "the picture has 3000 x 1000 px, 3 megapixels; at most 3 are decoded"


def test_a_file_too_large_for_its_picture_to_be_decoded_beside_it():
    """4 bytes a pixel of the picture, the file, and what both may take together."""
    assert costly(sized(50, 20), 1_000_000, decode_bytes=1_004_000) is None
    assert costly(sized(50, 20), 1_000_001, decode_bytes=1_004_000) == (
        "the file has 1,000,001 bytes: too many to decode a picture of 50 x 20 px beside them"
    )
    assert "megapixels" in costly(sized(50, 20), 1_000_001, decode_bytes=3999)


@pytest.mark.parametrize(
    ("form", "scans", "each"),
    [("jpeg", 1, 4), ("jpeg", 2, 12), ("png", None, 4), ("webp", None, 16), ("avif", None, 10),
     ("gif", None, 5), ("tiff", None, 4)],
)  # fmt: skip
def test_memory_that_a_picture_takes(form, scans, each):
    """Bytes a pixel as the table of the module has them, measured there; the file comes on top."""
    header = sized(100, 100, form, scans)
    assert costly(header, 500, decode_bytes=500 + 10_000 * each) is None
    assert costly(header, 500, decode_bytes=499 + 10_000 * each)
    assert costly(header, 501, decode_bytes=500 + 10_000 * each)
    lab = replace(header, mode="lab")
    assert costly(lab, 0, decode_bytes=10_000 * (each + 4)) is None
    assert costly(lab, 0, decode_bytes=10_000 * (each + 4) - 1)
    assert costly(header, 10**9, decode_bytes=5)


def test_the_most_scans():
    assert costly(sized(100, 100, "jpeg", 9), jpeg_scans=9) is None
    assert "comes in 9 passes of 0.0 megapixels" in costly(sized(100, 100, "jpeg", 9), jpeg_scans=8)
    assert costly(sized(100, 100, "jpeg", 9), jpeg_scan_pixels=90_000) is None
    assert costly(sized(100, 100, "jpeg", 9), jpeg_scan_pixels=89_999)
    # one scan is no second pass, whatever the limit
    assert costly(sized(100, 100, "jpeg", 1), jpeg_scans=1, jpeg_scan_pixels=1) is None


@pytest.mark.parametrize("flag", [None, 0, *range(1, 10)])
def test_turns_are_pillows(flag):
    """Exif 3.0, tag 0x0112, as Pillow's exif_transpose applies it."""
    picture = Image.frombytes("L", (3, 2), bytes(range(6)))
    copy = picture.copy()
    if flag:
        copy.getexif()[0x0112] = flag
    expected = ImageOps.exif_transpose(copy)
    found = apply_orientation(picture, flag)
    assert (found.size, found.tobytes()) == (expected.size, expected.tobytes())


# Facts of the pixels


@pytest.mark.parametrize(
    ("mode", "width", "height"),
    [("RGB", 40, 30), ("L", 1000, 350), ("RGBA", 33, 1), ("L", 200_000, 2), ("L", 7, 50_000)],
)
def test_the_digest_is_the_checksum_of_all_samples(mode, width, height):
    """CRC-32 of zlib over the whole, however it is cut into strips; gray is three times the same."""
    bands = len(mode)
    pixels = np.random.default_rng(width).integers(0, 256, (height, width, bands)).astype(np.uint8)
    picture = Image.frombytes(mode, (width, height), pixels.tobytes())
    facts = content._pixel_facts(picture)
    shown, said = (pixels.repeat(3, axis=2), "RGB") if bands == 1 else (pixels, mode)
    assert facts["digest"] == f"{width}x{height}-{said}-{zlib.crc32(shown.tobytes()):08x}"


def palette_picture(colors, places):
    """A color table may name its colors in any order (PNG Third Edition, 11.2.2; GIF89a, 19)."""
    picture = Image.frombytes("P", (len(places), 1), bytes(places))
    picture.putpalette([part for color in colors for part in color])
    return picture


def test_a_digest_is_of_colors_and_not_of_their_places_in_a_table():
    """Worked by hand: the same places in another table are other colors, and the other way round."""
    red, blue = (200, 0, 0), (0, 0, 200)
    one = content._pixel_facts(palette_picture([red, blue], [0, 1, 1]))["digest"]
    recolored = content._pixel_facts(palette_picture([blue, red], [0, 1, 1]))["digest"]
    reordered = content._pixel_facts(palette_picture([blue, red], [1, 0, 0]))["digest"]
    plain = Image.frombytes("RGB", (3, 1), bytes((*red, *blue, *blue)))
    assert one != recolored
    assert one == reordered == content._pixel_facts(plain)["digest"]
    assert one == content._pixel_facts(plain.convert("RGBA"))["digest"]
    plain.info["transparency"] = red
    assert one != content._pixel_facts(plain)["digest"]


@pytest.mark.parametrize("rows", [1, 2, 3])
def test_strips_are_as_high_as_their_pixels_allow(monkeypatch, rows):
    seen = []
    crop = Image.Image.crop
    monkeypatch.setattr(rows_module, "STRIP_PIXELS", 40 * rows)
    monkeypatch.setattr(Image.Image, "crop", lambda one, box: seen.append(box) or crop(one, box))
    content._checksum(Image.new("L", (40, 5)), "L")
    assert seen == [(0, top, 40, min(5, top + rows)) for top in range(0, 5, rows)]


@pytest.mark.parametrize(("mode", "opaque"), [("RGBA", 255), ("LA", 255), ("PA", 255)])
def test_the_share_that_is_see_through(mode, opaque):
    """One of eight pixels not fully opaque: an eighth."""
    picture = Image.new("RGBA", (4, 2), (9, 9, 9, opaque))
    picture.putpixel((1, 1), (9, 9, 9, opaque - 1))
    assert content._pixel_facts(picture.convert(mode))["see_through"] == pytest.approx(1 / 8)
    assert content._pixel_facts(Image.new("RGB", (4, 2)))["see_through"] == 0


def test_a_color_that_is_see_through():
    picture = Image.new("L", (4, 2))
    picture.putpixel((0, 0), 77)
    picture.info["transparency"] = 77
    assert content._pixel_facts(picture)["see_through"] == pytest.approx(1 / 8)


@pytest.mark.parametrize("flag", range(1, 9))
def test_sizes_are_those_of_the_upright_picture(flag):
    """5 to 8 swap the axes (CIPA DC-008, tag 0x0112)."""
    exif = Image.Exif()
    exif[0x0112] = flag
    buffer = io.BytesIO()
    Image.new("RGB", (40, 30)).save(buffer, "JPEG", exif=exif)
    facts = content_facts(buffer.getvalue())["header"]
    assert [facts["width"], facts["height"]] == ([30, 40] if flag >= 5 else [40, 30])
    assert facts["stored"] == [40, 30]
    assert facts["orientation"] == flag


@pytest.mark.parametrize(("space", "srgb"), [(1, True), (0xFFFF, False), (2, False)])
def test_the_color_space_of_exif_reaches_the_color_facts(space, srgb):
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA001] = space
    buffer = io.BytesIO()
    Image.new("RGB", (8, 8)).save(buffer, "JPEG", exif=exif)
    color = content_facts(buffer.getvalue())["color"]
    assert ("says sRGB" in color["reason"]) == srgb
    assert (color["source"] == "Exif") == (space != 2)


@pytest.mark.parametrize(("kind", "quality"), [("JPEG", 70), ("PNG", None)])
def test_the_quality_of_a_jpeg_reaches_the_look_at_its_past(monkeypatch, kind, quality):
    seen = []
    monkeypatch.setattr(
        "pytest_webdeliverable.measure.history.history_facts",
        lambda _, **asked: seen.append(asked) or {},
    )
    buffer = io.BytesIO()
    Image.linear_gradient("L").save(buffer, kind, **({"quality": quality} if quality else {}))
    content_facts(buffer.getvalue(), ["history"])
    assert seen == [{"format": kind.lower(), "quality": quality}]
