"""Telling a file by its content."""

import io
import zipfile

import pytest
from header_files import box, saved
from PIL import Image

from pytest_webdeliverable.measure.headers import describe, read_header, sniff
from pytest_webdeliverable.measure.headers.base import DamagedError

SMALL = Image.new("RGB", (4, 3), "teal")


def zipped():
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("a", "b")
    return file.getvalue()


@pytest.mark.parametrize("name", ["JPEG", "PNG", "GIF", "WEBP", "AVIF", "TIFF"])
def test_the_formats_as_pillow_writes_them(name):
    data = saved(SMALL, name)
    assert sniff(data) == name.lower()
    header = read_header(data)
    assert (header.format, header.width, header.height) == (name.lower(), 4, 3)
    assert header.problems == ()
    assert describe(data).split()[1].lower() == name.lower()


def test_multi_picture_jpeg_is_jpeg():
    assert sniff(saved(SMALL, "MPO", save_all=True, append_images=[SMALL])) == "jpeg"


def test_big_tiff_is_tiff():
    assert sniff(saved(SMALL, "TIFF", big_tiff=True)) == "tiff"


def test_animated_avif_is_avif():
    assert sniff(saved(SMALL, "AVIF", save_all=True, append_images=[SMALL])) == "avif"


@pytest.mark.parametrize(
    ("major", "compatible", "is_avif"),
    [
        (b"avif", b"mif1", True),
        (b"mif1", b"miafavif", True),
        (b"heic", b"mif1heic", False),
        (b"mif1", b"heic", False),
    ],
)
def test_avif_goes_by_its_brands(major, compatible, is_avif):
    data = box(b"ftyp", major, b"\0\0\0\0", compatible)
    assert (sniff(data) == "avif") is is_avif
    assert is_avif or describe(data) == "a HEIC picture"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "an empty file"),
        (b"\0" * 5000, "nothing but zero bytes"),
        (b"<!DOCTYPE html><html><head>", "an HTML page"),
        (b"\xef\xbb\xbf\n  <HTML lang='en'>", "an HTML page"),
        (b"<html><body><svg xmlns='x'></svg>", "an HTML page"),
        (b"<?xml version='1.0'?><!-- drawn --><svg xmlns='x'>", "an SVG drawing"),
        (b"<svg:svg xmlns:svg='x'>", "an SVG drawing"),
        (b"<?xml version='1.0'?><list/>", "an XML document"),
        (zipped(), "a ZIP archive"),
        (b"%PDF-1.7\n%\xe2\xe3", "a PDF document"),
        (b"%!PS-Adobe-3.0 EPSF-3.0\n", "a PostScript file"),
        (b"\xc5\xd0\xd3\xc6\x20\0\0\0", "a PostScript file"),
        (b"8BPS\0\1", "a layered working document, not an export of it"),
        (
            b"version https://git-lfs.github.com/spec/v1\noid sha256:4d7a\nsize 12345\n",
            "a large-file pointer, not the picture itself",
        ),
        (b"\x89PNG\n\x1a\n\0\0\0\x0dIHDR", "a PNG whose line ends were changed in transfer"),
        (b"\x89PNG\r\r\n\x1a\r\n\0\0\0\x0d", "a PNG whose line ends were changed in transfer"),
        (b"\xef\xbf\xbdPNG\r\n\x1a\n", "a PNG that was saved as if it were text"),
        (b"\xff\xd8", "cut off after the first 2 bytes of a JPEG"),
        (b"iVBORw0KGgoAAAANSUhEUg", "a picture written out as text"),
        (b"BM\x36\0\0\0\0\0", "a BMP picture"),
        (b"BM 12 poster, proof 2", "plain text"),
        ("Größe: 3 × 4".encode(), "plain text"),
        (("ü" * 5000).encode(), "plain text"),
        ("Größe".encode("utf-16"), "plain text"),
        (b"RIFF\x24\0\0\0WAVEfmt ", "a sound file"),
        (box(b"ftyp", b"isom\0\0\0\0isommp42"), "a video"),
        (box(b"ftyp", b"mif1\0\0\0\0mif1miaf"), "a HEIF picture without AVIF content"),
        (box(b"ftyp", b"crx \0\0\0\1crx isom"), "a camera raw picture"),
        (bytes(36) + b"acsp" + bytes(88), "a color profile without a picture"),
        (bytes(257) + b"ustar" + bytes(250), "a TAR archive"),
        (b"\x93\x94\x95\x01", "of an unknown kind"),
    ],
)
def test_other_content_has_a_name(data, words):
    assert sniff(data) is None
    assert describe(data) == words
    with pytest.raises(DamagedError, match="can be checked"):
        read_header(data)
