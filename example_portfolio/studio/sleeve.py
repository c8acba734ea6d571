"""The record sleeve slow-lanterns."""

from __future__ import annotations

import math
import random
from typing import TYPE_CHECKING

from PIL import Image, ImageDraw, ImageFilter

from studio import letters
from studio.canvas import Canvas, ink, mix
from studio.export import fit

if TYPE_CHECKING:
    from studio.canvas import Color


def _sprig(art: Canvas, x: float, foot: float, tall: float, lean: float, tone: Color) -> None:
    """Draw a stem with leaves in pairs."""
    stem = [(x + lean * tall * (i / 20) ** 2, foot - tall * i / 20) for i in range(21)]
    art.line(stem, 3, tone)
    for i in range(3, 21, 2):
        long = tall * 0.30 * (1.12 - i / 22)
        for side in (-1, 1) if i < 20 else (0,):
            turn = math.radians(-90 + side * 52) + lean * i / 20
            px, py = stem[i]
            blade = []
            for s in range(25):
                t = s / 12 if s <= 12 else (24 - s) / 12
                off = (1 if s <= 12 else -1) * math.sin(math.pi * t) * long * 0.19
                blade.append(
                    (
                        px + math.cos(turn) * long * t - math.sin(turn) * off,
                        py + math.sin(turn) * long * t + math.cos(turn) * off,
                    )
                )
            art.polygon(blade, tone)


def slow_lanterns() -> Image.Image:
    """Draw a record sleeve: paper lanterns in a dark garden, mounted on cream."""
    width, height = fit(12, 12)
    cream, garden, dark = ink("#f4ecdb"), ink("#17372f"), ink("#1f1a17")
    art = Canvas(width, height, cream)
    inset, foot = 90, 240
    inner = Canvas(width - 2 * inset, height - inset - foot, garden)
    w, h = inner.width, inner.height
    for i in range(h * inner.k):
        inner.pen.line(
            (0, i, w * inner.k, i), fill=mix(ink("#0f2622"), ink("#2a5a49"), (i / (h * 3)) ** 1.6)
        )
    dice = random.Random(9)
    for i in range(15):
        depth = i / 14
        tone = mix(ink("#214b3d"), ink("#0c1f1b"), depth)
        x = (i * 0.618 % 1.0) * (w + 80) - 40
        _sprig(
            inner,
            x,
            h + 30,
            dice.uniform(230, 400) * (1.1 - 0.35 * depth),
            dice.uniform(-0.3, 0.3),
            tone,
        )
    hues = ("#f2683c", "#f7a541", "#f4d58d", "#e4435a", "#f7a541", "#f2683c", "#f4d58d")
    spots = (
        (112, 300, 92),
        (304, 176, 66),
        (432, 392, 128),
        (600, 214, 80),
        (742, 470, 96),
        (884, 250, 84),
        (220, 560, 70),
    )
    glow = Image.new("L", (w, h), 0)
    pen = ImageDraw.Draw(glow)
    for x, y, r in spots:
        pen.ellipse((x - r * 1.25, y - r * 1.15, x + r * 1.25, y + r * 1.15), fill=150)
    glow = glow.filter(ImageFilter.GaussianBlur(46)).resize(
        inner.image.size, Image.Resampling.BICUBIC
    )
    inner.stamp(glow, ink("#f7a95a"))
    for (x, y, r), hue in zip(spots, hues, strict=True):
        color = ink(hue)
        inner.line([(x, -5), (x, y - r * 0.84)], 1.6, mix(color, dark, 0.35))
        ribs = 11
        for i in range(ribs):
            v0, v1 = -0.86 + 1.72 * i / ribs, -0.86 + 1.72 * (i + 1) / ribs
            span = [v0 + (v1 - v0) * s / 8 for s in range(9)]
            edge = [(r * 1.08 * math.sqrt(1 - v * v), v * r * 0.95) for v in span]
            bulge = [
                (x + ex * (1.0 - 0.02 * (s in (0, 8))), y + ey) for s, (ex, ey) in enumerate(edge)
            ]
            other = [
                (x - ex * (1.0 - 0.02 * (s in (0, 8))), y + ey) for s, (ex, ey) in enumerate(edge)
            ]
            middle = 1 - abs((v0 + v1) / 2)
            tone = mix(color, ink("#fff3d0"), 0.10 + 0.55 * middle**1.6)
            inner.polygon([*bulge, *reversed(other)], mix(tone, color, 0.35 if i % 2 else 0.0))
        for v in (-0.86, 0.86):
            cap = r * 0.46
            inner.rect(x - cap, y + v * r * 0.95 - r * 0.05, cap * 2, r * 0.1, dark)
        inner.line([(x, y + r * 0.86), (x, y + r * 1.28)], 2.2, color)
    art.image.paste(inner.image, (inset * art.k, inset * art.k))
    letters.write(art, inset, height - foot + 54, "SLOW LANTERNS", 56, 7.5, dark, tracking=9)
    art.text(inset, height - 76, "Ansa Morrow trio", 27, dark)
    art.text(width - inset, height - 76, "side A   19 minutes", 27, ink("#c4502d"), anchor="r")
    return art.finish()
