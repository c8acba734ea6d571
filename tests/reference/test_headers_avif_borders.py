"""AVIF files written by hand: turns, tracks, metadata and color statements at their borders.

ISO/IEC 23008-12 (properties 6.5, Exif A.2.1), 14496-12 (tracks, chapter 8), AV1 in ISOBMFF (2.3.3).
"""

from __future__ import annotations

import struct

import numpy as np
import pytest
from header_files import AV1C, avif, box, infe, ispe

from pytest_webdeliverable.measure.headers import avif as reader
from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.limits import Limits

EXIF_TURNS = {
    1: lambda a: a,
    2: np.fliplr,
    3: lambda a: np.rot90(a, 2),
    4: np.flipud,
    5: np.transpose,
    6: lambda a: np.rot90(a, -1),
    7: lambda a: np.rot90(a, 2).T,
    8: np.rot90,
}
"""How a stored picture is to be shown (Exif, CIPA DC-008, 4.6.5: place of the first row and column)."""


@pytest.mark.parametrize("turn", [None, 0, 1, 2, 3])
@pytest.mark.parametrize("mirror", [None, 0, 1])
def test_turns_then_mirrors_as_numpy_does_them(turn: int | None, mirror: int | None) -> None:
    """irot: quarter turns anticlockwise; imir: axis 0 exchanges top and bottom, 1 left and right."""
    picture = np.arange(6).reshape(2, 3)
    shown = np.rot90(picture, turn or 0)
    if mirror is not None:
        shown = np.fliplr(shown) if mirror else np.flipud(shown)
    # The upper bits are reserved.
    properties = [ispe(3, 2), AV1C]
    properties += [] if turn is None else [box(b"irot", bytes([0xFC | turn])), box(b"irot", b"\1")]
    properties += [] if mirror is None else [box(b"imir", bytes([0xFE | mirror]))]
    header = reader.read(avif(properties=tuple(properties)))
    assert np.array_equal(EXIF_TURNS[header.orientation](picture), shown)
    assert (header.width, header.height) == (3, 2)


@pytest.mark.parametrize("flags", range(256))
def test_every_third_byte_of_a_configuration(flags: int) -> None:
    """Tier, high bit depth, twelve bits, monochrome, subsampling of 2 bits, position of 2 bits."""
    _, high, twelve, gray = (flags >> at & 1 for at in (7, 6, 5, 4))
    config = box(b"av1C", bytes([0x81, 0xFF, flags, 0xFF]))
    header = reader.read(avif(properties=(ispe(4, 3), config)))
    assert header.bits == (8, 10, 8, 12)[high + 2 * twelve]
    assert header.mode == ("gray" if gray else "rgb")


def test_neither_channels_nor_configuration() -> None:
    header = reader.read(avif(properties=(ispe(4, 3),)))
    assert (header.mode, header.bits) == ("rgb", 8)


@pytest.mark.parametrize("range_bits", [0x00, 0x7F, 0x80, 0xFF])
def test_coded_color_numbers(range_bits: int) -> None:
    """14496-12, 12.1.5: three numbers of 2 bytes, and a bit; the first box of a kind counts."""
    nclx = box(b"colr", b"nclx", struct.pack(">HHHB", 0x0102, 0x0304, 0x0506, range_bits))
    other = box(b"colr", b"nclx", struct.pack(">HHHB", 1, 1, 1, 0))
    profiles = (box(b"colr", b"rICC", b"restricted"), box(b"colr", b"prof", b"second"))
    header = reader.read(avif(properties=(ispe(4, 3), AV1C, nclx, other, *profiles)))
    assert header.signals.cicp == (0x0102, 0x0304, 0x0506, range_bits >> 7)
    assert (header.icc, header.icc_problem) == (b"restricted", None)
    unknown = reader.read(avif(properties=(ispe(4, 3), AV1C, box(b"colr", b"nclc", bytes(7)))))
    assert (unknown.signals.cicp, unknown.icc) == (None, None)


def test_a_profile_without_content() -> None:
    header = reader.read(avif(properties=(ispe(4, 3), AV1C, box(b"colr", b"prof"))))
    assert (header.icc, header.icc_problem) == (None, "the color profile is empty")


