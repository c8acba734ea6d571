"""Frames of a GIF put together as browsers do it: GIF89a, sections 20, 21 and 23, worked in numpy.

Where a frame gives way to the background, browsers show the page (Gecko, Blink, WebKit), and so they do
where there was nothing before.
"""

from __future__ import annotations

import io
import itertools
import struct

import numpy as np
import pytest
from header_files import saved
from PIL import Image

from pytest_webdeliverable.measure.gif_frames import dispose, lay, parts
from pytest_webdeliverable.measure.headers import read_header
from pytest_webdeliverable.measure.motion import motion_facts

BLACK, WHITE, RED = (0, 0, 0), (255, 255, 255), (255, 0, 0)
COLORS = (BLACK, WHITE, RED, (0, 0, 255))
LOOP = b"!\xff\x0bNETSCAPE2.0\3\1\0\0\0"


def coded(pixels):
    """Code size and sub-blocks of indices up to 3, as Pillow packs them."""
    picture = Image.fromarray(pixels.astype(np.uint8), "P")
    picture.putpalette([part for color in COLORS for part in color])
    data = saved(picture, "GIF", interlace=0, optimize=False)
    start = 13 + (3 << (data[10] & 7) + 1)
    return data[data.index(b",", start) + 10 : -1], data[10] & 7, data[13:start]


def gif(size, *frames, local=False, background=0, delay=10):
    """Frames are pixels, left, top, disposal, see-through index or None."""
    _, depth, table = coded(np.array([[3]]))
    flags = 0x70 if local else 0xF0 | depth
    out = (
        b"GIF89a"
        + struct.pack("<2H3B", *size, flags, background, 0)
        + (b"" if local else table)
        + LOOP
    )
    for pixels, left, top, disposal, clear in frames:
        height, width = pixels.shape
        control = struct.pack("<BHBB", disposal << 2 | (clear is not None), delay, clear or 0, 0)
        place = struct.pack("<4HB", left, top, width, height, 0x80 | depth if local else 0)
        out += b"!\xf9\4" + control + b"," + place + (table if local else b"") + coded(pixels)[0]
    return out + b";"


def shown(data):
    """What is seen after each frame, RGBA."""
    canvas, found = Image.new("RGBA", read_size(data)), []
    for part in parts(data):
        canvas, before = lay(data, part, canvas)
        found.append(np.asarray(canvas.convert("RGBA")))
        canvas = dispose(part, canvas, before)
    return found


def read_size(data):
    header = read_header(data)
    assert not header.problems
    return header.width, header.height


def expected(size, frames):
    canvas, found = np.zeros((size[1], size[0], 4), np.uint8), []
    table = np.array([(*color, 255) for color in COLORS], np.uint8)
    for pixels, left, top, disposal, clear in frames:
        before = canvas.copy()
        place = np.s_[top : top + pixels.shape[0], left : left + pixels.shape[1]]
        drawn = np.ones(pixels.shape, bool) if clear is None else pixels != clear
        canvas[place][drawn] = table[pixels][drawn]
        found.append(canvas.copy())
        if disposal == 2:
            canvas[place] = 0
        elif disposal in {3, 4}:
            canvas = before
    return found


def some_frames(seed):
    numbers = np.random.default_rng(seed)
    for _ in range(6):
        width, height = numbers.integers(1, 9), numbers.integers(1, 7)
        left, top = numbers.integers(0, 9 - width), numbers.integers(0, 7 - height)
        if numbers.random() < 0.4:
            width, height, left, top = 8, 6, 0, 0
        clear = int(numbers.integers(0, 4)) if numbers.random() < 0.5 else None
        pixels = numbers.integers(0, 4, (height, width))
        yield pixels, left, top, int(numbers.integers(0, 5)), clear


@pytest.mark.parametrize("seed", range(60))
def test_every_way_to_dispose_of_frames(seed):
    frames = list(some_frames(seed))
    wanted = expected((8, 6), frames)
    for local, background in itertools.product((False, True), (0, 1)):
        found = shown(gif((8, 6), *frames, local=local, background=background))
        assert len(found) == len(wanted)
        for number, (one, other) in enumerate(zip(found, wanted, strict=True)):
            visible = other[..., 3:] > 0  # the color of what is see-through is not seen
            assert (one[..., 3] == other[..., 3]).all(), (seed, number)
            assert (np.where(visible, one, 0) == np.where(visible, other, 0)).all(), (seed, number)


def test_blends_that_pillow_knows_are_the_same():
    """Frames that stay, with and without see-through parts, by an independent decoder."""
    frames = [(*frame[:3], 1, frame[4]) for frame in some_frames(5)]
    frames[0] = (np.full((6, 8), 2), 0, 0, 1, None)
    data = gif((8, 6), *frames)
    with Image.open(io.BytesIO(data)) as opened:
        for number, found in enumerate(shown(data)):
            opened.seek(number)
            assert (np.asarray(opened.convert("RGBA")) == found).all()


def test_a_control_block_is_for_one_frame():
    data = gif((4, 3), (np.full((3, 4), 1), 0, 0, 2, 1))
    frame = data[data.index(b",", data.index(LOOP)) : -1]
    first, second = parts(data[:-1] + frame + b";")
    assert (first.disposal, first.clear, first.milliseconds) == (2, 1, 100)
    assert (second.disposal, second.clear, second.milliseconds) == (0, None, 0)


FULL = np.zeros((300, 400), int)
DOT = np.zeros((1, 1), int)


@pytest.mark.parametrize("local", [False, True])
@pytest.mark.parametrize("disposal", [2, 3, 4])
def test_black_that_gives_way_to_the_page_flashes(disposal, local):
    """WCAG 2.2, SC 2.3.1: black and white by turns, five pairs in a second, over the whole picture."""
    data = gif((400, 300), *[(FULL, 0, 0, disposal, None), (DOT, 0, 0, 1, None)] * 2, local=local)
    assert motion_facts(data, read_header(data))["general"]["flashes_per_second"] == 5
    still = gif((400, 300), *[(FULL, 0, 0, 1, None), (DOT, 0, 0, 1, None)] * 2, local=local)
    assert motion_facts(still, read_header(still))["general"]["flashes_per_second"] == 0
