"""A first frame that leaves part of its canvas free: browsers show the page there, whatever it says.

GIF89a, sections 18 and 20: a frame has a place on the screen, and a background color is for what no frame
covers; RFC 9649, 2.7.1.1: readers need not fill the canvas with it. Browsers do not (Gecko, Blink, WebKit).
"""

from __future__ import annotations

import struct

import numpy as np
import pytest
from header_files import riff_chunk, saved, vp8x, webp
from PIL import Image

from pytest_webdeliverable.measure.content import content_facts
from pytest_webdeliverable.measure.decode import decode
from pytest_webdeliverable.measure.headers import read_header

SIZE = (40, 30)
BOXES = [
    (0, 0, 40, 30),
    (0, 0, 36, 30),
    (4, 0, 40, 30),
    (0, 2, 40, 30),
    (0, 0, 40, 28),
    (6, 4, 30, 20),
]
"""Places of the frame on the canvas; those of a WebP are even (2.7.1.2)."""


def drawn(box):
    size = (box[2] - box[0], box[3] - box[1])
    return Image.merge("RGB", [Image.linear_gradient("L").resize(size)] * 3)


def gif(box, background=0):
    """A frame with its own color table on a screen with another, of which a color is the background."""
    data = saved(drawn(box).convert("L"), "GIF", interlace=0)
    table = 13 + (3 << (data[10] & 7) + 1)
    frame = data.index(b",", table)
    place = struct.pack(
        "<4HB", box[0], box[1], box[2] - box[0], box[3] - box[1], 0x80 | data[10] & 7
    )
    screen = b"GIF89a" + struct.pack("<2H3B", *SIZE, 0xF0, background, 0) + b"\xff\xff\xff\0\0\0"
    return screen + b"," + place + data[13:table] + data[frame + 10 :]


def moving_webp(box):
    still = saved(drawn(box), "WEBP", lossless=True)
    place = [box[0] // 2, box[1] // 2, box[2] - box[0] - 1, box[3] - box[1] - 1, 100]
    frame = b"".join(number.to_bytes(3, "little") for number in place) + b"\0" + still[12:]
    return webp(
        vp8x(2, *SIZE), riff_chunk(b"ANIM", b"\xff" * 4 + b"\0\0"), riff_chunk(b"ANMF", frame)
    )


@pytest.mark.parametrize("box", BOXES)
@pytest.mark.parametrize("make", [gif, lambda box: gif(box, 1), moving_webp])
def test_what_the_first_frame_leaves_free_is_see_through(make, box):
    """The free share is that of the areas; the frame stands in its place."""
    data = make(box)
    header = read_header(data)
    covered = (box[2] - box[0]) * (box[3] - box[1]) / (SIZE[0] * SIZE[1])
    facts = content_facts(data, ["pixels"])
    assert facts["pixels"]["see_through"] == pytest.approx(1 - covered)
    assert header.alpha == (covered < 1)
    assert header.covered == (None if covered == 1 else box)
    shown = np.asarray(decode(data, header).picture.convert("RGBA"))
    expected = np.zeros((SIZE[1], SIZE[0], 4), np.uint8)
    expected[box[1] : box[3], box[0] : box[2]] = np.asarray(drawn(box).convert("RGBA"))
    assert (shown[..., 3] == expected[..., 3]).all()
    assert (shown == expected).all()


def test_a_sliver_that_no_frame_covers_is_a_gap():
    from pytest_webdeliverable.measure.edges import edge_facts

    data = gif((3, 0, 40, 30))
    (gap,) = edge_facts(decode(data, read_header(data)).picture)["gaps"]
    assert (gap["side"], gap["depth"], gap["color"]) == ("left", 3.0, "transparent")
