"""GIF blocks written byte by byte and by Pillow, and read back."""

import struct

import pytest
from header_files import (
    GIF_CONTROL,
    GIF_FRAME,
    GIF_START,
    XMP_TRAILER,
    application,
    gif,
    saved,
    sub_blocks,
)
from PIL import Image

from pytest_webdeliverable.measure.headers import gif as reader
from pytest_webdeliverable.measure.headers.base import DamagedError

XMP = b"<x:xmpmeta xmlns:x='adobe:ns:meta/'>" + b" " * 300 + b"</x:xmpmeta>"
NETSCAPE = application(b"NETSCAPE2.0", b"\x03\x01\x00\x00\x00")


def test_a_single_frame():
    header = reader.read(gif(GIF_FRAME))
    assert (header.width, header.height, header.frames) == (4, 3, 1)
    assert (header.mode, header.bits, header.indexed, header.alpha) == ("rgb", 8, True, False)
    assert header.problems == ()


def test_frames_are_counted():
    assert reader.read(gif(NETSCAPE, *[GIF_FRAME] * 5)).frames == 5


def test_the_older_version():
    assert reader.read(gif(GIF_FRAME).replace(b"GIF89a", b"GIF87a")).frames == 1


def test_animation_as_pillow_writes_it():
    frames = [Image.new("RGB", (9, 7), color) for color in ("red", "lime", "blue")]
    header = reader.read(saved(frames[0], "GIF", save_all=True, append_images=frames[1:]))
    assert (header.width, header.height, header.frames, header.problems) == (9, 7, 3, ())


def test_transparency_is_that_of_the_first_frame():
    assert reader.read(gif(GIF_CONTROL, GIF_FRAME)).alpha
    assert not reader.read(gif(GIF_FRAME, GIF_CONTROL, GIF_FRAME)).alpha
    opaque = GIF_CONTROL.replace(b"\x04\x01", b"\x04\x00")
    assert not reader.read(gif(opaque, GIF_FRAME)).alpha


def test_transparency_as_pillow_writes_it():
    picture = Image.new("P", (4, 3))
    picture.putpalette([0, 0, 0, 255, 0, 0])
    assert reader.read(saved(picture, "GIF", transparency=0)).alpha
    assert not reader.read(saved(picture, "GIF")).alpha


@pytest.mark.parametrize(
    "stored", [XMP + XMP_TRAILER, sub_blocks(XMP)], ids=["plain", "in sub-blocks"]
)
def test_xmp(stored):
    header = reader.read(gif(application(b"XMP DataXMP", stored), GIF_FRAME))
    assert (header.xmp, header.frames, header.problems) == ((XMP,), 1, ())


def test_empty_xmp_is_none():
    assert reader.read(gif(application(b"XMP DataXMP", XMP_TRAILER), GIF_FRAME)).xmp == ()


def test_profile():
    profile = bytes(range(256)) * 3
    data = gif(application(b"ICCRGBG1012", sub_blocks(profile)), GIF_FRAME)
    assert reader.read(data).icc == profile


def test_a_first_frame_larger_than_the_screen_enlarges_it():
    wide = GIF_FRAME.replace(struct.pack("<HH", 4, 3), struct.pack("<HH", 10, 3), 1)
    header = reader.read(gif(wide))
    assert (header.width, header.height) == (10, 3)


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (gif(GIF_FRAME, end=b""), "the end mark of the file is missing"),
        (gif(GIF_FRAME)[:-3], "the file ends before the picture does"),
        (gif(GIF_FRAME, GIF_FRAME[:6], end=b""), "the file ends before the picture does"),
        (gif(GIF_FRAME, b"!\xfe\x20 cut", end=b""), "the file ends before the picture does"),
        (gif(GIF_FRAME) + b"PK\x03\x04", "4 bytes follow the end of the picture"),
        (gif(b"\0\0", GIF_FRAME), "there are stray bytes between the parts of the file"),
    ],
)
def test_problems(data, sentence):
    assert reader.read(data).problems == (sentence,)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (GIF_START[:9], "ends before"),
        (GIF_START[:15], "ends before"),
        (gif(), "holds no picture"),
        (gif(GIF_FRAME[:6], end=b""), "ends before"),
        (
            gif(GIF_FRAME.replace(b"\x04\0\x03\0", bytes(4))).replace(b"\x04\0\x03\0", bytes(4)),
            "0 x 0",
        ),
    ],
)
def test_files_without_a_picture(data, words):
    with pytest.raises(DamagedError, match=words):
        reader.read(data)
