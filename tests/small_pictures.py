"""Signatures and planes made of given cells, without the program that reduces pictures to them."""

from __future__ import annotations

import base64
import zlib

import numpy as np

from pytest_webdeliverable.likeness.signature import Plane


def plane(array):
    return Plane(rows=[[float(value) for value in row] for row in np.atleast_2d(array)])


def by_hand(luma, cb=128, cr=128, size=None, mode="rgb"):
    """A signature of given cells, packed with zlib and base 64 as its docstring says."""
    luma = np.clip(np.rint(np.asarray(luma, float)), 0, 255).astype(np.uint8)
    height, width = luma.shape
    half = -(-height // 2), -(-width // 2)
    colors = [np.broadcast_to(np.asarray(c, np.uint8), half).tobytes() for c in (cb, cr)]
    text = lambda data: base64.b64encode(data).decode()  # noqa: E731
    return {
        "size": list(size or (width * 10, height * 10)),
        "mode": mode,
        "grid": [width, height],
        "luma": text(zlib.compress(luma.tobytes())),
        "chroma": text(zlib.compress(b"".join(colors))),
        "coarse": text(bytes(192)),
    }


def art(seed=0, height=24, width=32):
    y, x = np.mgrid[:height, :width] / 4.0
    phase = np.random.default_rng(seed).uniform(0, 6, 4)
    waves = np.sin(x + phase[0]) + np.cos(y + phase[1]) + np.sin(x * 0.3 + y * 0.7 + phase[2])
    return 128 + 25 * waves
