"""Work that is more than one sheet: the spread salt-notes and the carton orchard-tea."""

from __future__ import annotations

import math
import random
from typing import TYPE_CHECKING, Final

from PIL import Image, ImageDraw

from studio import letters, noise
from studio.canvas import Canvas, flat, ink, mix
from studio.export import fit

if TYPE_CHECKING:
    from studio.canvas import Color, Point

SALT: Final = (
    "Before the pumps are woken the pans lie flat as slate, and the first walker of the day "
    "leaves a line of prints that the sun will have taken back by noon. Nobody at Sallow Isle "
    "hurries the water. It is let in at the spring gate, held for nine days in the broad pond, "
    "then passed from pan to pan through doors no wider than a hand. In each it grows heavier, "
    "and in each it changes colour: grey, green, a brown like weak tea, and at the last a pink "
    "that visitors never believe in photographs."
)
SALT_TWO: Final = (
    "The rakers read that colour as others read a clock. When the rim turns white they wait. "
    "When a skin forms and catches the wind they wait again. Only when the skin sinks do they go "
    "in, with the long ash rakes that their aunts made, and draw the flower of the pan toward "
    "the bank in strokes so even that from the dyke it sounds like breathing. A good pan gives a "
    "barrow. A good summer gives two hundred, and then the rain comes and the doors are lifted, "
    "and the sea walks in and keeps the rest."
)


