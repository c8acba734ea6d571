"""PNG chunks written byte by byte and by Pillow, and read back."""

import struct
import zlib

import pytest
from header_files import animated_png, chunk, fctl, fdat, ihdr, pixels, png, saved
from PIL import Image

from pytest_webdeliverable.measure.headers import png as reader
from pytest_webdeliverable.measure.headers.base import DamagedError

PROFILE = b"not read here, only handed on"
ICCP = b"a name\0\0" + zlib.compress(PROFILE)
XMP = b"<x:xmpmeta xmlns:x='adobe:ns:meta/'/>"
EXIF = b"II*\0\x08\0\0\0\0\0\0\0\0\0"


def problems(data):
    return reader.read(data).problems


def test_an_intact_file():
    header = reader.read(png())
    assert (header.width, header.height, header.frames) == (4, 3, 1)
    assert (header.mode, header.bits, header.alpha, header.indexed) == ("rgb", 8, False, False)
    assert header.problems == ()
    assert header.densities == ()


# W3C PNG Third Edition, table 8: color types and their bit depths.
@pytest.mark.parametrize(
    ("kind", "depth", "mode", "bits", "alpha", "indexed"),
    [
        (0, 1, "gray", 1, False, False),
        (0, 16, "gray", 16, False, False),
        (2, 8, "rgb", 8, False, False),
        (2, 16, "rgb", 16, False, False),
        (3, 2, "rgb", 8, False, True),
        (4, 8, "gray", 8, True, False),
        (6, 16, "rgb", 16, True, False),
    ],
)
def test_color_types(kind, depth, mode, bits, alpha, indexed):
    header = reader.read(png(chunk(b"PLTE", bytes(6)), head=ihdr(kind=kind, depth=depth)))
    assert (header.mode, header.bits, header.alpha, header.indexed) == (mode, bits, alpha, indexed)


@pytest.mark.parametrize(
    ("mode", "expected"),
    [
        ("1", ("gray", 1, False, False)),
        ("L", ("gray", 8, False, False)),
        ("LA", ("gray", 8, True, False)),
        ("P", ("rgb", 8, False, True)),
        ("RGB", ("rgb", 8, False, False)),
        ("RGBA", ("rgb", 8, True, False)),
        ("I;16", ("gray", 16, False, False)),
    ],
)
def test_modes_as_pillow_writes_them(mode, expected):
    header = reader.read(saved(Image.new(mode, (7, 5)), "PNG"))
    assert (header.mode, header.bits, header.alpha, header.indexed) == expected
    assert (header.width, header.height, header.problems) == (7, 5, ())


def test_transparency_of_a_color_table_that_is_opaque_is_none():
    table = chunk(b"PLTE", bytes(6))
    head = ihdr(kind=3)
    assert not reader.read(png(table, chunk(b"tRNS", b"\xff\xff"), head=head)).alpha
    assert reader.read(png(table, chunk(b"tRNS", b"\xff\xfe"), head=head)).alpha
    assert reader.read(png(chunk(b"tRNS", bytes(6)))).alpha


def test_profile_exif_and_xmp_as_pillow_writes_them():
    exif = Image.Exif()
    exif[0x010E] = "drawn"
    data = saved(Image.new("RGB", (4, 3)), "PNG", icc_profile=PROFILE, exif=exif)
    header = reader.read(data)
    assert header.icc == PROFILE
    assert header.exif is not None
    assert header.exif.startswith(b"MM\0*")


@pytest.mark.parametrize("after", [False, True])
def test_exif_may_stand_anywhere(after):
    part = chunk(b"eXIf", EXIF)
    assert reader.read(png(after=(part,)) if after else png(part)).exif == EXIF


