"""Art drawn by us, seeded: what posters, spreads and packaging look like along their edges.

No drawing has a line of its own within 14 px of an edge and parallel to it, unless its kind says so
(stripes, checks and halftones repeat inward, a mount is 14 px or more): each is art without a fault.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

Size = tuple[int, int]
Color = tuple[int, int, int]
Draw = Callable[[random.Random, Size], Image.Image]

CLEAR = 14
"""px along the edges kept free of straight lines that run beside them."""


def any_color(rng: random.Random) -> Color:
    return rng.randrange(256), rng.randrange(256), rng.randrange(256)


def ramp(size: Size, first: Color, last: Color, angle: float, power: float = 1.0) -> Image.Image:
    """A linear gradient at an angle (radians), first color to last."""
    width, height = size
    x, y = np.meshgrid(np.linspace(0, 1, width), np.linspace(0, 1, height))
    t = x * math.cos(angle) + y * math.sin(angle)
    t = ((t - t.min()) / (np.ptp(t) + 1e-9)) ** power
    pixels = np.stack([a + (b - a) * t for a, b in zip(first, last, strict=True)], axis=-1)
    return Image.fromarray((pixels + 0.5).clip(0, 255).astype(np.uint8), "RGB")


def noise(rng: random.Random, size: Size, grain: int, contrast: float) -> Image.Image:
    """Smooth random texture: one random cell per ``grain`` px, grown to size."""
    cells = max(2, size[0] // grain), max(2, size[1] // grain)
    values = np.random.default_rng(rng.randrange(2**32)).normal(128, contrast, cells[::-1])
    small = Image.fromarray(values.clip(0, 255).astype(np.uint8), "L")
    return small.resize(size, Image.Resampling.BICUBIC)


def with_grain(rng: random.Random, picture: Image.Image, strength: float) -> Image.Image:
    pixels = np.asarray(picture.convert("RGB"), dtype=np.float32)
    grain = np.random.default_rng(rng.randrange(2**32)).normal(0, strength, pixels.shape[:2])
    return Image.fromarray((pixels + grain[..., None]).clip(0, 255).astype(np.uint8), "RGB")


def _inner_box(rng: random.Random, size: Size) -> tuple[int, int, int, int]:
    """A box whose sides either run off the picture or keep clear of its edges."""
    width, height = size

    def span(length: int) -> tuple[int, int]:
        low = rng.choice((-20, rng.randrange(CLEAR, length // 2)))
        high = rng.choice((length + 20, rng.randrange(length // 2, length - CLEAR)))
        return low, max(high, low + 24)

    left, right = span(width)
    top, bottom = span(height)
    return left, top, min(right, width + 40), min(bottom, height + 40)


def _shapes(rng: random.Random, picture: Image.Image, count: int) -> None:
    draw = ImageDraw.Draw(picture)
    for _ in range(count):
        color, box = any_color(rng), _inner_box(rng, picture.size)
        match rng.randrange(4):
            case 0:
                draw.rectangle(box, fill=color)
            case 1:
                draw.ellipse(box, fill=color)
            case 2:
                points = [
                    (
                        rng.randrange(-50, picture.width + 50),
                        rng.randrange(-50, picture.height + 50),
                    )
                    for _ in range(rng.randrange(3, 6))
                ]
                draw.polygon(points, fill=color)
            case _:
                start = rng.randrange(-50, picture.width), rng.randrange(-50, picture.height)
                end = rng.randrange(picture.width), rng.randrange(picture.height + 50)
                draw.line((start, end), fill=color, width=rng.randrange(2, 60))


def poster(rng: random.Random, size: Size) -> Image.Image:
    picture = Image.new("RGB", size, any_color(rng))
    _shapes(rng, picture, rng.randrange(4, 14))
    lettering(rng, picture, rng.randrange(1, 4))
    return picture


def lettering(rng: random.Random, picture: Image.Image, lines: int) -> None:
    """Rows of letter-like blocks, kept clear of the edges as type is."""
    draw = ImageDraw.Draw(picture)
    for _ in range(lines):
        tall = rng.randrange(10, max(11, picture.height // 6))
        left = rng.randrange(30, max(31, picture.width // 2))
        top = rng.randrange(30, max(31, picture.height - tall - 30))
        color = any_color(rng)
        while left < picture.width - 40 - tall // 2:
            wide = rng.randrange(2, tall // 2 + 3)
            if rng.random() < 0.8:
                draw.rectangle((left, top, left + wide, top + tall), fill=color)
            left += wide + max(2, tall // 8)


def gradient(rng: random.Random, size: Size) -> Image.Image:
    return ramp(size, any_color(rng), any_color(rng), rng.uniform(0, 2 * math.pi))


def fade(rng: random.Random, size: Size) -> Image.Image:
    """A sky that fades to white at one edge."""
    power = rng.uniform(0.5, 4)
    angle = rng.choice((0, math.pi / 2, math.pi, -math.pi / 2)) + rng.choice((0, rng.gauss(0, 0.2)))
    picture = ramp(size, (255, 255, 255), any_color(rng), angle, power)
    return with_grain(rng, picture, rng.choice((0, 0, 1.5)))


def stripes(rng: random.Random, size: Size) -> Image.Image:
    """Stripes along, across or at an angle, sharp or soft, of two to four colors."""
    period = rng.uniform(4, 60)
    angle = rng.choice((0, math.pi / 2, rng.uniform(0, math.pi)))
    inks = [any_color(rng) for _ in range(rng.randrange(2, 5))]
    x, y = np.meshgrid(np.arange(size[0]), np.arange(size[1]))
    phase = ((x * math.cos(angle) + y * math.sin(angle)) / period + rng.random()) % 1
    index = (phase * len(inks)).astype(int) % len(inks)
    return Image.fromarray(np.array(inks, dtype=np.uint8)[index], "RGB")


def halftone(rng: random.Random, size: Size) -> Image.Image:
    period = rng.uniform(4, 24)
    angle = rng.choice((0, math.pi / 4, math.pi / 12, rng.uniform(0, math.pi)))
    x, y = np.meshgrid(np.arange(size[0]), np.arange(size[1]))
    u = (x * math.cos(angle) + y * math.sin(angle)) / period
    v = (y * math.cos(angle) - x * math.sin(angle)) / period
    screen = (np.cos(2 * math.pi * u) + np.cos(2 * math.pi * v)) / 4 + 0.5
    tone = np.asarray(gradient(rng, size).convert("L"), dtype=np.float32) / 255
    share = ((tone - screen) * period / 2 + 0.5).clip(0, 1)[..., None]
    paper, ink = np.array(any_color(rng)), np.array(any_color(rng))
    if rng.random() < 0.5:
        paper = np.array((255, 255, 255))
    return Image.fromarray((paper * share + ink * (1 - share)).astype(np.uint8), "RGB")


def checks(rng: random.Random, size: Size) -> Image.Image:
    cell = rng.randrange(3, 40)
    one, other = np.array(any_color(rng)), np.array(any_color(rng))
    x, y = np.meshgrid(np.arange(size[0]), np.arange(size[1]))
    odd = ((x + rng.randrange(cell)) // cell + (y + rng.randrange(cell)) // cell) % 2
    return Image.fromarray(np.where(odd[..., None] == 1, one, other).astype(np.uint8), "RGB")


def white_ground(rng: random.Random, size: Size) -> Image.Image:
    """Type and shapes on white (or another ground) that reaches every edge."""
    ground = rng.choice(((255, 255, 255), (255, 255, 255), (250, 248, 240), any_color(rng)))
    picture = Image.new("RGB", size, ground)
    draw = ImageDraw.Draw(picture)
    for _ in range(rng.randrange(1, 5)):
        box = (
            rng.randrange(CLEAR, size[0] // 2),
            rng.randrange(CLEAR, size[1] // 2),
            rng.randrange(size[0] // 2 + 1, size[0] - CLEAR),
            rng.randrange(size[1] // 2 + 1, size[1] - CLEAR),
        )
        draw.ellipse(box, fill=any_color(rng)) if rng.random() < 0.5 else draw.rectangle(
            box, fill=any_color(rng)
        )
    lettering(rng, picture, 3)
    return picture


def mount(rng: random.Random, size: Size) -> Image.Image:
    """Art on a mount: a margin of 14 px or more, with or without a keyline around the art."""
    inner = rng.choice((poster, texture, gradient))(rng, size)
    margin = rng.randrange(CLEAR, 80)
    picture = Image.new("RGB", size, rng.choice(((255, 255, 255), any_color(rng))))
    art = inner.crop((0, 0, size[0] - 2 * margin, size[1] - 2 * margin))
    picture.paste(art, (margin, margin))
    return picture


def texture(rng: random.Random, size: Size) -> Image.Image:
    base = noise(rng, size, rng.randrange(3, 120), rng.uniform(15, 70))
    fine = noise(rng, size, rng.randrange(1, 4), rng.uniform(2, 30))
    gray = Image.blend(base, fine, 0.4)
    dark, light = any_color(rng), any_color(rng)
    share = np.asarray(gray, dtype=np.float32)[..., None] / 255
    pixels = np.array(dark) * (1 - share) + np.array(light) * share
    return Image.fromarray(pixels.clip(0, 255).astype(np.uint8), "RGB")


def collage(rng: random.Random, size: Size) -> Image.Image:
    """Torn and cut patches of texture, gradient and stripes."""
    picture = texture(rng, size)
    for _ in range(rng.randrange(3, 9)):
        patch = rng.choice((texture, gradient, stripes, halftone))(rng, size)
        mask = Image.new("L", size, 0)
        corners = [
            (rng.randrange(-100, size[0] + 100), rng.randrange(-100, size[1] + 100))
            for _ in range(rng.randrange(3, 8))
        ]
        ImageDraw.Draw(mask).polygon(corners, fill=255)
        picture.paste(patch, (0, 0), mask)
    return picture


def dark(rng: random.Random, size: Size) -> Image.Image:
    """Dark art: most of it within a few codes of black."""
    picture = collage(rng, size) if rng.random() < 0.5 else poster(rng, size)
    lit = rng.uniform(0.05, 0.3)
    return with_grain(rng, picture.point(lambda value: int(value * lit)), rng.choice((0, 1, 2)))


def landscape(rng: random.Random, size: Size) -> Image.Image:
    """A drawn view: sky, uneven horizon, masts and walls that lean and run past the edges."""
    width, height = size
    picture = ramp(size, any_color(rng), any_color(rng), math.pi / 2)
    draw = ImageDraw.Draw(picture)
    base, level = rng.uniform(0.05, 0.97) * height, rng.uniform(-0.02, 0.02)
    ridge = [
        (x, base + level * x + rng.gauss(0, 2) + 8 * math.sin(x / 90))
        for x in range(0, width + 9, 8)
    ]
    draw.polygon([*ridge, (width, height), (0, height)], fill=any_color(rng))
    for _ in range(rng.randrange(0, 5)):
        x, lean = rng.uniform(0, width), rng.gauss(0, 25)
        line = x, rng.uniform(-20, height / 2), x + lean, height + 5
        draw.line(line, fill=any_color(rng), width=rng.randrange(1, 14))
    blurred = picture.filter(ImageFilter.GaussianBlur(rng.uniform(0.6, 1.6)))
    return with_grain(rng, blurred, rng.uniform(0, 6))


def vignette(rng: random.Random, size: Size) -> Image.Image:
    picture = rng.choice((texture, gradient, landscape))(rng, size)
    width, height = size
    x, y = np.meshgrid(np.linspace(-1, 1, width), np.linspace(-1, 1, height))
    fall = (1 - rng.uniform(0.3, 1) * ((x**2 + y**2) / 2) ** rng.uniform(1, 4)).clip(0, 1)
    pixels = np.asarray(picture, dtype=np.float32) * fall[..., None]
    return with_grain(rng, Image.fromarray(pixels.astype(np.uint8), "RGB"), rng.uniform(0, 3))


def screen(rng: random.Random, size: Size) -> Image.Image:
    """An invented screen: panels, rows and buttons on a ground, clear of the edges or run off them."""
    picture = Image.new("RGB", size, rng.choice(((245, 245, 247), (30, 32, 38), any_color(rng))))
    draw = ImageDraw.Draw(picture)
    for _ in range(rng.randrange(2, 6)):
        draw.rectangle(_inner_box(rng, size), fill=any_color(rng), outline=any_color(rng))
    for _ in range(rng.randrange(3, 12)):
        left, top = rng.randrange(20, size[0] - 60), rng.randrange(20, size[1] - 40)
        right, bottom = left + rng.randrange(20, 200), top + rng.randrange(12, 40)
        if right < size[0] - CLEAR and bottom < size[1] - CLEAR:
            draw.rounded_rectangle((left, top, right, bottom), 5, fill=any_color(rng))
    lettering(rng, picture, 4)
    return picture


KINDS: dict[str, Draw] = {
    "poster": poster,
    "gradient": gradient,
    "fade": fade,
    "stripes": stripes,
    "halftone": halftone,
    "checks": checks,
    "white-ground": white_ground,
    "mount": mount,
    "texture": texture,
    "collage": collage,
    "dark": dark,
    "landscape": landscape,
    "vignette": vignette,
    "screen": screen,
}


def draw(kind: str, seed: int, size: Size) -> Image.Image:
    """Draw art of a kind; the same seed and size give the same pixels."""
    return KINDS[kind](random.Random(f"{kind}-{seed}"), size).convert("RGB")
