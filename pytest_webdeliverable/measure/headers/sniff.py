"""Tell what a file is from its first bytes, whatever its name says."""

from __future__ import annotations

import codecs
import re
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.headers.base import Format

PEEK: Final = 4096
"""Bytes looked at; an SVG or HTML file shows its first element within them."""

PNG_SIGNATURE: Final = b"\x89PNG\r\n\x1a\n"
TIFF_SIGNATURES: Final = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
"""TIFF 6.0 section 2 and, with a plus sign (43), BigTIFF."""

_AVIF_BRANDS: Final = frozenset({b"avif", b"avis"})
_HEIC_BRANDS: Final = frozenset(
    {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"hevm", b"hevs"}
)
_IMAGE_BRANDS: Final = frozenset({b"mif1", b"msf1", b"mif2", b"mif3", b"jpeg", b"avci", b"vvic"})

_TEXT_SIGNATURES: Final = (
    (b"version https://git-lfs", "a large-file pointer, not the picture itself"),
    (b"/annex/objects/", "a large-file pointer, not the picture itself"),
    (b"%!PS", "a PostScript file"),
    (b"%PDF-", "a PDF document"),
    (b"{\\rtf", "a text document"),
    (b"data:image/", "a picture written out as text"),
    (b"iVBORw0KGgo", "a picture written out as text"),
    (b"/9j/4", "a picture written out as text"),
    (b"R0lGODlh", "a picture written out as text"),
)
"""First characters of files that are text, or begin like it."""