def _pans(art: Canvas, corners: list[Point], depth: int, dice: random.Random) -> None:
    """Divide a field in two, again and again, and flood each part with its own brine."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = corners
    wide = math.dist((ax, ay), (bx, by)) > math.dist((bx, by), (cx, cy)) * 0.9
    if depth == 0 or (depth < 3 and dice.random() < 0.22):
        hues = (
            "#e9b7b0",
            "#dd8f8a",
            "#c86a63",
            "#f0d7cc",
            "#b9c4c0",
            "#8fa6a6",
            "#f5ebe0",
            "#a84a43",
            "#d9c3a5",
        )
        color = mix(ink(dice.choice(hues)), ink("#f2dfd4"), dice.uniform(0, 0.35))
        art.polygon(corners, color)
        return
    s, t = dice.uniform(0.36, 0.64), dice.uniform(0.36, 0.64)
    if wide:
        m, n = (ax + (bx - ax) * s, ay + (by - ay) * s), (dx + (cx - dx) * t, dy + (cy - dy) * t)
        parts = ([(ax, ay), m, n, (dx, dy)], [m, (bx, by), (cx, cy), n])
    else:
        m, n = (ax + (dx - ax) * s, ay + (dy - ay) * s), (bx + (cx - bx) * t, by + (cy - by) * t)
        parts = ([(ax, ay), (bx, by), n, m], [m, n, (cx, cy), (dx, dy)])
    for part in parts:
        _pans(art, part, depth - 1, dice)
    art.line([m, n], 1.6 + 1.5 * depth, ink("#f6efe4") if depth % 2 else ink("#6e5a4e"))


def salt_notes() -> Image.Image:
    """Draw an editorial spread: a picture to the edge on the left, a white page on the right."""
    width, height = fit(420, 297)
    paper, dark, red = ink("#ffffff"), ink("#26211f"), ink("#b0473f")
    fold = width / 2
    art = Canvas(width, height, paper)
    land = Canvas(round(fold), height, ink("#cfc2b0"))
    _pans(land, [(-90, -60), (860, -140), (900, 1230), (-140, 1200)], 8, random.Random(12))
    size = land.image.size
    sheen = noise.fractal(size[0] // 3, size[1] // 3, 260, 190, 31, 6, 0.55).resize(size)
    shade = noise.compute(lambda f: f["a"] * 26 + 128, a=sheen).convert("L")
    light = Image.merge("RGB", [shade] * 3)
    picture = Image.blend(
        land.image,
        Image.composite(flat(size, ink("#fff4ea")), flat(size, ink("#5a3a38")), shade),
        0.22,
    )
    picture = Image.blend(picture, light, 0.06)
    art.image.paste(picture, (0, 0))
    x = fold + 84
    art.text(x, 92, "Osier & Quill", 15, dark, bold=0.25)
    art.text(width - 84, 92, "Salt notes", 15, dark, anchor="r")
    art.rect(x, 112, width - 84 - x, 1.4, dark)
    letters.write(art, x, 168, "WHAT THE", 62, 8.5, dark, tracking=6)
    letters.write(art, x, 252, "SEA LEAVES", 62, 8.5, dark, tracking=6)
    art.column(
        x,
        372,
        "A morning among the pans of Sallow Isle, where the water is taught to wait.",
        23,
        33,
        560,
        red,
    )
    measure, leading, gutter = 304.0, 24.3, 24.0
    drop = letters.write(art, x, 487, "B", 64, 12, red)
    y, rest = art.column(
        x + drop + 12, 500, SALT[1:], 16.4, leading, measure - drop - 12, dark, lines=3
    )
    y, _ = art.column(x, y, rest, 16.4, leading, measure, dark)
    art.column(x + measure + gutter, 500, SALT_TWO, 16.4, leading, measure, dark)
    art.rect(x, 1004, 46, 3, red)
    art.text(x, 1034, "Left: the lower pans from the kite, ninth day.", 14.5, dark)
    art.text(width - 84, 1074, "27", 15, dark, bold=0.25, anchor="r")
    fold_shadow = Image.new("L", (art.image.width, 1))
    fold_shadow.putdata(
        [round(64 * math.exp(-abs(i / art.k - fold) / 15)) for i in range(art.image.width)]
    )
    art.stamp(fold_shadow.resize(art.image.size), ink("#3a2f2b"))
    return art.finish()


def _pear(
    art: Canvas, x: float, y: float, size: float, body: Color, half: Color, leaf: Color
) -> None:
    k = art.k
    box = round(size * 1.6 * k)
    mask = Image.new("L", (box, box), 0)
    pen = ImageDraw.Draw(mask)
    angles = [2 * math.pi * i / 120 for i in range(120)]
    # Wide at the foot (cos = 1), narrow at the neck.
    pen.polygon(
        [
            (
                box / 2 + size * k * math.sin(a) * (0.41 + 0.16 * math.cos(a)),
                box / 2 + size * k * 0.62 * math.cos(a),
            )
            for a in angles
        ],
        fill=255,
    )
    left, top = round((x - size * 0.8) * k), round((y - size * 0.8) * k)
    art.stamp(mask, body, left, top)
    pen.rectangle((0, 0, box // 2, box), fill=0)
    art.stamp(mask, half, left, top)
    art.line([(x, y - size * 0.58), (x + size * 0.06, y - size * 0.80)], size * 0.06, leaf)
    art.sector(x + size * 0.05, y - size * 0.52, size * 0.30, -90, 0, leaf)
    art.ellipse(x, y + size * 0.22, size * 0.05, size * 0.10, leaf)


def orchard_tea() -> Image.Image:
    """Draw the flat of a tea carton on a pale sheet, with its folds and cuts."""
    width, height = fit(520, 390)
    sheet, green, pale, pink, dark = (
        ink("#f1efe9"),
        ink("#2f5d46"),
        ink("#e9e3c6"),
        ink("#e79a86"),
        ink("#16261f"),
    )
    art = Canvas(width, height, sheet)
    left, top, tall = 196.0, 396.0, 470.0
    panels = [(left, 376.0), (left + 376, 228.0), (left + 604, 376.0), (left + 980, 228.0)]
    right = left + 1208
    tab = [(left, top), (left - 46, top + 26), (left - 46, top + tall - 26), (left, top + tall)]
    art.polygon(tab, ink("#dcd8cc"))
    flaps: list[tuple[list[Point], Color]] = []
    for i, (x, w) in enumerate(panels):
        big = i % 2 == 0
        reach = 196.0 if big else 128.0
        skew = 8.0 if big else 30.0
        up = [(x, top), (x + skew, top - reach), (x + w - skew, top - reach), (x + w, top)]
        down = [(px, 2 * top + tall - py) for px, py in up]
        flaps += [(up, green if big else pink), (down, pink if big else green)]
    for shape, color in flaps:
        art.polygon(shape, color)
    tones = ((pale, green), (green, pale), (pale, green), (pink, dark))
    for (x, w), (ground, _) in zip(panels, tones, strict=True):
        art.rect(x, top, w, tall, ground)
    for which in (0, 2):
        x, w = panels[which]
        for row in range(3):
            for col in range(3):
                turn = (row + col + which) % 3
                body, half = (
                    (green, ink("#3f7a5b")),
                    (pink, ink("#f0b5a4")),
                    (dark, ink("#24402f")),
                )[turn]
                leaf = green if turn != 0 else pink
                _pear(art, x + 70 + col * 118, top + 80 + row * 104, 60, body, half, leaf)
        art.rect(x, top + 340, w, 130, dark)
        letters.write(art, x + w / 2, top + 362, "ORCHARD", 37, 7, pale, tracking=7, anchor="m")
        letters.write(art, x + w / 2, top + 412, "TEA", 37, 7, pink, tracking=7, anchor="m")
    x, w = panels[1]
    for i, line in enumerate(("Dried pear", "green leaf", "one clove")):
        art.text(x + w / 2, top + 150 + i * 40, line, 25, pale, anchor="m")
    art.rect(x + w / 2 - 22, top + 286, 44, 3, pink)
    art.text(x + w / 2, top + 336, "80 g", 25, pink, bold=0.4, anchor="m")
    x, w = panels[3]
    for i, line in enumerate(
        ("Four minutes.", "Water just off", "the boil. Then", "open a window.")
    ):
        art.text(x + 30, top + 150 + i * 36, line, 22, dark)
    dice = random.Random(3)
    bars = 30.0
    while bars < w - 36:
        thick = dice.choice((2, 3, 5))
        art.rect(x + bars, top + 372, thick, 58, dark)
        bars += thick + dice.choice((2, 3, 4))
    for which in (0, 2):
        x, w = panels[which]
        _pear(art, x + w / 2, top - 92, 78, pink, ink("#f0b5a4"), pale)
        art.text(x + w / 2, top - 22, "lift here", 19, pale, anchor="m")
        for i in range(5):
            _pear(art, x + 68 + i * 60, top + tall + 100, 44, green, ink("#3f7a5b"), dark)
    cut = ink("#2b2b2b")
    for shape, _ in flaps:
        art.line(shape, 1.3, cut)
    art.line(tab, 1.3, cut)
    art.line([(right, top), (right, top + tall)], 1.3, cut)
    for x in (*[p[0] for p in panels],):
        art.dashes((x, top), (x, top + tall), 1.3, ink("#c43d6b"), 9, 6)
    for y in (top, top + tall):
        art.dashes((left, y), (right, y), 1.3, ink("#c43d6b"), 9, 6)
    art.text(left, 116, "Orchard tea, carton 80 g", 23, dark, bold=0.4)
    art.text(left, 146, "Flat, printed side up", 18, dark)
    art.line([(right - 236, 110), (right - 186, 110)], 1.6, cut)
    art.text(right - 174, 116, "cut", 18, dark)
    art.dashes((right - 112, 110), (right - 62, 110), 1.6, ink("#c43d6b"), 9, 6)
    art.text(right - 50, 116, "fold", 18, dark)
    return art.finish()
