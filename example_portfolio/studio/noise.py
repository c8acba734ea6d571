"""Seeded fractal noise and tone fields as float pictures, by Pillow's own operations."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING, Any

from PIL import Image, ImageMath

if TYPE_CHECKING:
    from collections.abc import Callable


def compute(rule: Callable[[dict[str, Any]], Any], **fields: Image.Image | float) -> Image.Image:
    """Arithmetic over whole float pictures, and numbers beside them."""
    result = ImageMath.lambda_eval(rule, **fields)
    if not isinstance(result, Image.Image):
        raise TypeError("the rule did not give a picture")
    return result


def grains(width: int, height: int, seed: int) -> Image.Image:
    """Independent values from -1 to 1."""
    raw = random.Random(seed).randbytes(width * height)
    field = Image.frombytes("L", (width, height), raw).convert("F")
    return compute(lambda f: f["a"] / 127.5 - 1.0, a=field)


def smooth(width: int, height: int, across: float, down: float, seed: int) -> Image.Image:
    """Noise whose features are about `across` x `down` px."""
    cols, rows = int(width / across) + 4, int(height / down) + 4
    box = (1.5, 1.5, 1.5 + width / across, 1.5 + height / down)
    return grains(cols, rows, seed).resize((width, height), Image.Resampling.BICUBIC, box=box)


def fractal(
    width: int,
    height: int,
    across: float,
    down: float,
    seed: int,
    octaves: int = 5,
    fade: float = 0.5,
) -> Image.Image:
    """Sum of octaves, each half as large and `fade` as strong as the one before."""
    total = smooth(width, height, across, down, seed)
    strength = 1.0
    for i in range(1, octaves):
        strength *= fade
        finer = smooth(width, height, across / 2**i, down / 2**i, seed + i)
        total = compute(lambda f: f["a"] + f["b"] * f["s"], a=total, b=finer, s=strength)
    return total


def rows(width: int, height: int, value: Callable[[float], float]) -> Image.Image:
    """Return a field that depends on the height alone; value of 0 (top) to 1 (bottom)."""
    line = Image.new("F", (1, height))
    line.putdata([value(i / (height - 1)) for i in range(height)])
    return line.resize((width, height), Image.Resampling.NEAREST)


def columns(width: int, height: int, value: Callable[[float], float]) -> Image.Image:
    """Return a field that depends on the position across alone; value of 0 (left) to 1 (right)."""
    line = Image.new("F", (width, 1))
    line.putdata([value(i / (width - 1)) for i in range(width)])
    return line.resize((width, height), Image.Resampling.NEAREST)


def film_grain(width: int, height: int, seed: int) -> Image.Image:
    """Soft-edged grain, about -1 to 1 and near normal."""
    coarse = smooth(width, height, 1.6, 1.6, seed)
    fine = grains(width, height, seed + 1)
    return compute(lambda f: f["a"] * 0.6 + f["b"] * 0.4, a=coarse, b=fine)


def to_rgb(red: Image.Image, green: Image.Image, blue: Image.Image) -> Image.Image:
    """Three float fields (0..255) as one picture; values beyond are cut."""
    return Image.merge(
        "RGB", [c.point(lambda v: v * 1 + 0.5).convert("L") for c in (red, green, blue)]
    )
