"""GIF blocks by hand (GIF89a, sections named beside): lengths, flags and places at their borders."""

from __future__ import annotations

import struct

import pytest
from header_files import GIF_CONTROL, GIF_FRAME, XMP_TRAILER, application, gif, sub_blocks

from pytest_webdeliverable.measure.headers import gif as reader
from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.limits import Limits

EARLY = "the file ends before the picture does"


def screen(flags: int = 0x80, size: tuple[int, int] = (4, 3), table: int = 6) -> bytes:
    """Logical screen descriptor, section 18, and its color table."""
    return b"GIF89a" + struct.pack("<HHBBB", *size, flags, 0, 0) + bytes(table)


def frame(
    place: tuple[int, int, int, int] = (0, 0, 4, 3),
    flags: int = 0,
    table: int = 0,
    code: int = 2,
    blocks: bytes = b"\x02\x84\x51\0",
) -> bytes:
    """Image descriptor, section 20, its color table and the compressed pixels (section 22)."""
    return b"," + struct.pack("<HHHHB", *place, flags) + bytes(table) + bytes([code]) + blocks


@pytest.mark.parametrize("size", [12, 13, 14])
def test_a_screen_alone(size: int) -> None:
    """Section 18: thirteen bytes with the signature."""
    assert len(screen(0, table=0)) == 13
    with pytest.raises(DamagedError, match="ends before" if size < 13 else "holds no picture"):
        reader.read((screen(0, table=0) + b";")[:size])


@pytest.mark.parametrize(("code", "sound"), [(0, False), (1, True), (2, True), (8, True), (11, True), (12, False), (255, False)])  # fmt: skip
def test_bits_of_a_pixel(code: int, sound: bool) -> None:
    """Section 22 and appendix F: codes begin one bit longer and have 12 bits at most."""
    header = reader.read(screen() + frame(code=code) + b";")
    assert header.problems == (() if sound else ("the picture data is damaged",))


@pytest.mark.parametrize(
    ("second", "told"),
    [((0, 0, 4, 3), False), ((3, 2, 1, 1), False), ((3, 0, 2, 1), True), ((0, 2, 1, 2), True),
     ((4, 3, 0, 0), False), ((0, 0, 5, 3), True), ((0, 0, 4, 4), True)],
)  # fmt: skip
def test_later_frames_lie_on_the_screen(second: tuple[int, int, int, int], told: bool) -> None:
    """Section 20: each image must fit within the boundaries of the logical screen."""
    header = reader.read(screen() + frame() + frame(second) + b";")
    assert (header.frames, header.width, header.height) == (2, 4, 3)
    assert header.problems == (("a frame reaches beyond the picture",) if told else ())


@pytest.mark.parametrize(
    ("place", "size"),
    [((0, 0, 4, 3), (4, 3)), ((2, 0, 4, 3), (6, 3)), ((0, 5, 4, 3), (4, 8)), ((1, 1, 1, 1), (4, 3)),
     ((300, 513, 1, 1), (301, 514))],
)  # fmt: skip
def test_the_first_frame_may_enlarge_the_screen(place, size) -> None:
    """As viewers do it; common practice, no source."""
    header = reader.read(screen() + frame(place) + frame((size[0] - 1, size[1] - 1, 1, 1)) + b";")
    assert (header.width, header.height, header.problems) == (*size, ())


@pytest.mark.parametrize(("size", "words"), [((0, 3), "0 x 3"), ((4, 0), "4 x 0")])
def test_a_screen_without_a_side(size: tuple[int, int], words: str) -> None:
    with pytest.raises(DamagedError, match=words):
        reader.read(screen(size=size) + frame((0, 0, *size)) + b";")


@pytest.mark.parametrize("flags", range(0, 256, 17))
@pytest.mark.parametrize("length", [3, 4, 5])
def test_the_flag_of_transparency(flags: int, length: int) -> None:
    """Section 23: a block of 4 bytes, whose first has the flag in its lowest bit."""
    control = b"!\xf9" + bytes([length, flags]) + bytes(length - 1) + b"\0"
    header = reader.read(screen() + control + frame() + b";")
    assert header.alpha == (length == 4 and flags % 2 == 1)
    other = reader.read(screen() + control.replace(b"\xf9", b"\xf8") + frame() + b";")
    assert not other.alpha


def test_the_last_control_before_the_first_frame_counts() -> None:
    opaque = GIF_CONTROL.replace(b"\x04\x01", b"\x04\x00")
    assert reader.read(gif(opaque, GIF_CONTROL, GIF_FRAME, opaque, GIF_FRAME)).alpha
    assert not reader.read(gif(GIF_CONTROL, opaque, GIF_FRAME)).alpha


