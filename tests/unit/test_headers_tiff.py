"""TIFF directories written byte by byte, by Pillow and by tifffile, and read back."""

import io
import struct

import numpy as np
import pytest
from header_files import saved
from metadata_files import iim, tiff
from PIL import Image

from pytest_webdeliverable.measure.headers import tiff as reader
from pytest_webdeliverable.measure.headers.base import DamagedError

SHORT, LONG, FRACTION, BYTE, UNDEFINED, FLOAT = 3, 4, 5, 1, 7, 11
BLACK = bytes(36)


def fields(**changes):
    """Directory of a 4 x 3 RGB picture in one strip; tags are given as ``t256=(type, value)``."""
    directory = {
        256: (SHORT, 4),
        257: (SHORT, 3),
        258: (SHORT, [8, 8, 8]),
        259: (SHORT, 1),
        262: (SHORT, 2),
        273: (LONG, "tail"),
        277: (SHORT, 3),
        279: (LONG, 36),
    }
    for name, value in changes.items():
        directory[int(name[1:])] = value
    return {tag: value for tag, value in directory.items() if value is not None}


def read(*directories, order="<", **changes):
    return reader.read(tiff([fields(**changes), *directories], order=order, tail=BLACK))


def written(picture, **options):
    tifffile = pytest.importorskip("tifffile")
    file = io.BytesIO()
    tifffile.imwrite(file, picture, **options)
    return reader.read(file.getvalue())


@pytest.mark.parametrize("order", ["<", ">"])
def test_an_intact_file(order):
    header = read(order=order)
    assert (header.width, header.height, header.frames) == (4, 3, 1)
    assert (header.mode, header.bits, header.alpha, header.indexed) == ("rgb", 8, False, False)
    assert (header.densities, header.exif, header.problems) == ((), None, ())


# TIFF 6.0 section 8 (PhotometricInterpretation) and sections 16, 21 and 23 for 5, 6 and 8.
@pytest.mark.parametrize(
    ("photometric", "mode"),
    [
        (0, "gray"),
        (1, "gray"),
        (2, "rgb"),
        (3, "rgb"),
        (4, "gray"),
        (6, "rgb"),
        (8, "lab"),
        (9, "lab"),
        (10, "lab"),
        (32803, "other"),
        (32844, "other"),
    ],
)
def test_photometric_interpretations(photometric, mode):
    header = read(t262=(SHORT, photometric))
    assert (header.mode, header.indexed) == (mode, photometric == 3)


def test_separated_inks_are_cmyk_unless_said_otherwise():
    four = {"t262": (SHORT, 5), "t277": (SHORT, 4), "t258": (SHORT, [8] * 4)}
    assert read(**four).mode == "cmyk"
    assert read(**four, t332=(SHORT, 1)).mode == "cmyk"
    assert read(**four, t332=(SHORT, 2)).mode == "other"
    assert read(t262=(SHORT, 5)).mode == "other"


@pytest.mark.parametrize(
    ("mode", "expected"),
    [
        ("1", ("gray", 1, False, False)),
        ("L", ("gray", 8, False, False)),
        ("I;16", ("gray", 16, False, False)),
        ("F", ("gray", 32, False, False)),
        ("P", ("rgb", 8, False, True)),
        ("RGB", ("rgb", 8, False, False)),
        ("RGBA", ("rgb", 8, True, False)),
        ("CMYK", ("cmyk", 8, False, False)),
        ("LAB", ("lab", 8, False, False)),
        ("YCbCr", ("rgb", 8, False, False)),
    ],
)
@pytest.mark.parametrize("big", [False, True])
def test_modes_as_pillow_writes_them(mode, expected, big):
    header = reader.read(saved(Image.new(mode, (7, 5)), "TIFF", big_tiff=big))
    assert (header.mode, header.bits, header.alpha, header.indexed) == expected
    assert (header.width, header.height, header.frames, header.problems) == (7, 5, 1, ())


