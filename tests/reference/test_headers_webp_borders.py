"""WebP chunks by hand (RFC 9649 and RFC 6386, sections named beside) at their borders."""

from __future__ import annotations

import struct

import pytest
from header_files import riff_chunk, vp8l, vp8x, webp

from pytest_webdeliverable.measure.headers import webp as reader
from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.limits import Limits

EARLY = "the file ends before the picture does"
DAMAGED = "the picture data is damaged"
ANIM = riff_chunk(b"ANIM", bytes(6))


def vp8(width: int = 4, height: int = 3, *, tag: int = 0x10, start: bytes = b"\x9d\x01\x2a", rest: int = 9) -> bytes:  # fmt: skip
    """A lossy chunk with its heading only: RFC 6386, 9.1."""
    body = tag.to_bytes(3, "little") + start + struct.pack("<HH", width, height)
    return riff_chunk(b"VP8 ", body + bytes(rest))


def frame(left: int, top: int, width: int, height: int) -> bytes:
    """ANMF, section 2.7.1.1: places in pairs of pixels, sizes less one, 3 bytes each."""
    numbers = b"".join(one.to_bytes(3, "little") for one in (left, top, width - 1, height - 1, 100))
    return riff_chunk(b"ANMF", numbers + b"\0" + vp8l(width, height))


@pytest.mark.parametrize("side", [1, 2, 255, 256, 0x3FFF])
@pytest.mark.parametrize("hint", [0, 1, 3])
def test_sizes_of_lossy_data(side: int, hint: int) -> None:
    """RFC 6386, 9.1: 14 bits each; the two above them are a hint for scaling."""
    for size in ((side, 7), (9, side)):
        found = reader.read(webp(vp8(*(one | hint << 14 for one in size))))
        assert (found.width, found.height, found.alpha, found.problems) == (*size, False, ())


@pytest.mark.parametrize(
    ("tag", "start", "sound"),
    [(0x10, b"\x9d\x01\x2a", True), (0x11, b"\x9d\x01\x2a", False), (0x0E, b"\x9d\x01\x2a", True),
     (0x10, b"\x9c\x01\x2a", False), (0x10, b"\x9d\x00\x2a", False), (0x10, b"\x9d\x01\x2b", False)],
)  # fmt: skip
def test_the_start_of_a_key_frame(tag: int, start: bytes, sound: bool) -> None:
    """RFC 6386, 9.1: the lowest bit is 0 in a key frame; three bytes of start code."""
    data = webp(vp8x(0), vp8(tag=tag, start=start))
    assert reader.read(data).problems == (() if sound else (DAMAGED, "the file holds no picture data"))  # fmt: skip


@pytest.mark.parametrize(("name", "least"), [(b"VP8 ", 10), (b"VP8L", 5)])
def test_headings_that_are_just_whole(name: bytes, least: int) -> None:
    body = (vp8(rest=0) if name == b"VP8 " else vp8l())[8:][:least]
    assert reader.read(webp(riff_chunk(name, body))).problems == ()
    with pytest.raises(DamagedError, match="ends before"):
        reader.read(webp(riff_chunk(name, body[:-1])))


@pytest.mark.parametrize("bits", [0, 1 << 28, 1 << 29, 7 << 29, 0xF << 28])
def test_the_flag_of_alpha_in_lossless_data(bits: int) -> None:
    """Section 3.4: bit 28; the three above are the version."""
    body = b"\x2f" + struct.pack("<I", 3 | 2 << 14 | bits) + bytes(4)
    header = reader.read(webp(riff_chunk(b"VP8L", body)))
    assert (header.width, header.height, header.alpha) == (4, 3, bool(bits >> 28 & 1))
    with pytest.raises(DamagedError, match="damaged"):
        reader.read(webp(riff_chunk(b"VP8L", b"\x2e" + body[1:])))


