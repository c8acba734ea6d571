"""AVIF boxes written byte by byte and by Pillow, and read back."""

import struct

import pytest
from header_files import AV1C, FTYP, avif, box, infe, ispe, saved
from PIL import Image

from pytest_webdeliverable.measure.headers import avif as reader
from pytest_webdeliverable.measure.headers.base import DamagedError

XMP = b"<x:xmpmeta xmlns:x='adobe:ns:meta/'/>"
ALPHA = b"urn:mpeg:mpegB:cicp:systems:auxiliary:alpha\0"


def problems(data):
    return reader.read(data).problems


@pytest.mark.parametrize(
    ("mode", "gray", "alpha"),
    [("L", True, False), ("RGB", False, False), ("RGBA", False, True)],
)
@pytest.mark.parametrize("quality", [20, 100])
def test_as_pillow_writes_it(mode, gray, alpha, quality):
    header = reader.read(saved(Image.new(mode, (17, 5)), "AVIF", quality=quality))
    assert (header.width, header.height, header.frames) == (17, 5, 1)
    assert (header.mode, header.bits, header.alpha) == ("gray" if gray else "rgb", 8, alpha)
    assert (header.orientation, header.problems) == (1, ())


def test_metadata_as_pillow_writes_it():
    exif = Image.Exif()
    exif[0x010E] = "drawn"
    data = saved(Image.new("RGB", (4, 3)), "AVIF", exif=exif, xmp=XMP, icc_profile=b"profile")
    header = reader.read(data)
    assert header.exif is not None
    assert header.exif.startswith((b"II*\0", b"MM\0*"))
    assert (header.xmp, header.icc, header.problems) == ((XMP,), b"profile", ())


def test_animation_as_pillow_writes_it():
    frames = [Image.new("RGBA", (9, 7), color) for color in ("red", "lime", "blue", "#0003")]
    data = saved(frames[0], "AVIF", save_all=True, append_images=frames[1:], xmp=XMP)
    header = reader.read(data)
    assert (header.width, header.height, header.frames) == (9, 7, 4)
    assert (header.alpha, header.xmp, header.problems) == (True, (XMP,), ())