@pytest.mark.parametrize(
    "compression", ["raw", "packbits", "tiff_lzw", "tiff_adobe_deflate", "jpeg"]
)
def test_compressions(compression):
    data = saved(
        Image.radial_gradient("L").resize((70, 50)).convert("RGB"), "TIFF", compression=compression
    )
    assert reader.read(data).problems == ()


@pytest.mark.parametrize(
    ("options", "bits"),
    [
        ({"dtype": "u1"}, 8),
        ({"dtype": "u2"}, 16),
        ({"dtype": "f4"}, 32),
        ({"dtype": "u1", "tile": (16, 16)}, 8),
        ({"dtype": "u2", "tile": (32, 16), "bigtiff": True}, 16),
        ({"dtype": "u2", "byteorder": ">"}, 16),
        ({"dtype": "u1", "rowsperstrip": 1}, 8),
    ],
)
def test_pictures_as_tifffile_writes_them(options, bits):
    picture = np.zeros((37, 53, 3), options.pop("dtype"))
    header = written(picture, photometric="rgb", metadata=None, **options)
    assert (header.width, header.height, header.mode, header.bits) == (53, 37, "rgb", bits)
    assert (header.frames, header.alpha, header.problems) == (1, False, ())


def test_separate_planes_and_extra_samples_as_tifffile_writes_them():
    planes = np.zeros((4, 37, 53), "u1")
    header = written(
        planes, photometric="rgb", planarconfig="separate", extrasamples=["unassalpha"]
    )
    assert (header.width, header.height, header.alpha, header.problems) == (53, 37, True, ())
    inks = np.zeros((37, 53, 5), "u1")
    header = written(inks, photometric="separated", extrasamples=["unspecified"])
    assert (header.mode, header.alpha) == ("cmyk", False)


def test_the_fourth_sample_beside_rgb():
    four = {"t277": (SHORT, 4), "t258": (SHORT, [8] * 4), "t279": (LONG, 36)}
    assert read(**four).alpha
    assert read(**four, t338=(SHORT, 2)).alpha
    assert read(**four, t338=(SHORT, 1)).alpha
    assert not read(**four, t338=(SHORT, 0)).alpha


def test_pages_are_counted_without_previews_and_masks():
    assert read(fields(), fields()).frames == 3
    assert read({254: (LONG, 1), **fields()}, {254: (LONG, 4), **fields()}).frames == 1
    assert read({254: (LONG, 2), **fields()}).frames == 2


def test_pages_as_pillow_writes_them():
    page = Image.new("RGB", (4, 3))
    assert reader.read(saved(page, "TIFF", save_all=True, append_images=[page] * 3)).frames == 4


def test_profile_xmp_and_iptc():
    header = read(t700=(BYTE, b"<x/>"), t34675=(UNDEFINED, b"profile"))
    assert (header.xmp, header.icc, header.icc_problem) == ((b"<x/>",), b"profile", None)
    assert read(t34675=(UNDEFINED, b"")).icc_problem == ("the color profile is incomplete")


@pytest.mark.parametrize("kind", ["bytes", "numbers", "turned round", "image resources"])
def test_iptc_however_it_is_stored(kind):
    stream = iim((2, 80, b"A. Maker")).ljust(16, b"\0")
    if kind == "bytes":
        header = read(t33723=(UNDEFINED, stream))
    elif kind == "numbers":
        header = read(t33723=(LONG, list(np.frombuffer(stream, "<u4"))))
    elif kind == "turned round":
        header = read(t33723=(LONG, list(np.frombuffer(stream, ">u4"))))
    else:
        header = read(t34377=(BYTE, b"8BIM\x04\x04\0\0" + b"\0\0\0\x10" + stream))
    assert header.iptc == stream


def test_previews_in_image_resources():
    jpeg = b"\xff\xd8\xff\xe0 a preview"
    block = b"8BIM\x04\x0c\x03abc" + (28 + len(jpeg)).to_bytes(4, "big") + bytes(28) + jpeg
    assert read(t34377=(BYTE, block)).previews == (jpeg,)


