"""Posters: tide-table, night-ferry, low-brass, forms-of-rope, loom."""

from __future__ import annotations

import math
import random
from typing import TYPE_CHECKING

from studio import letters
from studio.canvas import Canvas, ink, mix, ramp
from studio.export import fit

if TYPE_CHECKING:
    from PIL import Image

    from studio.canvas import Color, Point


def tide_table(scale: int = 1) -> Image.Image:
    """Bands of water before a low sun; the month's tides in small type."""
    width, height = fit(11, 17)
    sun, foam, deep = ink("#ef6a45"), ink("#f0e6d0"), ink("#0c2636")
    art = Canvas(width, height, ink("#e9d9b8"))
    art.disc(width * 0.60, 452, 255, sun)
    bands = 15
    for i in range(bands):
        t = i / (bands - 1)
        base = 470 + 660 * t**1.12
        swing = 7 + 30 * t
        length = 210 + 430 * t
        drift = i * 1.9
        crest: list[Point] = []
        for x in range(-4, width + 8, 4):
            wave = math.sin(2 * math.pi * x / length + drift)
            wave += 0.35 * math.sin(2 * math.pi * x / (length * 0.47) + drift * 2.3)
            crest.append((x, base + swing * wave))
        color = ramp(
            [
                (0, ink("#cfd8c4")),
                (0.22, ink("#7fb3a6")),
                (0.5, ink("#2c7f86")),
                (0.78, ink("#14506a")),
                (1, deep),
            ],
            t,
        )
        art.polygon([*crest, (width + 8, height + 8), (-4, height + 8)], color)
        if i % 2 == 0 and i < 10:
            art.line(crest, 1.4 + t, mix(color, foam, 0.55))
    letters.write(art, 52, 54, "TIDE", 118, 27, deep, tracking=9)
    letters.write(art, 52, 196, "TABLE", 118, 27, deep, tracking=9)
    art.text(width - 54, 74, "Port Ullan", 19, deep, bold=0.3, anchor="r")
    art.text(width - 54, 98, "Month of storms", 19, deep, bold=0.3, anchor="r")
    art.text(56, 996, "High water at the mole, metres over the sill", 15, foam, bold=0.25)
    dice = random.Random(7)
    for column in range(4):
        x = 56 + column * 174
        art.rect(x, 1012, 144, 1.4, foam)
        for row in range(6):
            hour = (column * 6 + row) * 50
            stamp = f"{(hour // 60 + 3) % 24:02d}.{hour % 60:02d}"
            y = 1040 + row * 23
            art.text(x, y, f"{column * 6 + row + 1:02d}", 13.5, foam, bold=0.25)
            art.text(x + 36, y, stamp, 13.5, foam)
            art.text(x + 144, y, f"{dice.uniform(0.4, 4.9):.1f} m", 13.5, foam, anchor="r")
    return art.finish(scale)


