"""Animations of each format: frames, times, plays, transparency, and what is not looked at."""

from __future__ import annotations

import io
import struct
import zlib
from dataclasses import replace

import pytest
from header_files import riff_chunk, vp8x, webp
from PIL import GifImagePlugin, Image, ImageChops

from pytest_webdeliverable.measure import motion
from pytest_webdeliverable.measure.headers import read_header
from pytest_webdeliverable.measure.limits import Limits
from pytest_webdeliverable.measure.motion import motion_facts

BLACK, WHITE = (0, 0, 0), (255, 255, 255)
LOSSLESS = {
    "GIF": {"loop": 0},
    "PNG": {"loop": 0},
    "WEBP": {"loop": 0, "lossless": True},
    "AVIF": {"quality": 100},
}


def flat(color, mode="RGB", size=(200, 150)):
    return Image.new(mode, size, color)


def encoded(frames, kind, duration=100, **options):
    file = io.BytesIO()
    frames[0].save(
        file, kind, save_all=True, append_images=frames[1:], duration=duration, **options
    )
    return file.getvalue()


def measured(data, **limits):
    return motion_facts(data, read_header(data), Limits(**limits))


def general(data, **limits):
    return measured(data, **limits)["general"]["flashes_per_second"]


@pytest.mark.parametrize("kind", LOSSLESS)
def test_every_format_is_played(kind):
    facts = measured(encoded([flat(BLACK), flat(WHITE)] * 3, kind, 100, **LOSSLESS[kind]))
    assert facts["frames"] == 6
    assert facts["counted"]
    assert facts["seconds"] == pytest.approx(0.6)
    assert facts["plays"] == 0
    assert facts["general"] == {"flashes_per_second": 5.0, "area": 30_000, "at": 0.1}
    assert facts["red"]["flashes_per_second"] == 0
    assert facts["undecided"] is None


@pytest.mark.parametrize("kind", LOSSLESS)
def test_a_slow_animation_passes(kind):
    assert general(encoded([flat(BLACK), flat(WHITE)], kind, 400, **LOSSLESS[kind])) == 1.5


@pytest.mark.parametrize(("written", "shown"), [(0, 100), (10, 100), (20, 20), (30, 30)])
def test_times_up_to_ten_milliseconds_are_shown_as_a_hundred(written, shown):
    """Gecko, Blink and WebKit, from their public issue threads."""
    data = encoded([flat(BLACK), flat(WHITE)], "GIF", written, loop=0)
    assert measured(data)["seconds"] == pytest.approx(2 * shown / 1000)


@pytest.mark.parametrize(
    ("kind", "options", "plays"),
    [
        ("GIF", {}, 1),  # without its extension a GIF plays once
        ("GIF", {"loop": 0}, 0),
        ("GIF", {"loop": 2}, 3),  # repetitions
        ("PNG", {"loop": 1}, 1),
        ("WEBP", {"loop": 4}, 4),
        ("AVIF", {}, 0),
    ],
)
def test_how_often_it_plays(kind, options, plays):
    assert measured(encoded([flat(BLACK), flat(WHITE)], kind, **options))["plays"] == plays


def test_played_once_there_is_no_seam():
    frames = [flat(BLACK), flat(WHITE)]
    assert general(encoded(frames, "GIF")) == 0
    assert general(encoded(frames, "GIF", loop=0)) == 5


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_transparency_is_seen_on_a_white_page(kind):
    frames = [flat((0, 0, 0, alpha), "RGBA") for alpha in (0, 255)]
    assert general(encoded(frames, kind, **LOSSLESS[kind])) == 5
    frames = [flat((255, 255, 255, alpha), "RGBA") for alpha in (0, 255)]
    assert general(encoded(frames, kind, **LOSSLESS[kind])) == 0


def test_a_gif_that_clears_to_transparent_is_seen_on_a_white_page():
    frames = [flat((0, 0, 0, alpha), "RGBA") for alpha in (0, 255)]
    assert general(encoded(frames, "GIF", loop=0, disposal=2)) == 5


def webp_frame(color, size, flags):
    """A frame at the corner for 0.1 s; the lowest flag clears it afterwards (RFC 9649, 2.7.1.1)."""
    still = encoded([flat(color, size=size)], "WEBP", lossless=True)
    numbers = (0, 0, size[0] - 1, size[1] - 1, 100)
    head = b"".join(number.to_bytes(3, "little") for number in numbers)
    return riff_chunk(b"ANMF", head + bytes((flags,)) + still[12:])