_SIGNATURES: Final = (
    (b"\xc5\xd0\xd3\xc6", "a PostScript file"),
    (b"PK\x03\x04", "a ZIP archive"),
    (b"PK\x05\x06", "an empty ZIP archive"),
    (b"Rar!\x1a\x07", "a RAR archive"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"\xfd7zXZ\0", "an XZ archive"),
    (b"(\xb5/\xfd", "a Zstandard archive"),
    (b"8BPS", "a layered working document, not an export of it"),
    (b"\x06\x06\xed\xf5\xd8\x1d\x46\xe5", "a page layout document, not an export of it"),
    (b"\0\0\0\x0cJXL \r\n\x87\n", "a JPEG XL picture"),
    (b"\xff\x0a", "a JPEG XL picture"),
    (b"\0\0\0\x0cjP  \r\n\x87\n", "a JPEG 2000 picture"),
    (b"\xff\x4f\xff\x51", "a JPEG 2000 picture"),
    (b"\x8aMNG\r\n\x1a\n", "an MNG animation"),
    (b"\x8bJNG\r\n\x1a\n", "a JNG picture"),
    (b"BM", "a BMP picture"),
    (b"\0\0\1\0", "an icon file"),
    (b"icns", "an icon file"),
    (b"qoif", "a QOI picture"),
    (b"FUJIFILMCCD-RAW", "a camera raw picture"),
    (b"FORM", "an IFF file"),
    (b"\xd7\xcd\xc6\x9a", "a WMF drawing"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an office document"),
    (b"OTTO", "a font"),
    (b"wOFF", "a font"),
    (b"wOF2", "a font"),
    (b"\0\1\0\0\0", "a font"),
    (b"\0\5\x16\7", "a Mac companion file, not the picture beside it"),
    (b"\x1aE\xdf\xa3", "a video"),
    (b"OggS", "a sound or video file"),
    (b"ID3", "a sound file"),
    (b"fLaC", "a sound file"),
    (b"\x7fELF", "a program"),
    (b"MZ", "a program"),
    (b"\x89PNG\n\x1a\n", "a PNG whose line ends were changed in transfer"),
    (b"\x89PNG\r\r\n\x1a\r\n", "a PNG whose line ends were changed in transfer"),
    (b"\x89PNG\r\n\x1a\r\n", "a PNG whose line ends were changed in transfer"),
    (b"\x89PNG\r\x1a\r", "a PNG whose line ends were changed in transfer"),
    (b"\x09PNG", "a PNG that lost its eighth bits in transfer"),
    (b"\xef\xbf\xbdPNG", "a PNG that was saved as if it were text"),
    (b"\xef\xbf\xbd\xef\xbf\xbd\xef\xbf\xbd", "a picture that was saved as if it were text"),
    (b"\xc3\xbf\xc3\x98\xc3\xbf", "a JPEG that was saved as if it were text"),
)
"""First bytes of files met in place of a picture, and their name in a designer's words.

PNG line ends: PNG Third Edition, 5.2 (the signature holds CR LF, Ctrl-Z and LF so that a transfer
as text shows). The others are the formats' own signatures, from memory.
"""

_PICTURE_STARTS: Final = (
    (PNG_SIGNATURE, "PNG"),
    (b"\xff\xd8\xff", "JPEG"),
    (b"GIF89a", "GIF"),
    (b"GIF87a", "GIF"),
    (b"II*\0", "TIFF"),
    (b"MM\0*", "TIFF"),
)

_TAG: Final = re.compile(rb"<(?:[A-Za-z][\w.-]*:)?([A-Za-z][\w.-]*|!doctype\s+\w+)", re.IGNORECASE)
_HTML_TAGS: Final = frozenset(
    {b"html", b"head", b"body", b"title", b"script", b"div", b"p", b"meta", b"table", b"h1", b"a"}
)
_TEXT_CONTROLS: Final = bytes({*range(9, 14), 27, *range(32, 256)})


def sniff(data: bytes) -> Format | None:
    """Return the format the content belongs to, or None when it is none of the six.

    Multi-picture JPEG files (MPO) are JPEG. AVIF needs ``avif`` or ``avis`` among the brands of its
    ``ftyp`` box (AVIF v1, sections 6 and 7), so that a HEIC picture with a false name is not AVIF.
    """
    if data.startswith(b"\xff\xd8\xff"):
        return "jpeg"
    if data.startswith(PNG_SIGNATURE):
        return "png"
    if data.startswith((b"GIF87a", b"GIF89a")):
        return "gif"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "webp"
    if data.startswith(TIFF_SIGNATURES):
        return "tiff"
    if _brands(data) & _AVIF_BRANDS:
        return "avif"
    return None


def describe(data: bytes) -> str:
    """Name the content in a few words with their article, for a sentence such as "the file is ...".

    Never raises.
    """
    known = sniff(data)
    if known is not None:
        names = {"jpeg": "JPEG", "png": "PNG", "gif": "GIF", "webp": "WebP", "tiff": "TIFF"}
        return "an AVIF picture" if known == "avif" else f"a {names[known]} picture"
    if not data:
        return "an empty file"
    head = data[:PEEK]
    return (
        _starting_with(_TEXT_SIGNATURES, head)
        or _started_picture(head)
        or _text(head)
        or _starting_with(_SIGNATURES, head)
        or _container(head)
        or ("nothing but zero bytes" if not data.strip(b"\0") else "of an unknown kind")
    )


def _starting_with(table: tuple[tuple[bytes, str], ...], head: bytes) -> str | None:
    return next((words for signature, words in table if head.startswith(signature)), None)


def _brands(data: bytes) -> set[bytes]:
    """Major and compatible brands of an ISO base media file, empty for anything else."""
    if data[4:8] != b"ftyp":
        return set()
    end = min(int.from_bytes(data[:4], "big"), PEEK, len(data))
    return {data[8:12]} | {data[at : at + 4] for at in range(16, end - 3, 4)}


def _started_picture(head: bytes) -> str | None:
    """Recognize a file that ends within the first bytes of a picture."""
    for signature, name in _PICTURE_STARTS:
        if len(head) > 1 and signature.startswith(head):
            return f"cut off after the first {len(head)} bytes of a {name}"
    return None


def _container(head: bytes) -> str | None:
    brands = _brands(head)
    if brands & _HEIC_BRANDS:
        return "a HEIC picture"
    if brands & _IMAGE_BRANDS:
        return "a HEIF picture without AVIF content"
    if b"crx " in brands:
        return "a camera raw picture"
    if brands:
        return "a video"
    if head[:4] == b"RIFF":
        return {b"WAVE": "a sound file", b"AVI ": "a video"}.get(
            head[8:12], "a RIFF file, not WebP"
        )
    if head[36:40] == b"acsp":
        return "a color profile without a picture"
    if head[257:262] == b"ustar":
        return "a TAR archive"
    return None


def _text(head: bytes) -> str | None:
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "plain text"
    bare = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    if bare.startswith(b"<"):
        tags = [name.lower().split()[-1] for name in _TAG.findall(bare)]
        first = next((name for name in tags if name in _HTML_TAGS or name == b"svg"), None)
        if first == b"svg":
            return "an SVG drawing"
        if first is not None:
            return "an HTML page"
        if bare.startswith(b"<?xml"):
            return "an XML document"
    if not head.translate(None, _TEXT_CONTROLS) and _is_utf8(head):
        return "plain text"
    return None


def _is_utf8(head: bytes) -> bool:
    """Whether the bytes are UTF-8, but for a character that the end of the peek may cut."""
    decoder = codecs.getincrementaldecoder("utf-8")()
    try:
        decoder.decode(head, final=len(head) < PEEK)
    except UnicodeDecodeError:
        return False
    return True
