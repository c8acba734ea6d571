"""Sides of a picture as the edge detector sees them, made from plain numpy arrays."""

from __future__ import annotations

import numpy as np
from PIL import Image

from pytest_webdeliverable.measure.edges.profile import Profile

Array = np.ndarray


def side_of(ycc: Array, segment: int = 1) -> Profile:
    """Return a side whose segment means are ``ycc[line, segment, band]`` (codes of Y, Cb, Cr)."""
    codes = np.clip(np.rint(ycc), 0, 255).astype(np.uint8)
    means = Image.frombytes("YCbCr", (codes.shape[1], codes.shape[0]), codes.tobytes())
    rgb = means.convert("RGB")
    pixels = rgb.resize((rgb.width * segment, rgb.height), Image.Resampling.NEAREST)
    luma, blue, red = ([row.tobytes() for row in codes[..., band]] for band in range(3))
    length = codes.shape[1] * segment
    return Profile("top", length, segment, luma, blue, red, pixels, means)


def gray(luma: Array) -> Array:
    """Return luma with neutral chroma beside it."""
    return np.stack([luma, np.full_like(luma, 128), np.full_like(luma, 128)], -1).astype(float)


def cut(art: Array, page: Array, depth: Array) -> Array:
    """Return art ``[line, segment, band]`` covered by a page color to a depth (px) per segment.

    A line covered by the share ``a`` of its height is ``a * page + (1 - a) * art``.
    """
    line = np.arange(art.shape[0])[:, None]
    share = np.clip(np.asarray(depth, float)[None, :] - line, 0, 1)[..., None]
    return share * np.asarray(page, float) + (1 - share) * art


def seen(one: Array, other: Array) -> float:
    """Return CIEDE2000 of two Y, Cb, Cr colors, by the JFIF matrix and our (Sharma-tested) formula."""
    from pytest_webdeliverable.measure.ciede2000 import delta_e

    first, second = (to_rgb(np.asarray(color, float)) for color in (one, other))
    return delta_e(first, second)


def to_rgb(ycc: Array) -> tuple[int, int, int]:
    """Return 8-bit R, G, B of one color by JFIF 1.02, equations on its page 3 (BT.601)."""
    matrix = np.array([[1, 0, 1.402], [1, -0.34414, -0.71414], [1, 1.772, 0]])
    red, green, blue = np.clip(np.rint(matrix @ (ycc - [0, 128, 128])), 0, 255).astype(int)
    return int(red), int(green), int(blue)
