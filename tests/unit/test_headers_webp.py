"""WebP chunks written byte by byte and by Pillow, and read back."""

import struct

import pytest
from header_files import anmf, riff_chunk, saved, vp8l, vp8x, webp
from PIL import Image

from pytest_webdeliverable.measure.headers import webp as reader
from pytest_webdeliverable.measure.headers.base import DamagedError

PROFILE, ALPHA, EXIF, XMP, ANIMATION = 0x20, 0x10, 0x08, 0x04, 0x02
"""Flags of VP8X: RFC 9649, section 2.7."""
PACKET = b"<x:xmpmeta xmlns:x='adobe:ns:meta/'/>"
TIFF = b"II*\0\x08\0\0\0\0\0\0\0\0\0"


def vp8(width=4, height=3, partition=1):
    """Heading of a lossy key frame: RFC 6386, section 9.1."""
    tag = (partition << 5 | 0b1_000_0).to_bytes(3, "little")
    return riff_chunk(b"VP8 ", tag + b"\x9d\x01\x2a" + struct.pack("<HH", width, height) + b"\0")


@pytest.mark.parametrize("lossless", [True, False])
@pytest.mark.parametrize("mode", ["RGB", "RGBA"])
def test_as_pillow_writes_it(lossless, mode):
    picture = Image.new(mode, (17, 5))
    header = reader.read(saved(picture, "WEBP", lossless=lossless))
    assert (header.width, header.height, header.frames) == (17, 5, 1)
    assert (header.mode, header.bits, header.alpha) == ("rgb", 8, mode == "RGBA")
    assert header.problems == ()


def test_metadata_as_pillow_writes_it():
    exif = Image.Exif()
    exif[0x010E] = "drawn"
    data = saved(Image.new("RGB", (4, 3)), "WEBP", exif=exif, xmp=PACKET, icc_profile=b"profile")
    header = reader.read(data)
    assert header.exif is not None
    assert header.exif.startswith((b"II*\0", b"MM\0*"))
    assert (header.xmp, header.icc, header.problems) == ((PACKET,), b"profile", ())


def test_animation_as_pillow_writes_it():
    frames = [Image.new("RGB", (9, 7), color) for color in ("red", "lime", "blue")]
    header = reader.read(saved(frames[0], "WEBP", save_all=True, append_images=frames[1:]))
    assert (header.width, header.height, header.frames, header.problems) == (9, 7, 3, ())


def test_sizes_of_bare_pictures():
    assert reader.read(webp(vp8(300, 16383))).height == 16383
    # The two upper bits are a hint for scaling.
    assert reader.read(webp(vp8(300 | 0x4000, 20))).width == 300
    header = reader.read(webp(vp8l(16384, 1, alpha=True)))
    assert (header.width, header.height, header.alpha) == (16384, 1, True)


def test_frames_are_those_that_are_there():
    header = reader.read(webp(vp8x(ANIMATION), riff_chunk(b"ANIM", bytes(6)), *[anmf()] * 4))
    assert (header.frames, header.problems) == (4, ())


def test_alpha_by_flag_or_by_chunk():
    assert reader.read(webp(vp8x(ALPHA), vp8())).alpha
    assert reader.read(webp(vp8x(0), riff_chunk(b"ALPH", b"\0"), vp8())).alpha
    assert not reader.read(webp(vp8x(0), vp8())).alpha


@pytest.mark.parametrize("prefix", [b"", b"Exif\0\0"])
def test_metadata_counts_even_where_it_is_not_announced(prefix):
    data = webp(vp8x(0), vp8(), riff_chunk(b"EXIF", prefix + TIFF), riff_chunk(b"XMP ", PACKET))
    header = reader.read(data)
    assert (header.exif, header.xmp, header.problems) == (TIFF, (PACKET,), ())


@pytest.mark.parametrize("picture", [vp8(), vp8l(4, 3), anmf()], ids=["VP8", "VP8L", "ANMF"])
def test_a_profile_behind_the_picture_is_none(picture):
    """It MUST appear before the image data; RFC 9649, 2.7.1.4, and 2.7: readers SHOULD fail."""
    profile = riff_chunk(b"ICCP", b"profile")
    flags = PROFILE | (ANIMATION if picture.startswith(b"ANMF") else 0)
    late = reader.read(webp(vp8x(flags), picture, profile))
    assert (late.icc, late.icc_problem, late.problems) == (
        None,
        "the color profile stands too late in the file to be used",
        (),
    )
    assert reader.read(webp(vp8x(flags), profile, picture, profile)).icc == b"profile"


def test_profiles_and_their_announcement():
    profile = riff_chunk(b"ICCP", b"profile")
    assert reader.read(webp(vp8x(PROFILE), profile, vp8())).icc == b"profile"
    silent = reader.read(webp(vp8x(0), profile, vp8()))
    assert (silent.icc, silent.icc_problem) == (
        None,
        "the color profile is not announced, so that readers ignore it",
    )
    missing = reader.read(webp(vp8x(PROFILE), vp8()))
    assert missing.icc_problem == "a color profile is announced, but missing"
    empty = reader.read(webp(vp8x(PROFILE), riff_chunk(b"ICCP", b""), vp8()))
    assert empty.icc_problem == "the color profile is empty"


def resized(data, by):
    return data[:4] + struct.pack("<I", len(data) - 8 + by) + data[8:]


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (resized(webp(vp8()), 10), "the file ends before the picture does"),
        (webp(vp8(), vp8x(0)), "the parts of the file are out of order"),
        (webp(vp8()) + b"PK", "2 bytes follow the end of the picture"),
        (webp(vp8(partition=999)), "the file ends before the picture does"),
        (webp(vp8x(0, 5, 5), vp8()), "the picture is not as large as the file says"),
        (webp(vp8x(0)), "the file holds no picture data"),
        (webp(vp8x(ANIMATION), vp8()), "the file holds no picture data"),
        (
            webp(vp8x(ANIMATION), anmf(left=2)),
            "a frame of the animation reaches outside the picture",
        ),
    ],
)
def test_problems(data, sentence):
    assert reader.read(data).problems == (sentence,)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"RIFF\x04\0\0\0WAVE", "a sound file"),
        (webp(), "holds no picture"),
        (webp(riff_chunk(b"VP8 ", bytes(12))), "the picture data is damaged"),
        (webp(riff_chunk(b"VP8L", bytes(12))), "the picture data is damaged"),
        (webp(riff_chunk(b"VP8L", b"\x2f")), "ends before"),
        (webp(vp8(0, 5)), "0 x 5"),
        (webp(riff_chunk(b"VP8X", b"")), "ends before"),
    ],
)
def test_files_that_do_not_tell_their_size(data, words):
    with pytest.raises(DamagedError, match=words):
        reader.read(data)