@pytest.mark.parametrize(
    "part",
    [
        chunk(b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0" + XMP),
        chunk(b"iTXt", b"XML:com.adobe.xmp\0\1\0en\0x\0" + zlib.compress(XMP)),
        chunk(
            b"zTXt",
            b"Raw profile type xmp\0\0" + zlib.compress(b"\nxmp\n 37\n" + XMP.hex().encode()),
        ),
    ],
    ids=["plain", "packed", "hexadecimal"],
)
def test_xmp_plain_packed_and_hexadecimal(part):
    assert reader.read(png(after=(part,))).xmp == (XMP,)


@pytest.mark.parametrize("prefix", [b"", b"Exif\0\0"])
def test_older_ways_to_store_exif(prefix):
    digits = b"\nexif\n      20\n" + (prefix + EXIF).hex().encode() + b"\n"
    assert reader.read(png(chunk(b"tEXt", b"Raw profile type exif\0" + digits))).exif == EXIF
    assert reader.read(png(chunk(b"tEXt", b"exif\0" + prefix + EXIF))).exif == EXIF


@pytest.mark.parametrize(
    ("block", "exif", "xmp"),
    [
        (b"Exif\0\0" + EXIF, EXIF, ()),
        (b"http://ns.adobe.com/xap/1.0/\0" + XMP, None, (XMP,)),
        (b"", None, ()),
    ],
)
def test_a_jpeg_segment_in_hexadecimal(block, exif, xmp):
    text = b"Raw profile type APP1\0\ngeneric profile\n 9\n" + block.hex().encode()
    header = reader.read(png(chunk(b"tEXt", text)))
    assert (header.exif, header.xmp) == (exif, xmp)


def test_packed_metadata_that_is_damaged():
    text = b"Raw profile type exif\0\0" + zlib.compress(bytes(99))[:-6]
    assert problems(png(chunk(b"zTXt", text))) == ("the metadata in the zTXt chunk is incomplete",)


def test_iptc_in_hexadecimal_image_resources():
    iim = b"\x1c\x02\x50\x00\x02me"
    block = b"8BIM\x04\x04\0\0" + struct.pack(">I", len(iim)) + iim + b"\0"
    text = (
        b"Raw profile type iptc\0\niptc\n "
        + str(len(block)).encode()
        + b"\n"
        + block.hex().encode()
    )
    assert reader.read(png(chunk(b"tEXt", text))).iptc == iim


def test_other_text_is_left_alone():
    header = reader.read(png(chunk(b"tEXt", b"Title\0A poster"), chunk(b"zTXt", b"bad")))
    assert (header.xmp, header.exif, header.problems) == ((), None, ())


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (b"name\0\0not a zlib stream", "cannot be unpacked"),
        (ICCP[:-6], "incomplete"),
        (b"no zero byte " * 9, "no readable heading"),
        (b"name\0\1" + ICCP[8:], "no readable heading"),
    ],
)
def test_a_profile_that_cannot_be_read(part, words):
    header = reader.read(png(chunk(b"iCCP", part)))
    assert header.icc is None
    assert words in (header.icc_problem or "")


def test_a_profile_behind_the_pixels_is_not_used():
    header = reader.read(png(after=(chunk(b"iCCP", ICCP),)))
    assert header.icc is None
    assert header.icc_problem == "the color profile stands too late in the file to be used"


def test_color_chunks():
    # The values that PNG Third Edition, 11.3.2.5, gives beside an sRGB chunk.
    corners = 31270, 32900, 64000, 33000, 30000, 60000, 15000, 6000
    signals = reader.read(
        png(
            chunk(b"sRGB", b"\1"),
            chunk(b"gAMA", struct.pack(">I", 45455)),
            chunk(b"cHRM", struct.pack(">8I", *corners)),
        )
    ).signals
    assert signals.srgb_intent == 1
    assert signals.gamma == 0.45455
    assert signals.chromaticities == (0.3127, 0.329, 0.64, 0.33, 0.3, 0.6, 0.15, 0.06)
    # Display P3: primaries 12, transfer 13, matrix 0, full range (ITU-T H.273, from memory).
    assert reader.read(png(chunk(b"cICP", bytes([12, 13, 0, 1])))).signals.cicp == (12, 13, 0, 1)