@pytest.mark.parametrize("flags", range(256))
def test_flags_of_the_extended_format(flags: int) -> None:
    """Section 2.7: 0x20 profile, 0x10 alpha, 8 Exif, 4 XMP, 2 animation; the others are reserved."""
    profile = riff_chunk(b"ICCP", b"prof")
    header = reader.read(webp(vp8x(flags), profile, ANIM, frame(0, 0, 4, 3), vp8()))
    assert header.alpha == bool(flags & 0x10)
    assert header.icc == (b"prof" if flags & 0x20 else None)
    assert (header.icc_problem is None) == bool(flags & 0x20)
    assert (header.frames, header.problems) == (1, ())
    no_frames = reader.read(webp(vp8x(flags), vp8()))
    assert bool(no_frames.problems) == bool(flags & 2)


@pytest.mark.parametrize(("size", "whole"), [(9, False), (10, True), (11, True)])
def test_the_length_of_the_extended_heading(size: int, whole: bool) -> None:
    body = vp8x(0x10)[8:].ljust(11, b"\0")[:size]
    header = reader.read(webp(riff_chunk(b"VP8X", body), vp8()))
    assert (header.problems, header.alpha) == (() if whole else (EARLY,), whole)


@pytest.mark.parametrize(
    ("place", "inside"),
    [((0, 0, 300, 200), True), ((0, 0, 301, 200), False), ((0, 0, 300, 201), False),
     ((149, 0, 2, 1), True), ((149, 0, 3, 1), False), ((0, 99, 1, 2), True), ((0, 99, 1, 3), False),
     ((0x10000, 0, 1, 1), False), ((0, 0x10000, 1, 1), False)],
)  # fmt: skip
def test_frames_lie_on_a_larger_canvas(place, inside: bool) -> None:
    header = reader.read(webp(vp8x(2, 300, 200), ANIM, frame(*place), frame(0, 0, 1, 1)))
    outside = ("a frame of the animation reaches outside the picture",)
    assert (header.frames, header.problems) == (2, () if inside else outside)


@pytest.mark.parametrize(("size", "whole"), [(15, False), (16, True)])
def test_the_heading_of_a_frame(size: int, whole: bool) -> None:
    body = frame(0, 0, 4, 3)[8:][:size]
    header = reader.read(webp(vp8x(2), ANIM, riff_chunk(b"ANMF", body)))
    assert (header.frames, header.problems) == (1, () if whole else (EARLY,))


def test_frames_without_a_canvas() -> None:
    with pytest.raises(DamagedError, match="ends before"):
        reader.read(webp(ANIM, frame(0, 0, 4, 3)))


@pytest.mark.parametrize(
    ("less", "more", "problems"),
    [(0, b"", ()), (0, b"x", ("1 byte follows the end of the picture",)), (1, b"", (EARLY,)),
     (0, b"ab", ("2 bytes follow the end of the picture",))],
)  # fmt: skip
def test_the_stated_size_of_the_file(less: int, more: bytes, problems: tuple[str, ...]) -> None:
    """Section 2.4: the size counts what stands behind it."""
    data = webp(vp8l()) + more
    assert reader.read(data[: len(data) - less]).problems == problems


@pytest.mark.parametrize(("more", "told"), [(b"", False), (b"\0", False), (b"\0\0", True)])
def test_an_odd_size_of_the_file_may_be_padded(more: bytes, told: bool) -> None:
    """Section 2.3: chunks are padded to an even size, which the size of some files does not count."""
    body = b"WEBP" + vp8l() + b"XMP \1\0\0\0x"
    assert len(body) % 2 == 1
    header = reader.read(b"RIFF" + struct.pack("<I", len(body)) + body + more)
    assert header.xmp == (b"x",)
    assert header.problems == (("1 byte follows the end of the picture",) if told else ())


@pytest.mark.parametrize("size", [0, 1, 2, 3])
def test_chunks_of_odd_size_are_padded(size: int) -> None:
    data = webp(riff_chunk(b"XXXX", bytes(size)), vp8())
    assert reader.read(data).problems == ()


