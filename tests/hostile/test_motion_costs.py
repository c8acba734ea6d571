"""Animations made to cost: each must give facts within 5 s of processor time and 512 MB.

The attacks and what they cost a plain reader are listed in docs (safety). Each runs in a process of
its own, which the system ends at the limit.
"""

from __future__ import annotations

import io
import struct
import zlib

import pytest
from bounded import bounded
from PIL import Image

pytest.importorskip("resource", reason="limits of processes are POSIX")

MEASURE = """
from pytest_webdeliverable.measure.headers import read_header
from pytest_webdeliverable.measure.motion import motion_facts

def measured(data):
    return motion_facts(data, read_header(data))
"""


def gif(side, frames, frame_side=1, disposal=0):
    """One pixel of data a frame, on a large screen or said to be large itself."""
    head = b"GIF89a" + struct.pack("<HHBBB", side, side, 0x80, 0, 0) + bytes(3) + b"\xff" * 3
    place = struct.pack("<HHHHB", 0, 0, frame_side, frame_side, 0)
    frame = b"!\xf9\4" + bytes([disposal << 2]) + b"\4\0\0\0," + place + b"\2\2D\1\0"
    return head + b"!\xff\x0bNETSCAPE2.0\3\1\0\0\0" + frame * frames + b";"


def gif_growing(side, frame_side):
    """Small at first, with later frames that reach far beyond the screen and are cleared again."""
    head = gif(side, 0)[:-1]
    return gif(side, 1)[:-1] + gif(side, 40, frame_side, disposal=2)[len(head) :]


def webp(side, frames, frame_sides):
    def chunk(name, data):
        return name + struct.pack("<I", len(data)) + data + bytes(len(data) % 2)

    def three(number):
        return number.to_bytes(3, "little")

    pictures = []
    for color in ("red", "blue"):
        file = io.BytesIO()
        Image.new("RGB", (frame_sides, frame_sides), color).save(file, "WEBP", lossless=True)
        place = bytes(6) + three(frame_sides - 1) * 2 + three(20) + b"\0"
        pictures.append(chunk(b"ANMF", place + file.getvalue()[12:]))
    body = b"WEBP" + chunk(b"VP8X", b"\2\0\0\0" + three(side - 1) * 2) + chunk(b"ANIM", bytes(6))
    body += b"".join(pictures) * (frames // 2)
    return b"RIFF" + struct.pack("<I", len(body)) + body


def png(side, frames, *, noise=False):
    def chunk(name, data):
        return (
            struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        )

    rows = [b"\0" + bytes((color, 0, 0)) * side for color in (0, 255)]
    if noise:
        pixels = Image.effect_noise((side * 3, side), 90).tobytes()
        rows = [b"\0" + pixels[at : at + side * 3] for at in (0, side * 3)]
    packed = [zlib.compress(row * side, 1) for row in rows]
    parts = [
        b"\x89PNG\r\n\x1a\n",
        chunk(b"IHDR", struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)),
        chunk(b"acTL", struct.pack(">II", frames, 0)),
    ]
    for number in range(frames):
        control = struct.pack(">IIIIIHHBB", max(0, 2 * number - 1), side, side, 0, 0, 2, 100, 0, 0)
        parts.append(chunk(b"fcTL", control))
        if number:
            parts.append(chunk(b"fdAT", struct.pack(">I", 2 * number) + packed[number % 2]))
        else:
            parts.append(chunk(b"IDAT", packed[0]))
    return b"".join([*parts, chunk(b"IEND", b"")])


def noise(kind, side, frames, **options):
    pictures = [
        Image.effect_noise((side, side), 90 + number % 3) for number in range(min(frames, 4))
    ]
    if kind != "GIF":  # whose choice of colors would take a minute
        pictures = [Image.merge("RGB", (one, one.rotate(90), one.rotate(180))) for one in pictures]
    file = io.BytesIO()
    more = [pictures[number % len(pictures)] for number in range(1, frames)]
    pictures[0].save(file, kind, save_all=True, append_images=more, duration=20, loop=0, **options)
    return file.getvalue()


ATTACKS = {
    "gif-9000-px-300-frames": lambda: gif(9000, 300),
    "gif-5000-px-300-frames": lambda: gif(5000, 300),
    "gif-100-px-frames-of-13000-px": lambda: gif_growing(100, 13_000),
    "gif-100000-frames": lambda: gif(16, 100_000),
    "webp-4000-px-2000-frames": lambda: webp(4000, 2000, 1),
    "webp-4000-px-2000-full-frames": lambda: webp(4000, 2000, 4000),
    "png-4000-px-100-frames": lambda: png(4000, 100),
    "png-600-px-300-frames": lambda: png(600, 300),
    "png-2000-px-60-frames-of-noise": lambda: png(2000, 60, noise=True),
    "gif-noise": lambda: noise("GIF", 700, 40),
    "webp-noise": lambda: noise("WEBP", 500, 30, method=0),
    "avif-noise": lambda: noise("AVIF", 500, 30, speed=10, quality=95),
}


@pytest.mark.parametrize("attack", ATTACKS)
def test_costs_stay_bounded(tmp_path, attack):
    path = tmp_path / "attack"
    path.write_bytes(ATTACKS[attack]())
    facts = bounded(MEASURE, path)
    assert facts["frames"] >= 30
    assert facts["counted"] is (facts["undecided"] is None)
