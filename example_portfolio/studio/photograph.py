"""A photograph that was never taken: jetty posts in a foggy sea, made of fractal noise."""

from __future__ import annotations

import math
import random
from typing import TYPE_CHECKING

from PIL import Image, ImageDraw, ImageFilter

from studio.canvas import ink, mix
from studio.noise import columns, compute, film_grain, fractal, rows, to_rgb

if TYPE_CHECKING:
    from studio.canvas import Color, Point

WIDTH, HEIGHT = 1600, 1067
HORIZON = 474


def _gauss(at: float, middle: float, spread: float) -> float:
    return math.exp(-(((at - middle) / spread) ** 2))


def _sky() -> list[Image.Image]:
    """Red, green and blue fields of a low sun behind fog."""
    w, h = WIDTH, HEIGHT
    cloud = fractal(w, h, 620, 90, 101, 6, 0.52)
    fine = fractal(w, h, 240, 30, 202, 4, 0.5)
    glow_x = columns(w, h, lambda u: _gauss(u, 0.665, 0.20))
    glow_y = rows(w, h, lambda v: _gauss(v, 0.375, 0.17))
    core_x = columns(w, h, lambda u: _gauss(u, 0.665, 0.052))
    core_y = rows(w, h, lambda v: _gauss(v, 0.350, 0.075))
    height = rows(w, h, lambda v: v)
    channels = []
    for base, low, glow, core in ((104, 74, 54, 62), (120, 62, 32, 46), (136, 44, 8, 26)):
        channels.append(
            compute(
                lambda f: (
                    f["b"]
                    + f["lo"] * f["v"] * 1.35
                    + f["g"] * f["gx"] * f["gy"]
                    + f["c"] * f["cx"] * f["cy"]
                    + (f["cl"] * 13 + f["fi"] * 4) * (1.0 - f["v"] * 1.5)
                ),
                b=base,
                lo=low,
                g=glow,
                c=core,
                v=height,
                gx=glow_x,
                gy=glow_y,
                cx=core_x,
                cy=core_y,
                cl=cloud,
                fi=fine,
            )
        )
    return channels


def _sea() -> tuple[Image.Image, Image.Image]:
    """Slope of the waves seen in perspective, and how near the water is (0 far, 1 near)."""
    w, h = WIDTH, HEIGHT - HORIZON
    plane = fractal(2400, 2400, 120, 46, 303, 6, 0.60)
    moved = plane.transform(plane.size, Image.Transform.AFFINE, (1, 0, 1, 0, 1, 3))
    slope = compute(lambda f: f["a"] - f["b"], a=plane, b=moved)
    # The plane's row v = far/(y + near) and its column grows with distance from the middle.
    near = 24.0
    far = 2400 * near * 0.98
    spread = 18.72 / near  # columns of the plane per px at the horizon
    coefficients = (
        spread,
        1200 / near,
        1200 - spread * (w / 2),
        0.0,
        0.0,
        far / near,
        0.0,
        1 / near,
    )
    seen = slope.transform(
        (w, h), Image.Transform.PERSPECTIVE, coefficients, Image.Resampling.BILINEAR
    )
    depth = rows(w, h, lambda v: v)
    return seen, depth


def _posts() -> list[tuple[float, float, float, float]]:
    """Jetty posts as (x, foot, height, width) in px, far ones first."""
    dice = random.Random(17)
    posts = []
    for i in range(15, -1, -1):
        distance = 1.0 + i * 0.62
        for side in (0, 1):
            x = 990 - (910 - side * 205) / distance
            foot = HORIZON + 500 / distance
            posts.append(
                (
                    x,
                    foot,
                    (390 + dice.uniform(-46, 30)) / distance,
                    (30 + dice.uniform(-3, 3)) / distance,
                )
            )
    return posts


def fog_jetty() -> Image.Image:
    """Render at the web copy's size; grain is drawn at one pixel as a scan would show it."""
    w, h = WIDTH, HEIGHT
    red, green, blue = _sky()
    slope, near = _sea()
    box = (0, HORIZON, w, h)
    path = columns(w, h - HORIZON, lambda u: _gauss(u, 0.665, 0.13))
    wide = columns(w, h - HORIZON, lambda u: _gauss(u, 0.665, 0.34))
    for field, (far_tone, near_tone, warm, glint) in zip(
        (red, green, blue), ((178, 54, 62, 95), (172, 70, 40, 78), (166, 84, 16, 54)), strict=True
    ):
        water = compute(
            lambda f: (
                f["far"]
                + (f["near"] - f["far"]) * (f["n"] ** 0.62)
                + f["warm"] * f["w"] * (1.0 - f["n"] * 0.72)
                + f["s"] * (9 + 42 * f["n"]) * (0.55 + f["w"])
                + f["glint"]
                * f["p"]
                * ((f["s"] * 1.9 - 0.32 + 0.5 * (1 - f["n"])) * (f["s"] > 0.06))
                * (0.25 + f["n"])
            ),
            far=far_tone,
            near=near_tone,
            warm=warm,
            glint=glint,
            n=near,
            w=wide,
            p=path,
            s=slope,
        )
        field.paste(water, box)
    picture = to_rgb(red, green, blue)
    _headlands(picture)
    _jetty(picture, slope)
    veil = Image.new("L", (1, h))
    veil.putdata(
        [
            round(205 * _gauss(y, HORIZON + 4, 34) + 60 * _gauss(y, HORIZON - 40, 120))
            for y in range(h)
        ]
    )
    patch = compute(lambda f: f["a"] * 34 + 205, a=fractal(w, h, 420, 60, 404, 4)).convert("L")
    mist = Image.composite(veil.resize((w, h)), Image.new("L", (w, h), 0), patch)
    picture.paste((214, 201, 188), (0, 0, w, h), mist)
    return _develop(picture)


