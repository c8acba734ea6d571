"""Quality and quantization tables against ITU-T T.81 Annex K and files written by libjpeg-turbo."""

from __future__ import annotations

import io

import pytest
from jpegs import frame_segment, noise, saved, segment, tables_segment
from PIL import Image, ImageChops, ImageStat

from pytest_webdeliverable.measure.headers.jpeg import read
from pytest_webdeliverable.measure.headers.jpeg_quality import scaled
from pytest_webdeliverable.measure.headers.jpeg_tables import K1_LUMINANCE, K2_CHROMINANCE, ZIGZAG

# ITU-T T.81 (1992) | ISO/IEC 10918-1, tables K.1 and K.2, one line of text per row of the table.
K1 = """
16  11  10  16  24  40  51  61
12  12  14  19  26  58  60  55
14  13  16  24  40  57  69  56
14  17  22  29  51  87  80  62
18  22  37  56  68 109 103  77
24  35  55  64  81 104 113  92
49  64  78  87 103 121 120 101
72  92  95  98 112 100 103  99
"""
K2 = """
17  18  24  47  99  99  99  99
18  21  26  66  99  99  99  99
24  26  56  99  99  99  99  99
47  66  99  99  99  99  99  99
99  99  99  99  99  99  99  99
99  99  99  99  99  99  99  99
99  99  99  99  99  99  99  99
99  99  99  99  99  99  99  99
"""
# ITU-T T.81 figure A.6: the place of each coefficient in the zigzag sequence, row by row.
FIGURE_A6 = """
 0  1  5  6 14 15 27 28
 2  4  7 13 16 26 29 42
 3  8 12 17 25 30 41 43
 9 11 18 24 31 40 44 53
10 19 23 32 39 45 52 54
20 22 33 38 46 51 55 60
21 34 37 47 50 56 59 61
35 36 48 49 57 58 62 63
"""


def numbers(text: str) -> list[int]:
    return [int(word) for word in text.split()]


def written_by_libjpeg(quality: int, mode: str) -> bytes:
    return saved(noise(mode, (16, 16)), quality=quality)


def test_annex_k_tables() -> None:
    assert list(K1_LUMINANCE) == numbers(K1)
    assert list(K2_CHROMINANCE) == numbers(K2)


def test_zigzag_sequence() -> None:
    assert [list(ZIGZAG).index(place) for place in range(64)] == numbers(FIGURE_A6)


@pytest.mark.parametrize("quality", range(1, 101))
def test_scaling_equals_what_libjpeg_turbo_writes(quality: int) -> None:
    with Image.open(io.BytesIO(written_by_libjpeg(quality, "RGB"))) as picture:
        luma, chroma = picture.quantization[0], picture.quantization[1]  # in row order
    assert scaled(K1_LUMINANCE, quality) == list(luma)
    assert scaled(K2_CHROMINANCE, quality) == list(chroma)


@pytest.mark.parametrize("quality", range(1, 101))
@pytest.mark.parametrize("mode", ["L", "RGB", "CMYK"])
def test_quality_is_read_back_from_libjpeg_turbo_files(quality: int, mode: str) -> None:
    facts = read(written_by_libjpeg(quality, mode)).jpeg
    assert facts is not None
    told = facts["quality"]
    assert told is not None
    assert told["exact"]
    assert told["value"] == told["luma"] == quality
    assert told["chroma"] == (None if mode == "L" else quality)


def test_quality_100_is_all_ones() -> None:
    # Shared reference, jpeg_tables: only quality 100 gives 64 ones in both tables.
    assert scaled(K1_LUMINANCE, 100) == scaled(K2_CHROMINANCE, 100) == [1] * 64
    assert scaled(K1_LUMINANCE, 99) != [1] * 64


# Shared reference, jpeg_tables: qualities at which rounding with floating-point division differs.
FLOATING_POINT_DIFFERS = (
    *(9, 11, 12, 13, 14, 15, 16, 18, 19, 22, 23, 24, *range(26, 40)),
    *(41, 42, 43, 44, 45, 46, 47, 48),
)


def test_integer_division_matters_where_the_reference_says() -> None:
    def in_floating_point(quality: int) -> list[int]:
        percent = 5000 / quality if quality < 50 else 200 - 2 * quality
        return [min(max(int((entry * percent + 50) / 100), 1), 255) for entry in K1_LUMINANCE]

    def chroma_in_floating_point(quality: int) -> list[int]:
        percent = 5000 / quality if quality < 50 else 200 - 2 * quality
        return [min(max(int((entry * percent + 50) / 100), 1), 255) for entry in K2_CHROMINANCE]

    differs = tuple(
        quality
        for quality in range(1, 101)
        if in_floating_point(quality) != scaled(K1_LUMINANCE, quality)
        or chroma_in_floating_point(quality) != scaled(K2_CHROMINANCE, quality)
    )
    assert differs == FLOATING_POINT_DIFFERS


def in_three_scans(*qualities: int, first_of_color: int | None = None) -> bytes:
    """A JPEG whose components come one after the other, each behind its own tables (T.81 B.2.3).

    Each scan is that of a gray JPEG of the plane, as libjpeg-turbo writes it. ``first_of_color`` is a
    quality whose table stands where that of the color does until it is written anew.
    """
    parts = [b"\xff\xd8"]
    if first_of_color:
        parts.append(tables_segment([1] * 64, file_order(K2_CHROMINANCE, first_of_color)))
    frame = frame_segment(0xC0, (160, 120), (0x11, 0x11, 0x11))
    for number, (plane, quality) in enumerate(zip(noise("YCbCr").split(), qualities, strict=True)):
        table = file_order(K2_CHROMINANCE if number else K1_LUMINANCE, quality)
        gray = saved(plane, qtables=[scaled(K2_CHROMINANCE if number else K1_LUMINANCE, quality)])
        codes, coded = gray.index(b"\xff\xc4"), gray.index(b"\xff\xda")
        parts.append(segment(0xDB, bytes((1 if number else 0, *table))))
        parts += [frame] if number == 0 else []
        parts += [gray[codes:coded], segment(0xDA, bytes((1, number + 1, 0, 0, 63, 0)))]
        parts.append(gray[coded + 10 : -2])
    return b"".join(parts) + b"\xff\xd9"


def file_order(base: tuple[int, ...], quality: int) -> list[int]:
    return [scaled(base, quality)[place] for place in ZIGZAG]


@pytest.mark.parametrize("first", [None, 95, 10])
def test_a_component_is_coded_with_the_table_before_its_own_first_scan(first: int | None) -> None:
    """What the tables say is held against the picture: the coarser the steps, the farther it is off."""
    good, poor = (in_three_scans(95, color, color, first_of_color=first) for color in (95, 10))
    off = []
    for data, quality in ((good, 95), (poor, 10)):
        facts = read(data)
        assert facts.jpeg is not None
        assert not facts.problems
        assert facts.jpeg["quality"] == {
            "value": quality,
            "exact": True,
            "luma": 95,
            "chroma": quality,
        }
        with Image.open(io.BytesIO(data)) as picture:
            off.append(ImageStat.Stat(ImageChops.difference(picture.convert("RGB"), noise())).mean)
    assert sum(off[1]) > 2 * sum(off[0])


def test_of_two_color_components_the_coarser_counts() -> None:
    facts = read(in_three_scans(95, 95, 10)).jpeg
    assert facts is not None
    assert facts["quality"] is not None
    assert (facts["quality"]["value"], facts["quality"]["exact"]) == (10, True)