def night_ferry() -> Image.Image:
    """Draw a dark poster: one lit ferry, and its lights broken on black water."""
    width, height = fit(420, 594)
    night, water = ink("#0a0f1d"), ink("#060a14")
    amber, pale, red = ink("#ffb84a"), ink("#f6e7c4"), ink("#d8382f")
    art = Canvas(width, height, night)
    for y_sky in range(640):
        art.rect(0, y_sky, width, 1, mix(ink("#070b16"), ink("#1b2a4a"), (y_sky / 640) ** 2.2))
    dice = random.Random(21)
    for _ in range(110):
        x, y = dice.uniform(0, width), dice.uniform(0, 520)
        if x < 530 and y < 352:  # the title stands there
            continue
        art.disc(x, y, dice.choice((0.7, 0.9, 1.4)), mix(night, pale, dice.uniform(0.3, 0.9)))
    art.rect(0, 640, width, height - 640, water)
    for layer, (top, color) in enumerate(((606, "#16223d"), (622, "#101a30"))):
        hills: list[Point] = [
            (
                x,
                top
                - 22 * math.sin(x / (130 + 60 * layer) + layer * 2)
                - 9 * math.sin(x / 47 + layer),
            )
            for x in range(-8, width + 16, 8)
        ]
        art.polygon([*hills, (width + 16, 641), (-8, 641)], ink(color))
    hull, deck = ink("#101626"), ink("#e8dcc0")
    art.polygon([(150, 566), (760, 566), (716, 660), (196, 660)], hull)
    art.polygon([(158, 582), (752, 582), (749, 590), (161, 590)], red)
    art.polygon([(196, 512), (684, 512), (706, 566), (186, 566)], deck)
    art.polygon([(236, 462), (622, 462), (638, 512), (228, 512)], mix(deck, night, 0.14))
    art.polygon([(278, 424), (452, 424), (462, 462), (270, 462)], mix(deck, night, 0.26))
    art.polygon([(508, 360), (570, 360), (580, 462), (498, 462)], red)
    art.polygon([(507.4, 366), (570.6, 366), (573.2, 392), (504.6, 392)], mix(red, night, 0.62))
    art.rect(340, 330, 3, 94, pale)
    art.disc(341.5, 328, 5, amber)
    for step, row in enumerate(((214, 688, 538, 13), (258, 606, 486, 12), (296, 448, 443, 9))):
        x0, x1, y, size = row
        count = (x1 - x0) // 26
        for i in range(count):
            lit = (i * 7 + step * 3) % 9 != 4
            art.rect(x0 + i * 26, y - size / 2, 15, size, amber if lit else ink("#5a4a36"))
    for i in range(58):
        spread = i / 57
        y = 668 + 420 * spread**1.35
        for lamp in range(19):
            if dice.random() < 0.50 - 0.28 * spread:
                x = 214 + lamp * 26 + dice.gauss(0, 3 + 26 * spread)
                length = dice.uniform(10, 22 + 36 * spread)
                glow = mix(
                    water, amber if lamp % 6 else red, (1.0 - 0.62 * spread) * dice.random() ** 0.6
                )
                art.rect(x - length / 2, y, length, 2 + 3.2 * spread, glow)
    letters.write(art, 58, 60, "NIGHT", 104, 7, pale, tracking=19)
    letters.write(art, 58, 186, "FERRY", 104, 7, pale, tracking=19)
    art.text(58, 336, "every hour after the last bell", 17, mix(night, pale, 0.8), tracking=1)
    art.text(58, 1146, "Ullan", 19, amber, bold=0.3, tracking=0.6)
    art.text(width / 2, 1146, "23.10   00.10   01.10   02.10   03.10", 19, pale, anchor="m")
    art.text(width - 58, 1146, "Sallow Isle", 19, amber, bold=0.3, tracking=0.6, anchor="r")
    return art.finish()


def low_brass() -> Image.Image:
    """Halftone dots that swell into the bell of a horn."""
    width, height = fit(18, 24)
    yellow, dark, red = ink("#f4b82e"), ink("#231815"), ink("#d5402b")
    art = Canvas(width, height, yellow)
    bell = (570.0, 706.0)
    pitch = 18.0
    turn = math.radians(32)
    cos, sin = math.cos(turn), math.sin(turn)
    reach = int(1700 / pitch)
    art.disc(*bell, 322, red)
    for i in range(-reach, reach):
        for j in range(-reach, reach):
            u, v = (i + 0.5) * pitch, (j + 0.5) * pitch
            x, y = 450 + u * cos - v * sin, 600 + u * sin + v * cos
            if not (-20 < x < width + 20 and -20 < y < height + 20):
                continue
            away = math.dist((x, y), bell)
            ring = 0.5 + 0.5 * math.cos(away / 47.0)
            if away < 322:
                tone = (0.20 + 0.85 * ring) * (1 - 0.32 * away / 322)
            else:
                tone = (0.04 + 0.66 * ring) * math.exp(-(((away - 322) / 420) ** 1.5))
                tone += 0.34 * max(0.0, (y - 800) / 400) ** 1.4
            if away >= 322:
                tone *= min(1.0, max(0.0, (y - 420 + 0.1 * x) / 190))
            radius = pitch * 0.70 * math.sqrt(max(0.0, min(1.0, tone)))
            if radius > 1.0:
                art.disc(x, y, radius, dark)
    art.disc(*bell, 58, yellow)
    art.disc(*bell, 26, dark)
    letters.write(art, 56, 58, "LOW", 168, 46, dark, tracking=10)
    letters.write(art, 56, 250, "BRASS", 104, 29, dark, tracking=8)
    art.rect(0, 1066, width, 134, dark)
    for i, (day, who) in enumerate(
        (("Thu 4", "Ansa Morrow trio"), ("Fri 5", "The Ninth Valve"), ("Sat 6", "Ullan tuba choir"))
    ):
        x = 58 + i * 274
        art.text(x, 1116, day, 27, yellow, bold=0.5)
        art.text(x, 1150, who, 21, ink("#f3e4c4"))
    return art.finish()


