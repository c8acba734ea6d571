"""Constants and small steps of measuring, against the standards that fix them.

Each was found by changing it and seeing no test fail (tests/mutants.py).
"""

from __future__ import annotations

import struct
import warnings
import zlib

import numpy as np
import pytest
from header_files import FTYP, avif, box, chunk, ispe, png
from jpegs import saved, segment, with_segments
from PIL import Image, ImageOps
from profiles import matrix_profile

from pytest_webdeliverable.measure import flash, pruned, spelling, srgb
from pytest_webdeliverable.measure.headers import avif as avif_reader
from pytest_webdeliverable.measure.headers import jpeg
from pytest_webdeliverable.measure.headers import png as png_reader
from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.history.mosaic import luma
from pytest_webdeliverable.measure.icc import profile_facts
from pytest_webdeliverable.measure.icc_profile import DamagedProfileError
from pytest_webdeliverable.measure.limits import Limits

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    colour = pytest.importorskip("colour")


def test_rgb_to_xyz_follows_from_the_primaries() -> None:
    """IEC 61966-2-1 fixes primaries and white; SMPTE RP 177 how the matrix follows."""
    derived = colour.normalised_primary_matrix(np.array(srgb.PRIMARIES_XY), srgb.WHITE_XY)
    assert np.abs(derived - srgb.RGB_TO_XYZ_D65).max() < 1e-6


@pytest.mark.parametrize("light", [(1, 0, 0), (0, 1, 0), (0, 0, 1), (1, 1, 1), (0.3, 0.02, 0.6)])
def test_chromaticity_equals_colour_science(light: tuple[float, ...]) -> None:
    """CIE 15: u' = 4X / (X + 15Y + 3Z), v' = 9Y / (X + 15Y + 3Z)."""
    above = [
        sum(map(float.__mul__, map(float, light), row)) for row in (flash._U_ABOVE, flash._V_ABOVE)
    ]
    below = sum(map(float.__mul__, map(float, light), flash._UV_BELOW))
    xyz = np.array(srgb.RGB_TO_XYZ_D65) @ np.array(light, dtype=float)
    expected = colour.xy_to_Luv_uv(colour.XYZ_to_xy(xyz))
    assert [one / below for one in above] == pytest.approx(list(expected), abs=1e-9)


@pytest.mark.parametrize(
    ("light", "saturated"),
    [((0.8, 0.1, 0.1), 0.0), ((0.8, 0.0, 0.2), 0.0), ((0.5, 0.3, 0.2), -0.3)],
)
def test_a_saturated_red_is_four_fifths_red(light: tuple[float, ...], saturated: float) -> None:
    """WCAG 2.2, red flash: R / (R + G + B) >= 0.8; the sum is R - 0.8 (R + G + B)."""
    found = sum(weight * part for weight, part in zip(flash._RED_EXCESS, light, strict=True))
    assert found == pytest.approx(saturated)


@pytest.mark.parametrize("turn", range(4))
@pytest.mark.parametrize("mirror", [None, 0, 1])
def test_turns_and_mirrors_are_those_of_the_standard(turn: int, mirror: int | None) -> None:
    """ISO/IEC 23008-12: irot turns anticlockwise, then imir exchanges; Exif as Pillow applies it."""
    picture = Image.new("L", (3, 2))
    picture.putdata(range(6))
    expected = picture.rotate(90 * turn, expand=True)
    if mirror is not None:
        flip = Image.Transpose.FLIP_TOP_BOTTOM if mirror == 0 else Image.Transpose.FLIP_LEFT_RIGHT
        expected = expected.transpose(flip)
    properties = [ispe(3, 2), box(b"av1C", b"\x81\0\x0c\0"), box(b"irot", bytes([turn]))]
    if mirror is not None:
        properties.append(box(b"imir", bytes([mirror])))
    found = avif_reader.read(avif(properties=tuple(properties))).orientation
    exif = picture.getexif()
    exif[0x0112] = found
    assert ImageOps.exif_transpose(picture).tobytes() == expected.tobytes()


def test_a_box_whose_size_takes_eight_bytes() -> None:
    """ISO/IEC 14496-12, 4.2: a size of 1 says that the size follows the kind, in 8 bytes."""
    data = avif()
    at = data.index(b"mdat") - 4
    body = data[at + 8 :]
    wide = data[:at] + struct.pack(">I4sQ", 1, b"mdat", 16 + len(body)) + body
    header = avif_reader.read(wide)
    # The picture is said to lie 8 bytes earlier, which is within the file still.
    assert (header.width, header.height) == (4, 3)
    empty = FTYP + struct.pack(">I4sQ", 1, b"free", 16) + data[len(FTYP) :]
    assert avif_reader.read(empty).problems == ()


def test_deep_samples_become_8_bit_ones() -> None:
    """White is 65,535, 255 or 1, whichever the largest sample reaches; half of it is 127."""
    deep = Image.new("I;16", (2, 1))
    deep.putdata([65535, 32768])
    assert list(luma(deep).get_flattened_data()) == [255, 127]
    real = Image.new("F", (3, 1))
    real.putdata([255.0, 128.0, 0.0])
    assert list(luma(real).get_flattened_data()) == [255, 128, 0]
    real.putdata([1.0, 0.5, 0.0])
    assert list(luma(real).get_flattened_data()) == [255, 127, 0]
    assert luma(Image.new("F", (2, 2), -1.0)).getextrema() == (0, 0)


TYPES = {
    1: "B",
    2: "c",
    3: "H",
    4: "I",
    5: "II",
    6: "b",
    7: "c",
    8: "h",
    9: "i",
    10: "ii",
    11: "f",
    12: "d",
}
"""Types of TIFF 6.0, section 2, as struct has them."""


@pytest.mark.parametrize("kind", TYPES)
def test_types_are_as_wide_as_tiff_says(kind: int) -> None:
    assert pruned._FIELD_BYTES[kind] == struct.calcsize("<" + TYPES[kind])


def test_ascii_letters_are_swapped_like_the_language_does() -> None:
    letters = "ABCXYZabcxyz019_-."
    assert letters.translate(spelling._SWAP_ASCII_CASE) == letters.swapcase()


def test_a_keyword_of_png_has_at_most_79_letters() -> None:
    """W3C PNG, 11.3.2.3 (iCCP): a profile name of 1 to 79 bytes, then a zero byte."""

    packed = zlib.compress(matrix_profile())
    longest = png_reader.read(png(chunk(b"iCCP", b"n" * 79 + b"\0\0" + packed)))
    assert longest.icc == matrix_profile()
    assert png_reader.read(png(chunk(b"iCCP", b"n" * 80 + b"\0\0" + packed))).icc is None


def test_as_many_segments_as_allowed_are_read() -> None:
    plain = saved()
    count = next(n for n in range(1, 40) if _opens(plain, Limits(jpeg_segments=n)))
    assert _opens(with_segments(plain, segment(0xFE, b"a")), Limits(jpeg_segments=count + 1))
    assert not _opens(with_segments(plain, segment(0xFE, b"a")), Limits(jpeg_segments=count))


def _opens(data: bytes, limits: Limits) -> bool:
    try:
        return bool(jpeg.read(data, limits))
    except DamagedError:
        return False


def test_a_profile_may_be_as_large_as_allowed() -> None:
    data = matrix_profile()
    assert profile_facts(data, Limits(profile_bytes=len(data)))
    with pytest.raises(DamagedProfileError):
        profile_facts(data, Limits(profile_bytes=len(data) - 1))