@pytest.mark.parametrize("cut", range(1, 15))
def test_a_second_frame_that_is_cut(cut: int) -> None:
    """Whatever is missing of it is told: descriptor, code size, blocks or their end."""
    data = screen() + frame() + frame()[:-cut]
    header = reader.read(data)
    # The code size stands right behind the ten bytes of the descriptor.
    whole_descriptor = len(frame()) - cut >= 11
    assert header.frames == 1 + whole_descriptor
    assert header.problems == (EARLY,)


def test_a_file_without_its_trailer() -> None:
    """Section 27: one byte ends the file; bytes before it belong to no block."""
    missing = ("the end mark of the file is missing",)
    assert reader.read(screen() + frame()).problems == missing
    assert reader.read(screen() + frame() + b"\0").problems == missing
    assert reader.read(screen() + frame() + b"\0;").problems == (
        "there are stray bytes between the parts of the file",
    )
    assert reader.read(screen() + frame() + b";\0").problems == (
        "1 byte follows the end of the picture",
    )


@pytest.mark.parametrize("lengths", [(), (1,), (255,), (255, 255, 1), (3, 2, 1)])
def test_a_profile_in_sub_blocks_of_any_length(lengths: tuple[int, ...]) -> None:
    """Section 15: a length of 1 to 255, then as many bytes; 0 ends them."""
    pieces = [bytes([at]) * length for at, length in enumerate(lengths, 1)]
    stored = b"".join(bytes([len(piece)]) + piece for piece in pieces) + b"\0"
    data = gif(application(b"ICCRGBG1012", stored), GIF_FRAME)
    header = reader.read(data)
    assert header.icc == (b"".join(pieces) or None)
    assert header.icc_problem == (None if lengths else "the color profile is empty")
    twice = gif(application(b"ICCRGBG1012", stored), application(b"ICCRGBG1012", sub_blocks(b"other")), GIF_FRAME)  # fmt: skip
    assert reader.read(twice).icc == (b"".join(pieces) or b"other")


def test_applications_by_their_whole_name() -> None:
    """Section 26: eight letters and a code of three; another label is no application."""
    for name in (b"ICCRGBG1011", b"ICCRGBG2012", b"XMP DataXMQ"):
        header = reader.read(gif(application(name, sub_blocks(b"text")), GIF_FRAME))
        assert (header.icc, header.xmp) == (None, ())
    comment = application(b"ICCRGBG1012", sub_blocks(b"text")).replace(b"\xff", b"\xfe", 1)
    assert reader.read(gif(comment, GIF_FRAME)).icc is None


def test_xmp_ends_at_its_trailer() -> None:
    """XMP Specification Part 3, 1.1.2: the trailer's first byte is 1; the text stands as it is."""
    for text in (b"x", b"<x>" + b"\x01" * 9 + b"</x>", b"y" * 70_000):
        data = gif(application(b"XMP DataXMP", text + XMP_TRAILER), GIF_FRAME)
        assert reader.read(data).xmp == (text,)
    two = gif(*[application(b"XMP DataXMP", one + XMP_TRAILER) for one in (b"a", b"b")], GIF_FRAME)
    assert reader.read(two).xmp == (b"a", b"b")


def test_a_cut_application_says_nothing() -> None:
    stored = application(b"ICCRGBG1012", sub_blocks(b"profile"))
    assert reader.read(gif(GIF_FRAME, stored[:-1], end=b"")).icc is None
    assert reader.read(gif(GIF_FRAME, stored, end=b"")).icc == b"profile"


@pytest.mark.parametrize(("most", "read"), [(6, True), (5, False)])
def test_the_allowance_counts_stored_bytes(most: int, read: bool) -> None:
    data = gif(application(b"ICCRGBG1012", sub_blocks(b"abcd")), GIF_FRAME)
    if read:
        assert reader.read(data, Limits(metadata_bytes=most)).icc == b"abcd"
    else:
        with pytest.raises(DamagedError, match="of metadata"):
            reader.read(data, Limits(metadata_bytes=most))


@pytest.mark.parametrize("more", [0, 1])
def test_the_number_of_blocks(more: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Sub-blocks and the zeros that end them, over all frames: four frames of two each."""
    monkeypatch.setattr(reader, "GIF_SUB_BLOCKS", 8)
    data = gif(*[GIF_FRAME] * 4, *[b"!\xfe\0"] * more)
    if more:
        with pytest.raises(DamagedError, match="more than 8 blocks"):
            reader.read(data)
    else:
        assert reader.read(data).frames == 4


@pytest.mark.parametrize("there", range(8))
def test_a_frame_that_is_cut_within_its_color_table(there: int) -> None:
    """Section 21: here 6 bytes, then the code size and the blocks."""
    data = screen() + frame() + frame(flags=0x80, table=6)[: 10 + there]
    header = reader.read(data)
    assert header.frames == 1 + (there > 0)
    assert header.problems == (EARLY,)