@pytest.mark.parametrize("cut", range(1, 8))
def test_a_last_chunk_whose_heading_is_cut(cut: int) -> None:
    body = b"WEBP" + vp8l() + b"XMP \0\0\0\0"[:cut]
    data = b"RIFF" + struct.pack("<I", len(body)) + body
    header = reader.read(data)
    assert (header.problems, header.xmp) == ((EARLY,), ())
    whole = webp(vp8l(), b"XMP \0\0\0\0")
    assert reader.read(whole).problems == ()


def test_the_first_of_repeated_chunks_counts() -> None:
    """Section 2.7: "all but the first may be ignored"; XMP is kept whole, since it may tell more."""
    parts = [riff_chunk(name, one) for one in (b"first!", b"second") for name in (b"ICCP", b"EXIF", b"XMP ")]  # fmt: skip
    header = reader.read(webp(vp8x(0x20), *parts, vp8(), vp8(5, 6)))
    assert (header.icc, header.exif, header.xmp) == (b"first!", b"first!", (b"first!", b"second"))
    assert (header.width, header.problems) == (4, ())
    for one, other in ((vp8(), vp8l(5, 6, alpha=True)), (vp8l(), vp8(5, 6))):
        plain = reader.read(webp(one, other))
        assert (plain.width, plain.height, plain.alpha, plain.problems) == (4, 3, False, ())


@pytest.mark.parametrize(("more", "read"), [(0, True), (1, False)])
def test_the_number_of_chunks(more: int, read: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reader, "WEBP_CHUNKS", 4)
    data = webp(vp8(), *[riff_chunk(b"XXXX", b"")] * (3 + more))
    if read:
        assert reader.read(data).width == 4
    else:
        with pytest.raises(DamagedError, match="more than 4 chunks"):
            reader.read(data)


@pytest.mark.parametrize(("most", "read"), [(7, True), (6, False)])
def test_metadata_up_to_what_is_allowed(most: int, read: bool) -> None:
    data = webp(vp8x(0), vp8(), riff_chunk(b"EXIF", b"abc"), riff_chunk(b"XMP ", b"defg"))
    if read:
        assert reader.read(data, Limits(metadata_bytes=most)).exif == b"abc"
    else:
        with pytest.raises(DamagedError, match="of metadata"):
            reader.read(data, Limits(metadata_bytes=most))


@pytest.mark.parametrize(("size", "words"), [((0, 5), "0 x 5"), ((5, 0), "5 x 0")])
def test_a_picture_without_a_side(size: tuple[int, int], words: str) -> None:
    with pytest.raises(DamagedError, match=words):
        reader.read(webp(vp8(*size)))


@pytest.mark.parametrize("size", [1, 0x100, 0x10000, 0x1000000])
def test_a_last_chunk_without_its_data(size: int) -> None:
    """Section 2.3: sizes have four bytes; of what is not there nothing is kept."""
    data = webp(vp8x(0), vp8(), b"XMP " + struct.pack("<I", size))
    assert (reader.read(data).problems, reader.read(data).xmp) == ((EARLY,), ())
    part = webp(vp8x(0), vp8(), b"XMP " + struct.pack("<I", size + 3) + b"abc")
    assert (reader.read(part).problems, reader.read(part).xmp) == ((EARLY,), (b"abc",))


@pytest.mark.parametrize(("more", "told"), [(-1, False), (0, False), (1, True), (15, True)])
def test_a_first_partition_beyond_its_chunk(more: int, told: bool) -> None:
    """RFC 6386, 9.1: 19 bits of size, of the whole chunk at most."""
    rest = 90
    data = webp(vp8(tag=(10 + rest + more) << 5 | 0x10, rest=rest))
    assert reader.read(data).problems == ((EARLY,) if told else ())