def with_exif(stored: bytes, more: bytes = b"") -> bytes:
    """A file with an Exif item, and another, in its idat box."""
    rows = b"".join(
        struct.pack(">HHHHII", item, 1, 0, 1, at, size)
        for item, at, size in ((1, 0, 1), (2, 1, len(stored)), (3, 1 + len(stored), len(more)))
        if item < 3 or more
    )
    return avif(
        box(b"iinf", b"\0\2", infe(2, b"Exif"), infe(3, b"Exif"), full=0),
        box(b"idat", b"p", stored, more),
        locations=box(b"iloc", b"\x44\0" + struct.pack(">H", 3 if more else 2), rows, full=1 << 24),
    )


@pytest.mark.parametrize(
    ("stated", "body", "exif"),
    [(0, b"II*\0rest", b"II*\0rest"), (5, b"12345II*\0", b"II*\0"), (1, b"\0II*\0", b"II*\0"),
     (300, bytes(300) + b"MM\0*", b"MM\0*"), (7, b"II*\0ABC", b"II*\0ABC"), (6, b"II*\0ABC", b"C"),
     (2**24, b"II*\0ABC", b"II*\0ABC"), (0, b"Exif\0\0II*\0", b"II*\0"), (0, b"x", b"x")],
)  # fmt: skip
def test_exif_begins_behind_what_is_stated(stated: int, body: bytes, exif: bytes) -> None:
    """23008-12, A.2.1; a place at or beyond the end is none, so that Exif is taken from its start."""
    assert reader.read(with_exif(struct.pack(">I", stated) + body)).exif == exif


def test_the_first_exif_counts() -> None:
    assert reader.read(with_exif(bytes(4) + b"II*\0", bytes(4) + b"MM\0*")).exif == b"II*\0"


@pytest.mark.parametrize(("most", "read"), [(8, True), (7, False)])
def test_metadata_up_to_what_is_allowed(most: int, read: bool) -> None:
    data = with_exif(bytes(4) + b"II*\0")
    if read:
        assert reader.read(data, Limits(metadata_bytes=most)).exif == b"II*\0"
    else:
        with pytest.raises(DamagedError, match="of metadata"):
            reader.read(data, Limits(metadata_bytes=most))


def track(
    *,
    kind: bytes = b"pict",
    head: int = 0,
    sizes: bytes = struct.pack(">II", 0, 0),
    entry: bytes = box(b"av01", bytes(78), box(b"av1C", b"\x81\0\x40\0")),
    size: tuple[int, int] = (40, 30),
    more: bytes = b"",
) -> bytes:
    """A track of pictures; the heading's version has 20 or 32 bytes of times (14496-12, 8.3.2)."""
    times = bytes(32 if head else 20)
    heading = times + bytes(52) + struct.pack(">II", size[0] << 16, size[1] << 16)
    table = box(
        b"stbl",
        box(b"stsd", b"\0\0\0\1", entry, full=0),
        box(b"stsz", sizes, full=0),
    )
    return box(
        b"trak",
        box(b"tkhd", heading, full=head << 24 | 0xFFFFFF),
        box(b"mdia", box(b"hdlr", bytes(4), kind, bytes(13), full=0), box(b"minf", table)),
        more,
    )


def movie(*tracks: bytes, brand: bytes = b"avis") -> bytes:
    return box(b"ftyp", brand, b"\0\0\0\0avis") + box(b"moov", *tracks)


@pytest.mark.parametrize("version", [0, 1])
@pytest.mark.parametrize("size", [(40, 30), (1, 1), (65_535, 257)])
def test_the_size_of_a_track(version: int, size: tuple[int, int]) -> None:
    """14496-12, 8.3.2: width and height have 16 bits behind the point, which are none here."""
    header = reader.read(movie(track(head=version, size=size)))
    assert (header.width, header.height, header.bits, header.frames) == (*size, 10, 1)
    assert header.problems == ()