def forms_of_rope() -> Image.Image:
    """One rope on a white page: a ground that is white to the edge on purpose."""
    width, height = fit(500, 707)
    white, blue, dark = ink("#ffffff"), ink("#1f3fae"), ink("#101522")
    art = Canvas(width, height, white)
    cx, cy = width / 2, 556.0
    radius, steps = 30, 2600

    def path(t: float) -> tuple[float, float]:
        a = 2 * math.pi * t
        r = 168 + 62 * math.cos(5 * a)
        return cx + r * math.sin(2 * a) * 1.34, cy - r * math.cos(2 * a) * 1.62

    def across(t: float, off: float) -> Point:
        x, y = path(t)
        x1, y1 = path(t + 0.0004)
        dx, dy = x1 - x, y1 - y
        size = math.hypot(dx, dy)
        return x - dy / size * off, y + dx / size * off

    def lay(start: float, end: float) -> None:
        first, last = int(start * steps), int(end * steps)
        beyond = round(0.016 * steps)
        for i in range(first, last + 1):
            art.disc(*path(i / steps), radius + 9, white)
        for i in range(first - beyond, last + beyond + 1):
            art.disc(*path(i / steps), radius, blue)
        twist = 0.0092
        for k in range(math.ceil((start - 0.036) / twist), math.floor((end + 0.036) / twist) + 1):
            curve = [
                across((k + 0.85 * math.sin(s / 20 * math.pi / 2)) * twist, radius * 1.02 * s / 20)
                for s in range(-20, 21)
            ]
            art.line(curve, 3.4, mix(blue, white, 0.86))

    # The strand lies under while sin(5a) is below zero and over while it is above.
    for over in (False, True):
        for half in range(5):
            lay(half / 5 + (0.0 if over else 0.1), half / 5 + (0.1 if over else 0.2))
    letters.write(art, 64, 64, "FORMS OF ROPE", 38, 6.5, dark, tracking=7)
    art.text(64, 1062, "Knots, splices and lashings", 25, dark)
    art.text(64, 1094, "from the Ullan sail loft", 25, dark)
    art.text(width - 64, 1062, "Hall of Nets", 25, blue, anchor="r")
    art.text(width - 64, 1094, "9 March to 30 May", 25, blue, anchor="r")
    art.rect(64, 1128, width - 128, 2, dark)
    return art.finish()


def loom() -> Image.Image:
    """Draw a tall banner of woven stripes that run off both sides."""
    width, height = fit(600, 1800)
    cream, rust, teal, plum = ink("#f1e4cc"), ink("#b8482c"), ink("#1f6a68"), ink("#3a1f3d")
    art = Canvas(width, height, cream)
    dice = random.Random(5)
    pattern: list[tuple[int, Color]] = [(40, plum), (10, cream)]
    while sum(p[0] for p in pattern) < height - 70:
        thick = dice.choice((4, 6, 6, 10, 14, 22, 34))
        pattern.append((thick, dice.choice((rust, teal, plum, mix(rust, cream, 0.45)))))
        pattern.append((dice.choice((4, 6, 8, 12)), cream))
    pattern.append((height, plum))  # the last stripe runs off the foot
    y = 0.0
    for thick, color in pattern:
        art.rect(0, y, width, thick, color)
        if thick < height:
            for i in range(0, width, 8):
                shift = 4 if (i // 8 + round(y)) % 2 else 0
                art.rect(
                    i + shift, y, 2.4, thick, mix(color, plum if color == cream else cream, 0.22)
                )
        y += thick
    art.rect(118, 150, 164, 900, plum)
    for i, letter in enumerate("LOOM"):
        letters.write(art, width / 2, 186 + i * 172, letter, 132, 25, cream, anchor="m")
    art.text(width / 2, 922, "weavers", 21, cream, anchor="m")
    art.text(width / 2, 950, "open door", 21, cream, anchor="m")
    art.text(width / 2, 1004, "14.09", 25, ink("#f0b06a"), bold=0.4, anchor="m")
    return art.finish()
