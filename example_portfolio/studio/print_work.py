"""Work that is more than one sheet: salt-notes, orchard-tea, slow-lanterns, paper-harbour."""

from __future__ import annotations

import math
import random
from typing import TYPE_CHECKING, Final

from PIL import Image, ImageDraw, ImageFilter

from studio import letters, noise
from studio.canvas import Canvas, ink, mix
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
        Image.composite(ink_sheet(size, "#fff4ea"), ink_sheet(size, "#5a3a38"), shade),
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


def ink_sheet(size: tuple[int, int], code: str) -> Image.Image:
    return Image.new("RGB", size, ink(code))


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


def paper_harbour() -> Image.Image:
    """Draw a collage of torn sheets that stops short of its board at the right, on purpose."""
    width, height = fit(24, 18)
    art = Canvas(width, height, ink("#ffffff"), supersample=2)  # many large masks
    dice = random.Random(44)
    k, end = art.k, width - 1.0

    def sheet(points: list[Point], code: str, rough: float = 3.0) -> None:
        shape = _torn(points, rough, dice)
        mask, pen = art.mask()
        small = mask.resize((width, height))
        ImageDraw.Draw(small).polygon([(x + 5, y + 8) for x, y in shape], fill=120)
        soft = small.filter(ImageFilter.GaussianBlur(7)).resize(mask.size)
        keep = Image.new("L", mask.size, 0)
        keep.paste(soft.crop((0, 0, round((end - 8) * k), mask.height)), (0, 0))
        art.stamp(keep, ink("#10202c"))
        pen.polygon([(x * k, y * k) for x, y in shape], fill=255)
        art.stamp(mask, ink("#fbf7ef"))
        core = _torn(points, rough * 0.7, dice)
        cx = sum(x for x, _ in core) / len(core)
        cy = sum(y for _, y in core) / len(core)
        mask, pen = art.mask()
        far = max(math.dist((x, y), (cx, cy)) for x, y in core)
        shrink = 1 - min(0.06, 5.0 / far)
        pen.polygon(
            [((cx + (x - cx) * shrink) * k, (cy + (y - cy) * shrink) * k) for x, y in core],
            fill=255,
        )
        tooth = noise.fractal(width // 2, height // 2, 13, 4.5, dice.randrange(10_000), 4, 0.6)
        shade = noise.compute(lambda f: f["a"] * 16 + 128, a=tooth).convert("L").resize(mask.size)
        color = ink(code)
        paper = Image.composite(
            ink_sheet(mask.size, "#{:02x}{:02x}{:02x}".format(*mix(color, (255, 255, 255), 0.16))),
            ink_sheet(mask.size, "#{:02x}{:02x}{:02x}".format(*mix(color, (0, 0, 0), 0.16))),
            shade,
        )
        art.stamp(mask, paper)

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
    letters.write(art, 84, 1016, "PAPER HARBOUR", 84, 17, ink("#f7f0e0"), tracking=9)
    art.text(width - 92, 1098, "Cut and torn by hand, Ullan", 23, ink("#f3c98b"), anchor="r")
    return art.finish()