@pytest.mark.parametrize("alpha", [0, 0x10])
@pytest.mark.parametrize("background", [b"\0\0\0\xff", b"\xff\xff\xff\xff"])
def test_a_webp_that_clears_is_seen_on_a_white_page_whatever_its_flags_say(alpha, background):
    """Black and the page by turns, five pairs in a second; black that stays does not flash."""
    for flags, flashes in ((1, 5), (0, 0)):
        frames = [webp_frame(BLACK, (200, 150), flags), webp_frame(BLACK, (2, 2), 0)] * 2
        control = riff_chunk(b"ANIM", background + b"\0\0")
        assert general(webp(vp8x(2 | alpha, 200, 150), control, *frames)) == flashes


@pytest.mark.parametrize(
    ("mode", "dark", "light"),
    [("L", 0, 255), ("P", 0, 1), ("I;16", 0, 30_000), ("LA", (0, 255), (255, 255))],
)
def test_other_kinds_of_pixels(mode, dark, light):
    frames = [flat(dark, mode), flat(light, mode)]
    if mode == "P":
        for frame in frames:
            frame.putpalette([*BLACK, *WHITE])
    assert general(encoded(frames, "PNG", loop=0)) == 5


def test_sixteen_bits_keep_their_scale():
    """89 of 255 is no step from black, and neither is 89 times 256."""
    assert general(encoded([flat(0, "I;16"), flat(89 * 256, "I;16")], "PNG", loop=0)) == 0
    assert general(encoded([flat(0, "I;16"), flat(91 * 256, "I;16")], "PNG", loop=0)) == 5


def test_a_default_image_outside_the_animation_is_not_played():
    """PNG, Third Edition, 5.3: without a frame control before it, it is no frame."""
    data = encoded([flat(BLACK), flat(WHITE), flat(WHITE)], "PNG", loop=0, default_image=True)
    facts = measured(data)
    assert facts["general"]["flashes_per_second"] == 0


def test_still_pictures_are_at_rest():
    for kind in ("GIF", "PNG", "WEBP", "AVIF", "JPEG", "TIFF"):
        file = io.BytesIO()
        flat(WHITE).save(file, kind)
        facts = measured(file.getvalue())
        assert (facts["frames"], facts["counted"], facts["seconds"]) == (1, True, 0.0)
        assert facts["undecided"] is None


def test_pages_of_a_tiff_are_no_animation():
    assert measured(encoded([flat(BLACK), flat(WHITE)], "TIFF"))["frames"] == 1


