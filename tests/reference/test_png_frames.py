"""Frames of an animated PNG put together: PNG Third Edition, 11.3.6.2, worked in numpy.

Disposal 0 stays, 1 clears to fully transparent black, 2 brings back what was there (1 for the first frame);
blending 0 replaces all samples, alpha included, 1 lays the frame over.
"""

from __future__ import annotations

import struct
import zlib

import numpy as np
import pytest
from header_files import PNG_START, chunk
from PIL import Image

from pytest_webdeliverable.measure.headers import read_header
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS
from pytest_webdeliverable.measure.motion import motion_facts
from pytest_webdeliverable.measure.png_frames import Frames, dispose

GRAY, RGB, PALETTE, GRAY_ALPHA, RGBA = 0, 2, 3, 4, 6
SAMPLES = {GRAY: 1, RGB: 3, PALETTE: 1, GRAY_ALPHA: 2, RGBA: 4}
TABLE = np.array([(0, 0, 0), (255, 255, 255), (255, 0, 0), (0, 0, 255)], np.uint8)


def packed(samples):
    return zlib.compress(b"".join(b"\0" + row.tobytes() for row in samples.astype(np.uint8)))


def png(size, kind, frames, *, shared=b"", default=None):
    """Frames are samples (rows, columns, samples), left, top, disposal, blending."""
    parts = [PNG_START, chunk(b"IHDR", struct.pack(">2I5B", *size, 8, kind, 0, 0, 0))]
    parts += [chunk(b"acTL", struct.pack(">2I", len(frames), 0))]
    parts += [chunk(b"PLTE", TABLE.tobytes())] if kind == PALETTE else []
    parts += [shared] + ([chunk(b"IDAT", packed(default))] if default is not None else [])
    number = 0
    for index, (samples, left, top, disposal, blending) in enumerate(frames):
        height, width = samples.shape[:2]
        control = (number, width, height, left, top, 1, 10, disposal, blending)
        parts.append(chunk(b"fcTL", struct.pack(">5I2H2B", *control)))
        number += 1
        if index == 0 and default is None:
            parts.append(chunk(b"IDAT", packed(samples)))
            continue
        coded = packed(samples)  # cut in two, as writers may
        for piece in (coded[:7], coded[7:]):
            parts.append(chunk(b"fdAT", struct.pack(">I", number) + piece))
            number += 1
    return b"".join([*parts, chunk(b"IEND")])


def colors(samples, kind, clear):
    """RGBA of the samples of a frame; ``clear`` is the one that tRNS makes see-through."""
    plain = {GRAY: [0] * 3, RGB: [0, 1, 2], GRAY_ALPHA: [0] * 3, RGBA: [0, 1, 2]}
    rgb = TABLE[samples[..., 0]] if kind == PALETTE else samples[..., plain[kind]]
    alpha = np.full(samples.shape[:2], 255)
    if kind in {GRAY_ALPHA, RGBA}:
        alpha = samples[..., -1]
    elif clear is not None:
        alpha = np.where((samples == clear).all(axis=-1), 0, 255)
    return np.dstack([rgb, alpha]).astype(np.uint8)


def expected(size, kind, frames, clear=None):
    canvas, found = np.zeros((size[1], size[0], 4), np.uint8), []
    for index, (samples, left, top, disposal, blending) in enumerate(frames):
        before = canvas.copy()
        place = np.s_[top : top + samples.shape[0], left : left + samples.shape[1]]
        drawn = colors(samples, kind, clear)
        seen = (drawn[..., 3] > 0) | (blending == 0)
        canvas[place][seen] = drawn[seen]
        found.append(canvas.copy())
        if disposal == 1 or (disposal == 2 and index == 0):
            canvas[place] = 0
        elif disposal == 2:
            canvas = before
    return found


def shown(data):
    header = read_header(data)
    assert not header.problems
    canvas, found = Image.new("RGBA", (header.width, header.height)), []
    frames = Frames(data, header, DEFAULT_LIMITS)
    for part in frames.parts():
        before = frames.lay(part, canvas)
        found.append(np.asarray(canvas).copy())
        dispose(part, canvas, before)
    return found


def some_frames(kind, seed):
    numbers = np.random.default_rng(seed)
    for index in range(6):
        width, height = (8, 6) if index == 0 else (numbers.integers(1, 9), numbers.integers(1, 7))
        left, top = numbers.integers(0, 9 - width), numbers.integers(0, 7 - height)
        samples = numbers.integers(0, 4, (height, width, SAMPLES[kind]))
        if kind in {GRAY_ALPHA, RGBA}:
            samples[..., -1] = 255 * (samples[..., -1] > 1)  # no mixes, whose rounding differs
        yield samples, left, top, int(numbers.integers(0, 3)), int(numbers.integers(0, 2))


def agree(found, wanted):
    assert len(found) == len(wanted)
    for one, other in zip(found, wanted, strict=True):
        assert (one[..., 3] == other[..., 3]).all()
        visible = other[..., 3:] > 0
        assert (np.where(visible, one, 0) == np.where(visible, other, 0)).all()


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("kind", SAMPLES)
def test_every_way_to_lay_and_dispose_of_frames(kind, seed):
    frames = list(some_frames(kind, seed))
    agree(shown(png((8, 6), kind, frames)), expected((8, 6), kind, frames))


@pytest.mark.parametrize(
    ("kind", "clear", "told"),
    [(GRAY, [2], b"\0\2"), (RGB, [1, 2, 3], b"\0\1\0\2\0\3"), (PALETTE, [1], b"\xff\0")],
)
@pytest.mark.parametrize("seed", range(5))
def test_a_color_that_is_see_through(kind, clear, told, seed):
    frames = list(some_frames(kind, seed))
    frames[1][0][0] = clear
    data = png((8, 6), kind, frames, shared=chunk(b"tRNS", told))
    agree(shown(data), expected((8, 6), kind, frames, np.array(clear)))


def test_the_picture_for_other_programs_is_no_frame():
    frames = list(some_frames(RGB, 3))
    data = png((8, 6), RGB, frames, default=np.full((6, 8, 3), 9))
    agree(shown(data), expected((8, 6), RGB, frames))


@pytest.mark.parametrize("kind", [GRAY, RGB, PALETTE])
@pytest.mark.parametrize(("disposal", "flashes"), [(0, 0), (1, 5), (2, 5)])
def test_black_that_gives_way_to_the_page_flashes(kind, disposal, flashes):
    """WCAG 2.2, SC 2.3.1: black and white by turns, five pairs in a second, over the whole picture."""
    full, dot = (np.zeros((*shape, SAMPLES[kind]), int) for shape in ((300, 400), (1, 1)))
    frames = [(full, 0, 0, disposal, 0), (dot, 0, 0, 0, 0)] * 2
    data = png((400, 300), kind, frames)
    assert motion_facts(data, read_header(data))["general"]["flashes_per_second"] == flashes
