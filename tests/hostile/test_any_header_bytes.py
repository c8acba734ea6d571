"""What every header reader must stand: cuts, flipped bytes, inserted rubbish."""

from __future__ import annotations

import pytest
from header_files import (
    GIF_CONTROL,
    GIF_FRAME,
    XMP_TRAILER,
    animated_png,
    application,
    avif,
    gif,
    saved,
)
from hostile_headers import animated, gradient, refused, survives
from hypothesis import given, settings
from hypothesis import strategies as st
from metadata_files import tiff
from PIL import Image

from pytest_webdeliverable.measure.headers import avif as avif_reader
from pytest_webdeliverable.measure.headers import gif as gif_reader
from pytest_webdeliverable.measure.headers import png as png_reader
from pytest_webdeliverable.measure.headers import tiff as tiff_reader
from pytest_webdeliverable.measure.headers import webp as webp_reader

READ = {
    "AVIF": avif_reader.read,
    "GIF": gif_reader.read,
    "PNG": png_reader.read,
    "TIFF": tiff_reader.read,
    "WEBP": webp_reader.read,
}
"""JPEG has a file of its own: cut JPEGs are told by their data, not by their header."""


def with_metadata(file_format: str, **more: object) -> bytes:
    exif = Image.Exif()
    exif[0x010E] = "drawn"
    exif[0x0112] = 6
    clear = Image.new("RGBA", (40, 30))
    return saved(clear, file_format, exif=exif, icc_profile=bytes(200), **more)


SHORT, LONG = 3, 4
RESOURCES = {
    256: (SHORT, 4),
    257: (SHORT, 3),
    258: (SHORT, 8),
    262: (SHORT, 1),
    273: (LONG, "tail"),
    279: (LONG, 12),
    34377: (1, b"8BIM\x04\x04\0\0\0\0\0\x05\x1c\x02\x50\0\0\0"),
    34675: (7, bytes(40)),
}
GRAY = gradient().convert("L")
SAMPLES = {
    "AVIF": {
        "plain": saved(gradient(), "AVIF"),
        "with metadata": with_metadata("AVIF", xmp=b"<x/>"),
        "animated": animated("AVIF"),
        "by hand": avif(),
    },
    "GIF": {
        "single": saved(GRAY, "GIF"),
        "animated": animated("GIF"),
        "with XMP": gif(application(b"XMP DataXMP", b"<x/>" + XMP_TRAILER), GIF_CONTROL, GIF_FRAME),
    },
    "PNG": {
        "plain": saved(GRAY, "PNG"),
        "with metadata": with_metadata("PNG", dpi=(72, 72)),
        "palette": saved(Image.new("P", (40, 30)), "PNG", transparency=0),
        "animated": animated_png(5),
    },
    "TIFF": {
        "plain": saved(gradient(), "TIFF"),
        "LZW": saved(GRAY, "TIFF", compression="tiff_lzw"),
        "pages": saved(GRAY, "TIFF", save_all=True, append_images=[GRAY] * 2).rstrip(b"\0"),
        "BigTIFF": saved(gradient().convert("CMYK"), "TIFF", big_tiff=True, dpi=(300, 300)),
        "with resources": tiff([RESOURCES], order=">", tail=bytes(12)),
    },
    "WEBP": {
        "lossy": saved(gradient(), "WEBP"),
        "lossless": saved(gradient(), "WEBP", lossless=True),
        "with metadata": with_metadata("WEBP", xmp=b"<x/>"),
        "animated": animated("WEBP"),
    },
}
CUTS = [
    pytest.param(file_format, data[:end], id=f"{file_format} {name} at {end} of {len(data)}")
    for file_format, samples in SAMPLES.items()
    for name, data in samples.items()
    for end in (*(len(data) * tenth // 10 for tenth in range(10)), len(data) - 1)
]


@pytest.mark.parametrize(("file_format", "data"), CUTS)
def test_cut_files_are_refused(file_format, data):
    refused(READ[file_format], data)


@pytest.mark.parametrize("file_format", READ)
@settings(max_examples=400)
@given(data=st.data())
def test_spoiled_files_get_an_answer(file_format, data):
    survives(READ[file_format], data.draw(spoiled(list(SAMPLES[file_format].values()))))


@st.composite
def spoiled(draw: st.DrawFn, samples: list[bytes]) -> bytes:
    """One of the samples with a few bytes changed, a stretch removed, repeated or inserted."""
    data = bytearray(draw(st.sampled_from(samples)))
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(data)))
        match draw(st.sampled_from(["set", "set", "set", "number", "remove", "repeat", "insert"])):
            case "set":
                data[at : at + 1] = bytes([draw(st.integers(0, 255))])
            case "number":
                number = draw(st.sampled_from([0, 1, 2**16 - 1, 2**31 - 1, 2**31, 2**32 - 1]))
                data[at : at + 4] = number.to_bytes(4, draw(st.sampled_from(["big", "little"])))
            case "remove":
                del data[at : at + draw(st.integers(1, 40))]
            case "repeat":
                data[at:at] = data[at : at + draw(st.integers(1, 40))]
            case "insert":
                data[at:at] = draw(st.binary(min_size=1, max_size=40))
    return bytes(data)