def checker(square):
    board = Image.new("L", (256, 256))
    for y in range(0, 256, square):
        for x in range(y // square % 2 * square, 256, 2 * square):
            board.paste(255, (x, y, x + square, y + square))
    return board


@pytest.mark.parametrize(("square", "rate"), [(1, 0), (4, 10), (8, 10), (16, 10)])
def test_a_balanced_pattern_of_single_pixels_is_no_flash(square, rate):
    """WCAG 2.2, general flash: squares below 0.1 degree (3.4 px) are no flash, larger ones are."""
    board = checker(square)
    assert general(encoded([board, ImageChops.invert(board)], "PNG", 50, loop=0)) == rate


def test_dither_is_no_flash():
    grays = [flat(code, "L", (300, 300)).convert("1") for code in (120, 122, 124, 126)]
    assert general(encoded(grays, "PNG", 50, loop=0)) == 0


def test_frames_held_are_one_frame():
    data = encoded([flat(BLACK)] * 5 + [flat(WHITE)] * 5, "WEBP", 50, **LOSSLESS["WEBP"])
    assert general(data) == 2  # a change every 0.25 s


def test_large_pictures_are_sampled():
    size = (1600, 1200)
    frames = [flat(BLACK, size=size), flat(WHITE, size=size)]
    facts = measured(encoded(frames, "WEBP", **LOSSLESS["WEBP"]))
    assert facts["general"]["flashes_per_second"] == 5
    assert facts["general"]["area"] == pytest.approx(341 * 256, rel=0.03)


def test_a_flash_in_a_corner_of_a_large_picture_is_too_small():
    size = (1600, 1200)
    dark, light = flat(BLACK, size=size), flat(BLACK, size=size)
    light.paste(WHITE, (0, 0, 140, 140))
    assert general(encoded([dark, light], "PNG", loop=0)) == 0
    light.paste(WHITE, (0, 0, 160, 160))
    assert general(encoded([dark, light], "PNG", loop=0)) == 5


def test_no_more_frames_than_the_limit():
    data = encoded([flat((code, 0, 0)) for code in range(0, 200, 20)], "GIF", loop=0)
    facts = measured(data, frames=4)
    assert facts["frames"] == 10
    assert not facts["counted"]
    assert facts["seconds"] == pytest.approx(0.4)
    assert "first 4 of 10" in facts["undecided"]
    assert measured(data, frames=10)["counted"]


def test_no_more_pixels_than_the_limit():
    data = encoded([flat(BLACK), flat(WHITE)] * 3, "PNG", loop=0)
    assert "first 3 of 6" in measured(data, frame_pixels=3 * 200 * 150)["undecided"]
    facts = measured(data, pixels=200 * 150 - 1)
    assert "too large" in facts["undecided"]
    assert facts["frames"] == 6
    assert not facts["counted"]


def test_heavier_files_allow_fewer_frames():
    header = read_header(
        encoded([flat(BLACK, size=(1000, 1000)), flat(WHITE, size=(1000, 1000))], "GIF")
    )
    light = motion.affordable_frames(header, 10_000, Limits())
    heavy = motion.affordable_frames(header, 200_000_000, Limits())
    assert light > heavy >= motion.BUDGET * 1e9 // (1e6 * motion.WORST_PIXEL)


def test_an_animation_cut_short_is_undecided():
    data = encoded([flat((code, 90, 0)) for code in range(0, 200, 20)], "WEBP", **LOSSLESS["WEBP"])
    header = read_header(data)
    facts = motion_facts(data[: len(data) * 6 // 10], header)
    assert facts["undecided"]
    assert not facts["counted"]


def test_no_animation_at_all_is_undecided():
    data = encoded([flat(BLACK), flat(WHITE)], "GIF", loop=0)
    facts = motion_facts(b"GIF89a", read_header(data))
    assert "after frame 0" in facts["undecided"]


def test_a_frame_larger_than_the_animation_is_undecided():
    data = bytearray(encoded([flat(BLACK), flat(WHITE)], "GIF", loop=0))
    second = data.rindex(b"\x2c\0\0\0\0")
    data[second + 5 : second + 9] = struct.pack("<HH", 400, 150)
    assert measured(bytes(data))["undecided"] == "a frame reaches beyond the picture"
    unaware = replace(read_header(bytes(data)), problems=())
    assert "frame 2 is larger" in motion_facts(bytes(data), unaware)["undecided"]


def test_an_animation_that_promises_more_frames_than_it_has():
    data = encoded([flat(BLACK), flat(WHITE)], "PNG", loop=0)
    at = data.index(b"acTL")
    claim = b"acTL" + struct.pack(">II", 2_147_483_647, 0)
    data = data[:at] + claim + struct.pack(">I", zlib.crc32(claim)) + data[at + 16 :]
    header = read_header(data)
    assert motion_facts(data, header)["undecided"] == header.problems[0]
    assert motion_facts(data, replace(header, problems=()))["frames"] == 2


def test_frames_that_look_the_same_are_held_as_one():
    """Most writers join such frames themselves, so the sampler is asked directly."""
    sampler = motion._Sampler(200, 150, 8)
    for color in (BLACK, BLACK, WHITE, WHITE) * 2:
        sampler.take(flat(color), 100)
    assert sampler._milliseconds == [200] * 4
    general_flashes, _ = sampler.flashes(endless=True)
    assert general_flashes["flashes_per_second"] == 2.5


def test_frames_that_need_too_much_memory_are_undecided(monkeypatch):
    data = encoded([flat(BLACK), flat(WHITE)], "GIF", loop=0)
    header = read_header(data)

    def fail(self):
        raise MemoryError

    monkeypatch.setattr(GifImagePlugin.GifImageFile, "load", fail)
    assert motion_facts(data, header)["undecided"] == "frame 1 needs more memory than there is"
