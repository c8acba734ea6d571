"""Pictures with the detail of photographs, drawn by seed, and the same pictures with a past."""

from __future__ import annotations

import io
import random
from functools import cache

from PIL import Image, ImageChops, ImageDraw, ImageFilter


@cache
def photograph(width: int = 800, height: int = 600, seed: int = 1) -> Image.Image:
    """Layers of noise from coarse to fine with a few edges, drawn larger and reduced: no past."""
    final, (width, height) = (width, height), (round(width * 2.6), round(height * 2.6))
    rnd = random.Random(seed)
    bands = []
    for _ in range(3):
        whole = Image.new("L", (width, height), 128)
        for radius in (40, 12, 4):
            noise = Image.frombytes("L", (width, height), rnd.randbytes(width * height))
            soft = noise.filter(ImageFilter.GaussianBlur(radius))
            # blurring white noise by a radius leaves about a (2 sqrt(pi) radius)th of its contrast
            strong = [max(0, min(255, round(128 + (v - 128) * 1.8 * radius))) for v in range(256)]
            whole = Image.blend(whole, soft.point(strong), 0.5)
        bands.append(whole)
    picture = Image.merge("RGB", bands)
    draw = ImageDraw.Draw(picture)
    for _ in range(6):
        x, y = rnd.randrange(width), rnd.randrange(height)
        draw.ellipse((x, y, x + 240, y + 180), fill=tuple(rnd.randrange(40, 215) for _ in range(3)))
    grain = Image.frombytes("L", (width, height), rnd.randbytes(width * height))
    speckle = grain.point([v // 6 for v in range(256)])
    drawn = ImageChops.add(picture, Image.merge("RGB", [speckle] * 3))
    return drawn.resize(final, Image.Resampling.LANCZOS)


def as_jpeg(picture: Image.Image, quality: int) -> Image.Image:
    buffer = io.BytesIO()
    picture.save(buffer, "JPEG", quality=quality)
    again = Image.open(buffer)
    again.load()
    return again


def in_mode(picture: Image.Image, mode: str) -> Image.Image:
    """The picture in any of Pillow's modes, also those that have no direct way; LAB has none at all."""
    gray = picture.convert("L")
    if mode == "LAB":
        return Image.new("LAB", picture.size)
    if mode in {"I;16", "PA"}:
        return gray.convert(mode[0]).convert(mode)
    return (gray if mode in {"1", "I", "F", "LA"} else picture).convert(mode)


def flat_art(width: int = 800, height: int = 600) -> Image.Image:
    """Plain areas with hard edges, and text-like strokes: vector art."""
    picture = Image.new("RGB", (width, height), "#f4efe4")
    draw = ImageDraw.Draw(picture)
    draw.rectangle((60, 60, width // 2, height - 80), fill="#c8402c")
    draw.ellipse((width // 3, 100, width - 90, height - 60), fill="#20435c")
    for x in range(80, width - 80, 17):
        draw.line((x, 20, x + 6, 44), fill="#111111", width=3)
    return picture


def halftone(width: int = 800, height: int = 600, step: int = 6) -> Image.Image:
    """Dots on a square screen, growing from left to right."""
    picture = Image.new("L", (width, height), 255)
    draw = ImageDraw.Draw(picture)
    for y in range(0, height, step):
        for x in range(0, width, step):
            radius = 0.4 + 2.2 * x / width
            draw.ellipse((x - radius + 3, y - radius + 3, x + radius + 3, y + radius + 3), fill=0)
    return picture.convert("RGB")


def gradient(width: int = 800, height: int = 600) -> Image.Image:
    return Image.linear_gradient("L").resize((width, height)).convert("RGB")