@pytest.mark.parametrize(
    ("each", "claimed", "listed", "frames", "told"),
    [(0, 3, 3, 3, False), (0, 4, 3, 3, True), (0, 2, 3, 2, False), (0, 0, 0, 1, False),
     (0, 1, 0, 1, True), (10, 5, 0, 5, False)],
)  # fmt: skip
def test_frames_that_a_track_claims(
    each: int, claimed: int, listed: int, frames: int, told: bool
) -> None:
    """14496-12, 8.7.3: one size for all, or a list of one number a frame."""
    header = reader.read(movie(track(sizes=struct.pack(">II", each, claimed) + bytes(4 * listed))))
    assert header.frames == frames
    sentence = f"the animation claims {claimed:,} frames, more than the file can hold"
    assert header.problems == ((sentence,) if told else ())


@pytest.mark.parametrize("more", [0, 1])
def test_frames_of_one_size_that_just_fit(more: int) -> None:
    """As many bytes as the file has hold as many frames of one byte."""
    length = len(movie(track()))
    header = reader.read(movie(track(sizes=struct.pack(">II", 1, length + more))))
    assert (header.frames, len(header.problems)) == (length, more)
    assert reader.read(movie(track(sizes=struct.pack(">II", length, 1)))).problems == ()
    assert reader.read(movie(track(sizes=struct.pack(">II", length + 1, 1)))).frames == 1


def test_tracks_of_other_kinds_are_passed_over() -> None:
    """Sound, a track without media, media without a handler; the first track of pictures counts."""
    others = (box(b"mvhd", bytes(9)), box(b"trak"), box(b"trak", box(b"mdia", box(b"free"))))
    sound = track(kind=b"soun", size=(9, 9))
    header = reader.read(movie(*others, sound, track(), track(size=(7, 7))))
    assert (header.width, header.height, header.alpha) == (40, 30, False)
    assert reader.read(movie(track(), track(kind=b"auxv"))).alpha
    with pytest.raises(DamagedError, match="no picture"):
        reader.read(movie(sound))


@pytest.mark.parametrize(("brand", "size"), [(b"avis", (40, 30)), (b"avif", (4, 3))])
def test_the_major_brand_tells_animation_from_picture(brand: bytes, size: tuple[int, int]) -> None:
    data = avif().replace(b"ftypavif", b"ftyp" + brand) + box(b"moov", track())
    header = reader.read(data)
    assert (header.width, header.height) == size
    alone = reader.read(movie(track(), brand=brand))
    assert (alone.width, alone.height) == (40, 30)


@pytest.mark.parametrize("kind", [b"tkhd", b"minf", b"stbl", b"stsd", b"av01", b"stsz"])
def test_a_track_without_one_of_its_tables(kind: bytes) -> None:
    with pytest.raises(DamagedError, match="does not describe its frames"):
        reader.read(movie(track()).replace(kind, b"free"))


def test_bytes_behind_the_boxes_are_counted() -> None:
    data = avif()
    for rest, words in ((b"\0\0\0\x08\xff\xd8\xff\xe0", "8 bytes follow"), (bytes(300), "300 bytes follow")):  # fmt: skip
        assert reader.read(data + rest).problems == (f"{words} the end of the picture",)


@pytest.mark.parametrize("urn", [b"urn:mpeg:mpegB:cicp:systems:auxiliary:alpha\0", b"urn:mpeg:hevc:2015:auxid:1\0", b"urn:mpeg:hevc:2015:auxid:2\0"])  # fmt: skip
@pytest.mark.parametrize("of", [1, 9])
def test_planes_that_are_alpha_of_the_picture(urn: bytes, of: int) -> None:
    """23008-12, 6.5.8: auxC says what a plane is; a reference, whose it is."""
    rows = struct.pack(">IHBBHBB", 2, 1, 1, 1, 2, 1, 2)
    data = avif(
        box(b"iprp", box(b"ipco", AV1C, box(b"auxC", urn, full=0)), box(b"ipma", rows, full=0)),
        box(b"iref", box(b"auxl", struct.pack(">HHH", 2, 1, of)), full=0),
    )
    assert reader.read(data).alpha == (of == 1 and not urn.endswith(b"2\0"))