@pytest.mark.parametrize("orientation", range(1, 9))
def test_turns_and_mirrors_as_pillow_writes_them(orientation):
    """Pillow stores an Exif orientation as irot and imir, and reads it back from there."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    header = reader.read(saved(Image.new("RGB", (17, 5)), "AVIF", exif=exif))
    assert (header.orientation, header.width, header.height) == (orientation, 17, 5)


def test_an_intact_file():
    header = reader.read(avif())
    assert (header.width, header.height, header.bits, header.mode) == (4, 3, 8, "rgb")
    assert (header.alpha, header.orientation, header.problems) == (False, 1, ())


# AV1 Codec ISO Media File Format Binding, 2.3.3: high_bitdepth, twelve_bit, monochrome.
@pytest.mark.parametrize(
    ("flags", "bits", "mode"),
    [(0x0C, 8, "rgb"), (0x40, 10, "rgb"), (0x60, 12, "rgb"), (0x1C, 8, "gray"), (0x70, 12, "gray")],
)
def test_depth_and_monochrome(flags, bits, mode):
    config = box(b"av1C", bytes([0x81, 0, flags, 0]))
    header = reader.read(avif(properties=(ispe(4, 3), config)))
    assert (header.bits, header.mode) == (bits, mode)


def test_depth_without_a_configuration():
    pixi = box(b"pixi", b"\x03\x0a\x0a\x0a", full=0)
    header = reader.read(avif(properties=(ispe(4, 3), pixi)))
    assert (header.bits, header.mode) == (10, "rgb")


def test_color_statements():
    # BT.709 primaries 1, sRGB transfer 13, matrix 6, full range: ITU-T H.273.
    nclx = box(b"colr", b"nclx", struct.pack(">HHHB", 1, 13, 6, 0x80))
    profile = box(b"colr", b"prof", b"profile")
    header = reader.read(avif(properties=(ispe(4, 3), AV1C, nclx, profile)))
    assert (header.signals.cicp, header.icc) == ((1, 13, 6, 1), b"profile")


def test_tiles_of_a_grid():
    """A grid takes depth from its first tile, and alpha from planes that belong to its tiles."""
    properties = (ispe(4, 3), box(b"av1C", b"\x81\0\x40\0"), box(b"auxC", ALPHA, full=0))

    def entry(item, *indices):
        return struct.pack(">HB", item, len(indices)) + bytes(indices)

    table = struct.pack(">I", 3) + entry(1, 1) + entry(2, 2) + entry(3, 3)
    places = b"".join(struct.pack(">HHHII", item, 0, 1, 8, 4) for item in (1, 2, 3))
    references = [
        box(b"dimg", struct.pack(">HHH", 1, 1, 2)),
        box(b"auxl", struct.pack(">HHH", 3, 1, 2)),
    ]
    meta = box(
        b"meta",
        box(b"pitm", b"\0\1", full=0),
        box(b"iinf", b"\0\3", infe(1, b"grid"), infe(2, b"av01"), infe(3, b"av01"), full=0),
        box(b"iloc", b"\x44\x00\0\3", places, full=0),
        box(b"iref", *references, full=0),
        box(b"iprp", box(b"ipco", *properties), box(b"ipma", table, full=0)),
        full=0,
    )
    header = reader.read(FTYP + meta)
    assert (header.bits, header.alpha, header.problems) == (10, True, ())


def test_items_in_the_idat_box():
    """Item locations version 1 with construction method 1: ISO/IEC 14496-12, 8.11.3."""
    exif = b"\0\0\0\6Exif\0\0II*\0\x08\0\0\0\0\0"
    places = [(1, 0, 6), (2, 6, len(exif)), (3, 6 + len(exif), len(XMP))]
    rows = b"".join(struct.pack(">HHHHII", item, 1, 0, 1, at, size) for item, at, size in places)
    infos = infe(2, b"Exif"), infe(3, b"mime", b"XMP\0application/rdf+xml\0")
    data = avif(
        box(b"iinf", b"\0\2", *infos, full=0),
        box(b"idat", b"pixels", exif, XMP),
        locations=box(b"iloc", b"\x44\x00\0\3", rows, full=1 << 24),
    )
    header = reader.read(data)
    assert (header.exif, header.xmp, header.problems) == (exif[10:], (XMP,), ())


def test_a_size_in_64_bits_and_a_last_box_without_one():
    data = avif()
    body = data[data.index(b"mdat") + 4 :]
    start = data[: data.index(b"mdat") - 4]
    assert problems(start + b"\0\0\0\0mdat" + body) == ()
    # Eight bytes more before the pixels: their place in the tables is then the size field.
    assert problems(start + b"\0\0\0\1mdat" + struct.pack(">Q", 16 + len(body)) + body) == ()


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (avif()[:-2], "the file ends before the picture does"),
        (avif() + b"PK\x03\x04\x14\0\0\0\x08\0", "10 bytes follow the end of the picture"),
        (avif().replace(b"iloc", b"free"), "the file ends before the picture does"),
        (avif(box(b"zero")[:4] + b"cut"), "the file ends before the picture does"),
    ],
)
def test_problems(data, sentence):
    assert problems(data) == (sentence,)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (box(b"ftyp", b"heic\0\0\0\0heic"), "a HEIC picture"),
        (FTYP, "holds no picture"),
        (FTYP + b"\0\0\x0f\xffmeta\0\0\0\0", "does not tell which"),
        (avif(properties=(ispe(0, 3), AV1C)), "0 x 3"),
        (avif(properties=(AV1C,)), "holds no picture"),
        (avif().replace(b"av01", b"hvc1"), "not stored as AVIF"),
        (avif().replace(b"pitm", b"free"), "does not tell which"),
        (avif(box(b"iref", box(b"auxl", b"\0"), full=0)), "one of its tables is incomplete"),
        (avif(b"\0\0\0\x04bits"), "a part is too small"),
    ],
)
def test_files_that_do_not_tell_their_size(data, words):
    with pytest.raises(DamagedError, match=words):
        reader.read(data)


WHOLE = (4, 1, 3, 1, 0, 1, 0, 1)
"""Width, height and the two offsets of its middle, as fractions: ISO/IEC 14496-12, 12.1.4."""


@pytest.mark.parametrize(
    ("aperture", "whole"),
    [
        (WHOLE, True),
        ((8, 2, 9, 3, 0, 7, 0, 7), True),
        ((3, 1, 3, 1, 0, 1, 0, 1), False),  # half a pixel off on each side
        ((4, 1, 2, 1, 0, 1, -1 % 2**32, 2), False),  # the upper two rows
        ((4, 1, 3, 1, 1, 1, 0, 1), False),
        ((5, 1, 3, 1, 0, 1, 0, 1), False),
        ((4, 0, 3, 1, 0, 1, 0, 1), False),
        ((0,) * 8, False),
    ],
)
def test_what_is_cut_off_in_viewing_is_told(aperture, whole):
    """Some browsers show the aperture only, some decoders the whole, which is in the file anyway."""
    clap = box(b"clap", struct.pack(">8I", *aperture))
    found = problems(avif(properties=(clap, ispe(4, 3), AV1C)))
    assert found == (() if whole else (reader._CUT,))
    assert problems(avif(properties=(ispe(4, 3), AV1C, clap))) == found