def test_color_chunks_behind_the_color_table_are_not_used():
    late = chunk(b"sRGB", b"\0"), chunk(b"cICP", bytes([12, 13, 0, 1]))
    signals = reader.read(png(chunk(b"PLTE", bytes(6)), *late, head=ihdr(kind=3))).signals
    assert (signals.srgb_intent, signals.cicp) == (None, None)


def test_the_first_of_repeated_chunks_counts():
    first, second = chunk(b"gAMA", struct.pack(">I", 45455)), chunk(b"gAMA", bytes([0, 1, 0, 0]))
    assert reader.read(png(first, second)).signals.gamma == 0.45455


def test_frames_are_those_that_are_there():
    assert reader.read(animated_png(3)).frames == 3
    assert reader.read(animated_png(3)).problems == ()


@pytest.mark.parametrize("claimed", [0, 2, 4, 2**31 - 1, 2**32 - 1])
def test_a_false_number_of_frames(claimed):
    header = reader.read(animated_png(3, claimed))
    assert header.frames == 3
    assert header.problems == (f"the animation claims {claimed:,} frames and holds 3",)


def test_a_default_image_is_no_frame():
    actl = chunk(b"acTL", struct.pack(">II", 2, 0))
    data = png(actl, after=(fctl(0), fdat(1), fctl(2), fdat(3)))
    assert (reader.read(data).frames, problems(data)) == (2, ())


def test_frames_without_animation_control_do_not_count():
    assert reader.read(png(fctl(0))).frames == 1


def test_frames_out_of_order_or_outside():
    actl = chunk(b"acTL", struct.pack(">II", 1, 0))
    assert problems(png(actl, fctl(7))) == ("the frames of the animation are out of order",)
    assert problems(png(actl, fctl(0, left=1))) == (
        "a frame of the animation reaches outside the picture",
    )
    assert "a frame of the animation is damaged" in problems(png(actl, chunk(b"fcTL", bytes(4))))


def test_animation_as_pillow_writes_it():
    frames = [Image.new("RGB", (4, 3), color) for color in ("red", "lime", "blue")]
    data = saved(frames[0], "PNG", save_all=True, append_images=frames[1:])
    assert (reader.read(data).frames, problems(data)) == (3, ())


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (png()[:-12], "the file ends before the picture does"),
        (png()[:-20], "the file ends before the picture does"),
        (png() + b"x", "1 byte follows the end of the picture"),
        (png() + bytes(2000), "2,000 bytes follow the end of the picture"),
        (
            png(pixels(), chunk(b"tIME", bytes(7))),
            "the picture data is interrupted by other chunks",
        ),
        (png(ihdr()), "a second picture begins within the file"),
        (png(head=ihdr(kind=3)), "the color table is missing"),
        (
            png(head=ihdr(kind=3), after=(chunk(b"PLTE", bytes(6)),)),
            "the color table stands behind the picture data",
        ),
        (png().replace(pixels(), b""), "the file holds no picture data"),
        (png().replace(b"IEND", b"I\0ND"), "the file is damaged at byte 57: no chunk begins there"),
    ],
)
def test_problems(data, sentence):
    assert sentence in problems(data)


def test_a_wrong_checksum_is_named():
    data = bytearray(png(chunk(b"tIME", bytes(7))))
    data[data.index(b"tIME") + 4] ^= 1
    assert problems(bytes(data)) == (
        "the checksum of the tIME chunk is wrong: bytes were changed after the file was written",
    )


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"GIF89a", "of an unknown kind|GIF"),
        (png()[:20], "ends before"),
        (png(head=chunk(b"IDAT")), "does not begin with an image header"),
        (png(head=ihdr(width=0)), "impossible size, 0 x 3"),
        (png(head=ihdr(height=2**31)), "impossible size"),
        (png(head=ihdr(kind=5)), "does not know"),
        (png(head=ihdr(kind=2, depth=4)), "does not know"),
    ],
)
def test_files_that_do_not_tell_their_size(data, words):
    with pytest.raises(DamagedError, match=words):
        reader.read(data)
