"""The torn-paper picture paper-harbour."""

from __future__ import annotations

import math
import random
from typing import TYPE_CHECKING

from PIL import Image, ImageDraw, ImageFilter

from studio import letters, noise
from studio.canvas import Canvas, flat, ink, mix
from studio.export import fit

if TYPE_CHECKING:
    from studio.canvas import Color, Point


def _torn(points: list[Point], rough: float, dice: random.Random, step: float = 5.0) -> list[Point]:
    """Walk an outline in small steps, each thrown aside a little: torn paper."""
    out: list[Point] = []
    drift = 0.0
    for (x0, y0), (x1, y1) in zip(points, [*points[1:], points[0]], strict=True):
        length = math.dist((x0, y0), (x1, y1))
        nx, ny = -(y1 - y0) / length, (x1 - x0) / length
        steps = max(1, int(length / step))
        for i in range(steps):
            drift = drift * 0.82 + dice.gauss(0, rough * 0.45)
            t = i / steps
            off = drift + dice.gauss(0, rough * 0.25)
            out.append((x0 + (x1 - x0) * t + nx * off, y0 + (y1 - y0) * t + ny * off))
    return out


def _lay(art: Canvas, points: list[Point], color: Color, rough: float, dice: random.Random) -> None:
    """Lay one torn sheet: its shadow, its white core along the tear, its colored face."""
    k, room = art.k, 30  # px around the sheet for its tear and shadow
    left = max(0, math.floor(min(x for x, _ in points)) - room)
    top = max(0, math.floor(min(y for _, y in points)) - room)
    right = min(art.width, math.ceil(max(x for x, _ in points)) + room)
    bottom = min(art.height, math.ceil(max(y for _, y in points)) + room)
    size = (right - left, bottom - top)

    def mask(outline: list[Point], scale: int, strength: int) -> Image.Image:
        blank = Image.new("L", (size[0] * scale, size[1] * scale), 0)
        placed = [((x - left) * scale, (y - top) * scale) for x, y in outline]
        ImageDraw.Draw(blank).polygon(placed, fill=strength)
        return blank

    shape = _torn(points, rough, dice)
    shadow = mask([(x + 5, y + 8) for x, y in shape], 1, 120).filter(ImageFilter.GaussianBlur(7))
    large = (size[0] * k, size[1] * k)
    art.stamp(shadow.resize(large), ink("#10202c"), left * k, top * k)
    art.stamp(mask(shape, k, 255), ink("#fbf7ef"), left * k, top * k)
    face = _torn(points, rough * 0.7, dice)
    cx = sum(x for x, _ in face) / len(face)
    cy = sum(y for _, y in face) / len(face)
    shrink = 1 - min(0.06, 5.0 / max(math.dist((x, y), (cx, cy)) for x, y in face))
    face = [(cx + (x - cx) * shrink, cy + (y - cy) * shrink) for x, y in face]
    tooth = noise.fractal(size[0] // 2, size[1] // 2, 13, 4.5, dice.randrange(10_000), 4, 0.6)
    shade = noise.compute(lambda f: f["a"] * 16 + 128, a=tooth).convert("L").resize(large)
    light, dark = mix(color, (255, 255, 255), 0.16), mix(color, (0, 0, 0), 0.16)
    paper = Image.composite(flat(large, light), flat(large, dark), shade)
    art.stamp(mask(face, k, 255), paper, left * k, top * k)


def paper_harbour() -> Image.Image:
    """Draw a collage of torn sheets, cut short of its board at the right on purpose."""
    width, height = fit(24, 18)
    art = Canvas(width, height, ink("#ffffff"), supersample=2)  # many large masks
    dice = random.Random(44)
    end = width + 40.0

    def sheet(points: list[Point], code: str, rough: float = 3.0) -> None:
        _lay(art, points, ink(code), rough, dice)

    sheet([(-60, -60), (end, -60), (end, 640), (-60, 640)], "#f3c98b")
    ring = [
        (1130 + 148 * math.cos(i / 18 * math.pi), 330 + 148 * math.sin(i / 18 * math.pi))
        for i in range(36)
    ]
    sheet(ring, "#e5533d", 2)
    sheet([(-60, 330), (240, 250), (520, 400), (830, 470), (830, 720), (-60, 720)], "#8a9a6b")
    sheet([(640, 520), (980, 420), (1290, 470), (end, 390), (end, 720), (640, 720)], "#5f7a62")
    for i, (x, tall, code) in enumerate(
        (
            (110, 170, "#f5efe2"),
            (222, 130, "#d8674a"),
            (318, 196, "#f0dcae"),
            (430, 150, "#f5efe2"),
            (528, 118, "#b84a36"),
        )
    ):
        y = 664
        sheet(
            [(x, y - tall), (x + 50, y - tall - 56), (x + 100, y - tall), (x + 100, y), (x, y)],
            code,
            2,
        )
        for row in range(2 if tall > 140 else 1):
            for col in range(2):
                art.rect(
                    x + 22 + col * 36 + i % 2, y - tall + 26 + row * 46, 17, 26, ink("#25343f")
                )
    sheet([(-60, 652), (end, 640), (end, 860), (-60, 880)], "#3f86a0")
    sheet([(-60, 812), (end, 786), (end, 1030), (-60, 1040)], "#2a6785")
    sheet([(806, 812), (1330, 800), (1250, 906), (884, 912)], "#c8402f", 2)
    sheet([(1040, 340), (1052, 340), (1056, 806), (1044, 806)], "#3a2c25", 1)
    sheet([(1070, 372), (1300, 768), (1070, 776)], "#f7f0e0", 2)
    sheet([(1028, 420), (1028, 780), (866, 784)], "#f0dcae", 2)
    sheet([(-60, 946), (end, 905), (end, 1270), (-60, 1270)], "#1c4a68")
    art.rect(width - 3, 0, 3, height, ink("#ffffff"))  # the board, where the sheets were cut short
    letters.write(art, 84, 1016, "PAPER HARBOUR", 84, 17, ink("#f7f0e0"), tracking=9)
    art.text(width - 92, 1098, "Cut and torn by hand, Ullan", 23, ink("#f3c98b"), anchor="r")
    return art.finish()