def test_exif_is_the_file_itself_and_only_where_it_has_something_to_tell():
    data = tiff([fields()], pointers={34853: {1: (2, b"N\0")}}, tail=BLACK)
    assert reader.read(data).exif is data
    assert read(t33432=(2, b"Copyright someone\0")).exif is not None
    assert read(fields()).exif is not None
    assert read().exif is None


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"t279": (LONG, 37), "t259": (SHORT, 5)}, "the file ends before the picture does"),
        ({"t273": (LONG, 99_999)}, "the file ends before the picture does"),
        ({"t278": (SHORT, 1)}, "the file ends before the picture does"),
        ({"t273": None, "t279": None}, "the file holds no picture data"),
    ],
)
def test_problems(changes, sentence):
    assert read(**changes).problems == (sentence,)


def test_a_count_that_is_too_large_for_bare_pixels_does_no_harm():
    assert read(t279=(LONG, 99_999)).problems == ()


def test_cut_files():
    data = tiff([fields(t259=(SHORT, 5))], tail=BLACK)
    assert reader.read(data[:-1]).problems == ("the file ends before the picture does",)
    # libtiff writes the directory behind the pixels.
    data = saved(Image.new("L", (70, 50)), "TIFF", compression="tiff_lzw")
    with pytest.raises(DamagedError, match="ends before"):
        reader.read(data[:-200])


def test_later_pages_are_checked():
    whole = {**fields(), 273: (LONG, 8)}
    cut = {**whole, 279: (LONG, 10_000_000), 259: (SHORT, 5)}
    assert read(whole, whole).problems == ()
    assert read(whole, cut).problems == ("the file ends before the picture does",)
    # The value of this field, nine bytes long, would stand beyond the end of the file.
    broken = bytearray(tiff([fields(), {**whole, 270: (2, b"123456789")}], tail=BLACK))
    at = broken.rindex(struct.pack("<HHI", 270, 2, 9))
    broken[at + 8 : at + 12] = b"\xff\xff\xff\x7f"
    assert reader.read(bytes(broken)).problems == ()
    broken[at + 2 : at + 8] = struct.pack("<HI", 99, 0)
    assert reader.read(bytes(broken)).problems == ()


def test_a_later_page_of_too_many_entries():
    data = bytearray(tiff([fields(), {}], tail=BLACK))
    at = 8 + 2 + 12 * len(fields())
    second = int.from_bytes(data[at : at + 4], "little")
    data[second : second + 2] = (5000).to_bytes(2, "little")
    header = reader.read(bytes(data) + bytes(60_010))
    assert header.problems == ("a page of the file is damaged",)


def test_pages_in_a_circle():
    data = bytearray(tiff([fields()], tail=BLACK))
    end = 8 + 2 + 12 * int.from_bytes(data[8:10], "little")
    data[end : end + 4] = (8).to_bytes(4, "little")
    assert reader.read(bytes(data)).problems == ("the pages of the file lead back in a circle",)
    data[end : end + 4] = (60_000).to_bytes(4, "little")
    assert reader.read(bytes(data)).problems == ("the file ends before the picture does",)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"\x89PNG\r\n\x1a\n", "a PNG picture"),
        (b"II*\0\x08\0", "ends before"),
        (b"II*\0\x08\0\0\0", "ends before"),
        (b"II*\0\x08\0\0\0\xff\xff", "claims 65,535 entries"),
        (tiff([fields(t256=None)]), "does not tell the size"),
        (tiff([fields(t257=(SHORT, 0))]), "does not tell the size"),
        (tiff([fields(t256=(9, -4))]), "does not tell the size"),
    ],
)
def test_files_that_do_not_tell_their_size(data, words):
    with pytest.raises(DamagedError, match=words):
        reader.read(data)
