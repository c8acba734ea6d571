"""How surely a swapped copy is found among similar pieces, and how rarely a true one is doubted.

    python benchmarks/likeness.py [--pieces 500] [--write]

Draws a series of posters by seed: one layout, in which the title, the number, the colors and one
motif vary. Each poster's copies (sizes, filters, qualities, crops) are held against their own poster
(a doubt is a false alarm) and against other posters of the series (a match is a miss). The last
table changes one square of growing size in a poster, to see how small a difference is noticed.
`--write` puts the tables into docs/history.md.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections import defaultdict
from pathlib import Path

from PIL import Image, ImageColor, ImageDraw, ImageFilter, ImageFont

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from pytest_webdeliverable.likeness import near_duplicates, same_picture  # noqa: E402
from pytest_webdeliverable.measure.likeness import signature  # noqa: E402
from tests.photographs import as_jpeg  # noqa: E402

DOCS = ROOT / "docs" / "history.md"
BEGIN, END = "<!-- generated: benchmarks/likeness.py -->", "<!-- end of generated -->"
WORDS = ("tide", "salt", "linen", "harbor", "orchard", "comet", "lantern", "meadow", "copper")
PALETTE = ("#d8432e", "#1f6f8b", "#e8b33f", "#3b7a57", "#5a4e8c", "#23272e", "#c97b84", "#efe6d5")
READABLE = [
    (ground, ink)
    for ground in PALETTE
    for ink in PALETTE
    if abs(ImageColor.getcolor(ground, "L") - ImageColor.getcolor(ink, "L")) >= 40
]
SIZE = (776, 1200)
QUALITIES = (50, 60, 75, 90, 100)
FILTERS = (Image.Resampling.LANCZOS, Image.Resampling.BICUBIC, Image.Resampling.BOX)


def poster(title: str, number: int, ground: str, ink: str, motif: int) -> Image.Image:
    picture = Image.new("RGB", SIZE, ground)
    draw = ImageDraw.Draw(picture)
    draw.rectangle((0, 0, 775, 150), fill=ink)
    draw.text((40, 35), title, font=ImageFont.load_default(80), fill=ground)
    for i in range(9):
        x, y = 60 + i % 3 * 230, 260 + i // 3 * 230
        shape = draw.ellipse if i != motif % 9 or motif < 9 else draw.rectangle
        shape((x, y, x + 190, y + 190), fill=ink if i != motif % 9 else PALETTE[2])
    draw.text((40, 1010), f"No. {number}", font=ImageFont.load_default(60), fill=ink)
    draw.text((40, 1090), "An evening of new work", font=ImageFont.load_default(40), fill=ink)
    return picture


def series(count: int) -> list[Image.Image]:
    """One layout; neighbors differ in the title only, every fifth also in motif and colors."""
    pieces = []
    for i in range(count):
        group = random.Random(f"group {i // 5}")
        ground, ink = group.choice(READABLE)
        title = f"{WORDS[i % 9]} {WORDS[i // 9 % 9]}"
        pieces.append(poster(title, i // 5 + 1, ground, ink, group.randrange(18)))
    return pieces


def copies(piece: Image.Image, rnd: random.Random) -> dict[str, Image.Image]:
    """Draw copies by lot: a thumbnail, a sharpened one, and a social card cut from the middle."""
    quality, how = rnd.choice(QUALITIES), rnd.choice(FILTERS)
    scale = min(400 / piece.width, 300 / piece.height)
    small = piece.resize((round(piece.width * scale), round(piece.height * scale)), how)
    high = piece.width * 630 / 1200
    middle = (0, (piece.height - high) / 2, piece.width, (piece.height + high) / 2)
    return {
        f"thumbnail within 400 x 300, quality {quality}": as_jpeg(small, quality),
        "thumbnail, sharpened": as_jpeg(small.filter(ImageFilter.UnsharpMask(1, 60, 2)), 85),
        "half size": as_jpeg(piece.resize((388, 600), how), quality),
        "social card 1200 x 630": as_jpeg(piece.resize((1200, 630), how, middle), 85),
    }


def squares(count: int) -> list[str]:
    """Notice one square, of the ground's color made darker by a fifth, on a thumbnail."""
    lines = ["| side of the square, share of the poster's width | contrast | noticed |"]
    lines.append("| --- | --- | --- |")
    for contrast in (24, 48, 160):
        for side in (8, 16, 24, 32, 48, 64):
            noticed = 0
            for i in range(count):
                rnd = random.Random(f"{i} {side} {contrast}")
                piece = poster("tide salt", 7, "#808080", "#404040", 3)
                other = piece.copy()
                x, y = rnd.randrange(SIZE[0] - side), rnd.randrange(SIZE[1] - side)
                value = 128 - contrast if contrast < 128 else 255
                spot = (value, value, value)
                ImageDraw.Draw(other).rectangle((x, y, x + side - 1, y + side - 1), fill=spot)
                other.thumbnail((400, 300))
                noticed += not same_picture(signature(as_jpeg(other, 80)), signature(piece))["same"]
            lines.append(f"| {100 * side / SIZE[0]:.1f} % | {contrast} | {noticed}/{count} |")
    return lines


def measure(count: int) -> list[str]:
    pieces = series(count)
    known = [signature(piece) for piece in pieces]
    doubts: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    misses: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    seconds, comparisons = 0.0, 0
    for i, piece in enumerate(pieces):
        rnd = random.Random(f"copies {i}")
        for kind, copy in copies(piece, rnd).items():
            mine = signature(copy)
            started = time.process_time()
            same = same_picture(mine, known[i])["same"]
            seconds, comparisons = seconds + time.process_time() - started, comparisons + 1
            doubts[kind][0] += not same
            doubts[kind][1] += 1
            # the social card does not show the title: only another group of the series differs
            near = i + 5 if "social" in kind else i + 1 if i % 5 < 4 else i - 1
            others = {near, *rnd.sample(range(count), 2)}
            if "social" in kind:
                others = {other for other in others if other // 5 != i // 5}
            for other in others:
                if 0 <= other < count and other != i:
                    misses[kind][0] += same_picture(mine, known[other])["same"]
                    misses[kind][1] += 1
    lines = ["| copy | true copy doubted | swapped copy missed |", "| --- | --- | --- |"]
    for kind in sorted(doubts):
        false, missed = doubts[kind], misses[kind]
        lines.append(f"| {kind} | {false[0]}/{false[1]} | {missed[0]}/{missed[1]} |")
    started = time.process_time()
    pairs = near_duplicates([(str(i), one) for i, one in enumerate(known)]).pairs
    took = time.process_time() - started
    lines += [
        "",
        (
            f"One comparison of a true copy takes {1000 * seconds / comparisons:.1f} ms on average. "
            f"`near_duplicates` on the {count} posters takes {took:.1f} s and names {len(pairs)} "
            "pairs (all differ, so each is a false alarm)."
        ),
        "",
    ]
    return lines


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--pieces", type=int, default=500)
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    text = "\n".join([*measure(options.pieces), *squares(20), ""])
    print(text)
    if options.write:
        page = DOCS.read_text(encoding="utf-8")
        head, _, rest = page.partition(BEGIN)
        DOCS.write_text(f"{head}{BEGIN}\n\n{text}\n{END}{rest.partition(END)[2]}", encoding="utf-8")


if __name__ == "__main__":
    main()
