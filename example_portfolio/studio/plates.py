"""Plain pictures for the rejected set: each number gives another composition to the edges."""

from __future__ import annotations

import math
import random
from typing import TYPE_CHECKING, Final

from PIL import Image

from studio import letters, noise
from studio.canvas import Canvas, ink, mix

if TYPE_CHECKING:
    from studio.canvas import Color, Point

PALETTES: Final = (
    ("#173f5f", "#20639b", "#3caea3", "#f6b042", "#ed553b"),
    ("#5b1a2e", "#9c2f4a", "#d8576b", "#f2a65a", "#3a6ea5"),
    ("#20412f", "#3c7a52", "#8fb339", "#e3b23c", "#b0413e"),
    ("#2d2a4a", "#5b4b8a", "#b06ab3", "#e58f65", "#3fa7a0"),
    ("#4a2c1d", "#8a4f2d", "#c98b3f", "#5d8a8c", "#a63d40"),
    ("#0f3b4c", "#1f7a8c", "#bf5b3d", "#e0a458", "#6b4e71"),
    ("#3b3355", "#5d5d9b", "#2c8c99", "#c97b63", "#d9a441"),
)


def plate(number: int, caption: str, width: int = 800, height: int = 600) -> Image.Image:
    """Shapes that run off all four sides, a large number and the name of the fault."""
    dice = random.Random(1000 + number)
    hues = [ink(code) for code in PALETTES[number % len(PALETTES)]]
    dice.shuffle(hues)
    art = Canvas(width, height, hues[0])
    (_discs, _rays, _tiles, _hills, _blocks)[number // 2 % 5](art, hues, dice)
    light, dark = ink("#f7ead0"), ink("#1b1720")
    unit = min(width, height) / 600
    size = 27 * unit
    art.rect(40 * unit, height - 110 * unit, width - 80 * unit, 70 * unit, dark)
    art.text(62 * unit, height - 66 * unit, caption.replace("-", " "), size, light)
    letters.write(
        art,
        width - 52 * unit,
        48 * unit,
        f"{number:02d}",
        150 * unit,
        25 * unit,
        light,
        tracking=10 * unit,
        anchor="r",
    )
    return art.finish()


def _corners(art: Canvas) -> list[Point]:
    return [(x, y) for x in (0, art.width) for y in (0, art.height)]


def _discs(art: Canvas, hues: list[Color], dice: random.Random) -> None:
    w, h = art.width, art.height
    drawn = 0
    while drawn < 9:
        x, y = dice.uniform(-0.1, 1.1) * w, dice.uniform(-0.1, 1.1) * h
        r = dice.uniform(0.12, 0.42) * h
        away = [math.dist((x, y), corner) for corner in _corners(art)]
        away += [abs(x), abs(w - x), abs(y), abs(h - y)]
        if any(min(abs(far - r), abs(far - r * 0.55)) < 0.05 * h for far in away):
            continue  # an arc that just touches a corner or a side looks like a mistake
        art.disc(x, y, r, hues[drawn % 5])
        art.disc(x, y, r * 0.55, hues[(drawn + 2) % 5])
        drawn += 1


def _rays(art: Canvas, hues: list[Color], dice: random.Random) -> None:
    x, y = dice.uniform(0.15, 0.85) * art.width, dice.uniform(0.3, 0.7) * art.height
    count = 3 * dice.randint(3, 6)
    step = 360 / count
    corners = [math.degrees(math.atan2(cy - y, cx - x)) for cx, cy in _corners(art)]
    turn = dice.uniform(0, 360)
    while any(min((a - turn) % step, (turn - a) % step) < 0.12 * step for a in corners):
        turn = dice.uniform(0, 360)  # no ray may end just beside a corner
    for i in range(count):
        a0 = turn + step * i
        art.sector(x, y, art.width * 2, a0, a0 + step, hues[i % 3])
    art.disc(x, y, art.height * 0.2, hues[3])
    art.disc(x, y, art.height * 0.11, hues[4])


def _tiles(art: Canvas, hues: list[Color], dice: random.Random) -> None:
    side = art.height / 3
    for row in range(-1, int(art.height / side) + 2):
        for col in range(-1, int(art.width / side) + 2):
            x, y = (col - 0.5) * side, (row - 0.5) * side
            base = dice.randrange(5)
            art.rect(x, y, side + 1, side + 1, hues[base])
            quarter = dice.randrange(4)
            cx, cy = x + side * (quarter % 2), y + side * (quarter // 2)
            start = (0, 90, 270, 180)[quarter]
            art.sector(cx, cy, side, start, start + 90, hues[(base + 1 + dice.randrange(4)) % 5])


def _hills(art: Canvas, hues: list[Color], dice: random.Random) -> None:
    w, h = art.width, art.height
    art.disc(dice.uniform(0.2, 0.6) * w, 0.3 * h, 0.17 * h, hues[1])
    for i in range(5):
        length, drift = dice.uniform(0.3, 0.7) * w, dice.uniform(0, 6)
        ridge: list[Point] = [
            (x, h * (0.30 + 0.15 * i) + h * 0.07 * math.sin(x / length * 2 * math.pi + drift))
            for x in range(-8, w + 16, 8)
        ]
        tone = mix(hues[(i + 2) % 5], hues[0], 0.15)
        art.polygon([*ridge, (w + 16, h + 9), (-8, h + 9)], tone)


def _blocks(art: Canvas, hues: list[Color], dice: random.Random) -> None:
    w, h = art.width, art.height
    drawn = 0
    while drawn < 12:
        x, y = dice.uniform(-0.2, 0.95) * w, dice.uniform(-0.2, 0.95) * h
        a, long = dice.uniform(0, math.pi), dice.uniform(0.3, 0.9) * w
        thick = dice.uniform(0.08, 0.2) * w
        ux, uy = math.cos(a), math.sin(a)
        shape: list[Point] = [
            (x, y),
            (x + ux * long, y + uy * long),
            (x + ux * long - uy * thick, y + uy * long + ux * thick),
            (x - uy * thick, y + ux * thick),
        ]
        to_sides = [abs(d) for px, py in shape for d in (px, w - px, py, h - py)]
        to_corners = [
            abs(d)
            for cx, cy in ((px - x, py - y) for px, py in _corners(art))
            for across in (cy * ux - cx * uy,)
            for along in (cx * ux + cy * uy,)
            for d in (across, across - thick, along, along - long)
        ]
        if min(to_sides) < 0.05 * h or min(to_corners) < 0.05 * h:
            continue
        art.polygon(shape, hues[(drawn + 1) % 5])
        drawn += 1


def shore(number: int, width: int = 800, height: int = 600) -> Image.Image:
    """Wet sand with fine detail everywhere, as a camera would see it; for the rules on history.

    Noise made on a grid is itself a small picture enlarged. Turned by an odd angle it has no rhythm
    along rows and columns, as sand has none.
    """
    side = math.ceil(math.hypot(width, height)) + 8
    left, top = (side - width) // 2, (side - height) // 2

    def turned(field: Image.Image, angle: float) -> Image.Image:
        whole = field.rotate(angle, Image.Resampling.BICUBIC)
        return whole.crop((left, top, left + width, top + height))

    ground = turned(noise.fractal(side, side, 210, 70, number, 7, 0.62), 13.7)
    pebbles = turned(noise.smooth(side, side, 5, 4, number + 40), 31.3)
    grit = noise.grains(width, height, number + 50)
    fall = noise.rows(width, height, lambda v: v)
    bands = []
    for base, gain, slant in ((150, 34, 46), (132, 32, 22), (112, 29, -14)):
        bands.append(
            noise.compute(
                lambda f: (
                    f["b"] + f["a"] * f["g"] + f["p"] * 15 + f["n"] * 9 + f["s"] * (f["v"] - 0.5)
                ),
                a=ground,
                p=pebbles,
                n=grit,
                v=fall,
                b=base,
                g=gain,
                s=slant,
            )
        )
    return noise.to_rgb(*bands)