def _headlands(picture: Image.Image) -> None:
    dice = random.Random(8)
    for start, end, top, tone, blur in (
        (0.74, 1.05, 62, (172, 172, 174), 3.0),
        (-0.05, 0.36, 104, (150, 155, 162), 2.2),
        (0.86, 1.06, 128, (128, 136, 146), 1.6),
    ):
        mask = Image.new("L", (WIDTH, HEIGHT), 0)
        left, right = start * WIDTH, end * WIDTH
        ridge = []
        rough = 0.0
        for i in range(121):
            t = i / 120
            rough = rough * 0.8 + dice.gauss(0, 1.6)
            lift = (1 - t) ** 0.7 if start < 0 else t**0.8
            ridge.append(
                (left + (right - left) * t, HORIZON + 6 - top * lift + rough * (0.3 + lift))
            )
        ImageDraw.Draw(mask).polygon([*ridge, (right, HORIZON + 4), (left, HORIZON + 4)], fill=200)
        picture.paste(tone, (0, 0, WIDTH, HEIGHT), mask.filter(ImageFilter.GaussianBlur(blur)))


def _jetty(picture: Image.Image, slope: Image.Image) -> None:
    dice = random.Random(29)
    for x, foot, tall, thick in _posts():
        nearness = min(1.0, (foot - HORIZON) / 500)
        tone = mix(ink("#cec4ba"), ink("#18181c"), nearness**0.55)
        lean = dice.uniform(-0.02, 0.02) * tall
        half = thick / 2
        top = foot - tall
        body = [
            (x - half, foot),
            (x - half * 0.9 + lean, top),
            (x + half * 0.8 + lean, top + half * 0.5),
            (x + half, foot),
        ]
        shapes = [(body, 255)]
        y = foot
        while y < min(HEIGHT, foot + tall * 1.05):
            row = min(slope.height - 1, max(0, int(y) - HORIZON))
            tilt = slope.getpixel((min(WIDTH - 1, max(0, int(x))), row))
            assert isinstance(tilt, float), "a float field"
            push = tilt * (4 + 34 * nearness)
            push += dice.gauss(0, 0.5 + 1.6 * nearness)
            fade = max(0, round(215 * (1 - (y - foot) / (tall * 1.1))))
            wide = half * (1 + 0.25 * dice.random())
            step = 1 + 2.2 * nearness
            band = [
                (x - wide + push, y),
                (x + wide + push, y),
                (x + wide + push, y + step),
                (x - wide + push, y + step),
            ]
            shapes.append((band, fade))
            y += step
        _touch(picture, x, shapes, tone, 1.2 + 1.4 * nearness)
        if nearness > 0.12:  # the side that the sun reaches
            rim = [
                (x + half * 0.62, foot),
                (x + half * 0.5 + lean, top + half),
                (x + half * 0.8 + lean, top + half),
                (x + half, foot),
            ]
            _touch(picture, x, [(rim, 120)], ink("#c49670"), 1.4)


def _touch(
    picture: Image.Image, x: float, shapes: list[tuple[list[Point], int]], tone: Color, blur: float
) -> None:
    """Lay soft shapes (outline in px, strength 0..255) on the picture around x."""
    k, reach = 2, 120
    left, right = max(0, int(x) - reach), min(WIDTH, int(x) + reach)
    mask = Image.new("L", ((right - left) * k, HEIGHT * k), 0)
    pen = ImageDraw.Draw(mask)
    for outline, strength in shapes:
        pen.polygon([((px - left) * k, py * k) for px, py in outline], fill=strength)
    soft = mask.filter(ImageFilter.GaussianBlur(blur))
    soft = soft.resize((right - left, HEIGHT), Image.Resampling.LANCZOS)
    picture.paste(tone, (left, 0, right, HEIGHT), soft)


def _develop(picture: Image.Image) -> Image.Image:
    """Halation, a mild vignette and grain."""
    w, h = picture.size
    halo = picture.filter(ImageFilter.GaussianBlur(22))
    picture = Image.blend(picture, halo, 0.16)
    across = columns(w, h, lambda u: (u - 0.5) ** 2)
    down = rows(w, h, lambda v: (v - 0.5) ** 2)
    grain = film_grain(w, h, 505)
    bands = [
        compute(
            lambda f: f["c"] * (1.06 - 0.62 * (f["x"] + f["y"])) + f["g"] * 7.5,
            c=band.convert("F"),
            x=across,
            y=down,
            g=grain,
        )
        for band in picture.split()
    ]
    return to_rgb(*bands)
