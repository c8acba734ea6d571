"""Marker codes and frame kinds against ITU-T T.81 table B.1; sampling factors as written by Pillow."""

from __future__ import annotations

import io
import struct

import pytest
from jpegs import assembled, noise, saved, tables_segment, with_segments
from PIL import Image

from pytest_webdeliverable.measure.headers import jpeg_tables as t81
from pytest_webdeliverable.measure.headers.jpeg import read

# ITU-T T.81 table B.1: code, symbol, coding process.
FRAMES = [
    (0xFFC0, "SOF0", "baseline", "huffman"),
    (0xFFC1, "SOF1", "extended", "huffman"),
    (0xFFC2, "SOF2", "progressive", "huffman"),
    (0xFFC3, "SOF3", "lossless", "huffman"),
    (0xFFC5, "SOF5", "differential sequential", "huffman"),
    (0xFFC6, "SOF6", "differential progressive", "huffman"),
    (0xFFC7, "SOF7", "differential lossless", "huffman"),
    (0xFFC9, "SOF9", "extended", "arithmetic"),
    (0xFFCA, "SOF10", "progressive", "arithmetic"),
    (0xFFCB, "SOF11", "lossless", "arithmetic"),
    (0xFFCD, "SOF13", "differential sequential", "arithmetic"),
    (0xFFCE, "SOF14", "differential progressive", "arithmetic"),
    (0xFFCF, "SOF15", "differential lossless", "arithmetic"),
]
OTHERS = {
    "TEM": 0xFF01, "DHT": 0xFFC4, "DAC": 0xFFCC, "RST0": 0xFFD0, "RST7": 0xFFD7, "SOI": 0xFFD8,
    "EOI": 0xFFD9, "SOS": 0xFFDA, "DQT": 0xFFDB, "DNL": 0xFFDC, "DRI": 0xFFDD, "DHP": 0xFFDE,
    "APP0": 0xFFE0, "APP15": 0xFFEF, "COM": 0xFFFE,
}  # fmt: skip


@pytest.mark.parametrize(("code", "symbol", "process", "coding"), FRAMES)
def test_frame_markers(code: int, symbol: str, process: str, coding: str) -> None:
    facts = read(assembled(code & 0xFF)).jpeg
    assert facts is not None
    assert (facts["marker"], facts["process"], facts["coding"]) == (symbol, process, coding)


def test_no_other_code_is_a_frame() -> None:
    assert {0xFF00 | marker for marker in t81.FRAMES} == {code for code, *_ in FRAMES}


@pytest.mark.parametrize(("name", "code"), OTHERS.items())
def test_other_markers(name: str, code: int) -> None:
    assert getattr(t81, name) == code & 0xFF


# T.81 B.1.1.4: the only markers without a length are SOI, EOI, RST0 to RST7 and TEM; JPG0 to JPG13 and
# RES are reserved segments, which a reader steps over.
@pytest.mark.parametrize("code", [0xF0, 0xFD, 0x02, 0xBF, 0xFE, 0xE5])
def test_segments_that_mean_nothing_here_are_stepped_over(code: int) -> None:
    data = with_segments(saved(), struct.pack(">BBH", 0xFF, code, 6) + b"abcd")
    assert read(data).problems == ()


@pytest.mark.parametrize("precision", [2, 8, 12, 16])
def test_sample_precision(precision: int) -> None:
    # T.81 table B.2: 8 for baseline, 8 or 12 for the other DCT processes, 2 to 16 for lossless.
    assert read(assembled(0xC3, precision=precision)).bits == precision


# Sampling factors by name: shared reference, jpeg_tables (4:4:0 and 4:1:1 from memory there).
SAMPLING = {
    "4:4:4": (0x11, 0x11, 0x11),
    "4:2:2": (0x21, 0x11, 0x11),
    "4:2:0": (0x22, 0x11, 0x11),
    "4:4:0": (0x12, 0x11, 0x11),
    "4:1:1": (0x41, 0x11, 0x11),
}


@pytest.mark.parametrize(("name", "factors"), SAMPLING.items())
def test_sampling_factors(name: str, factors: tuple[int, ...]) -> None:
    facts = read(assembled(factors=factors)).jpeg
    assert facts is not None
    assert facts["sampling"] == name


@pytest.mark.parametrize("name", ["4:4:4", "4:2:2", "4:2:0"])
@pytest.mark.parametrize("progressive", [False, True])
def test_sampling_written_by_libjpeg_turbo(name: str, progressive: bool) -> None:
    facts = read(saved(noise(), subsampling=name, progressive=progressive)).jpeg
    assert facts is not None
    assert facts["sampling"] == name


@pytest.mark.parametrize("progressive", [False, True])
@pytest.mark.parametrize("mode", ["L", "RGB", "CMYK"])
def test_process_agrees_with_pillow(mode: str, progressive: bool) -> None:
    data = saved(noise(mode), progressive=progressive)
    facts = read(data).jpeg
    assert facts is not None
    with Image.open(io.BytesIO(data)) as picture:
        assert (facts["process"] == "progressive") is bool(picture.info.get("progressive"))
        assert facts["adobe_transform"] == picture.info.get("adobe_transform")


def with_huffman_tables(numbered: int) -> bytes:
    """A gray JPEG whose Huffman tables have this number."""
    data = saved(noise("L"))
    at, found = data.index(b"\xff\xc4"), bytearray(data)
    while data[at + 1] == 0xC4:
        found[at + 4] |= numbered
        at += 2 + struct.unpack_from(">H", data, at + 2)[0]
    scan = data.index(b"\xff\xda")
    found[scan + 6] = numbered << 4 | numbered
    return bytes(found)


@pytest.mark.parametrize("numbered", [0, 1, 2, 3])
def test_baseline_knows_two_huffman_tables_of_a_kind(numbered: int) -> None:
    """T.81 table B.5: the number is 0 or 1 in baseline, 0 to 3 in extended sequential."""
    data = with_huffman_tables(numbered)
    with Image.open(io.BytesIO(data)) as picture:
        assert picture.tobytes() == Image.open(io.BytesIO(saved(noise("L")))).tobytes()
    facts = read(data).jpeg
    assert facts is not None
    assert (facts["process"], facts["marker"]) == (
        "extended" if numbered > 1 else "baseline",
        "SOF0",
    )


@pytest.mark.parametrize(("marker", "process"), [(0xC0, "extended"), (0xC2, "progressive")])
def test_baseline_knows_no_steps_of_16_bits(marker: int, process: str) -> None:
    """T.81 table B.4: the precision is 0 in baseline, 0 or 1 in the other two."""
    facts = read(with_segments(assembled(marker), tables_segment([9] * 64, wide=True))).jpeg
    assert facts is not None
    assert facts["process"] == process
    narrow = read(with_segments(assembled(marker), tables_segment([9] * 64))).jpeg
    assert narrow is not None
    assert narrow["process"] == ("baseline" if marker == 0xC0 else process)


def test_baseline_has_8_bits_a_sample() -> None:
    """T.81 table B.2."""
    facts = read(assembled(0xC0, precision=12)).jpeg
    assert facts is not None
    assert facts["process"] == "extended"
