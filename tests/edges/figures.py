"""Draw the figures of docs/edges.md from our own art: ``python -m tests.edges.figures``."""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

from pytest_webdeliverable.measure.edges.profile import Profile, profile

from . import corpus, drawn, faults
from .faults import Fault

FOLDER = Path(__file__).resolve().parents[2] / "docs" / "figures"
SIZE = (800, 600)
ZOOM = 9
INK, PAPER, BLUE, RED = "#222222", "#ffffff", "#2a5db0", "#c0392b"


def jpeg(picture: Image.Image, quality: int, chroma: str) -> Image.Image:
    buffer = io.BytesIO()
    picture.save(buffer, "JPEG", quality=quality, subsampling=chroma)
    with Image.open(buffer) as opened:
        return opened.convert("RGB")


def corner_of(picture: Image.Image, box: tuple[int, int, int, int]) -> Image.Image:
    """A part of a picture, enlarged without smoothing; what is clear shows as a chequerboard."""
    part = picture.crop(box)
    part = part.resize((part.width * ZOOM, part.height * ZOOM), Image.Resampling.NEAREST)
    if part.mode == "RGBA":
        board = Image.new("RGBA", part.size, "#dddddd")
        pen = ImageDraw.Draw(board)
        for y in range(0, part.height, 12):
            for x in range((y // 12 % 2) * 12, part.width, 24):
                pen.rectangle((x, y, x + 11, y + 11), fill="#ffffff")
        part = Image.alpha_composite(board, part)
    return part.convert("RGB")


def sheet(name: str, cells: list[tuple[str, Image.Image]], columns: int) -> None:
    """Put captioned pictures of one size in rows."""
    width, height = cells[0][1].size
    rows = -(-len(cells) // columns)
    page = Image.new("RGB", (columns * (width + 16) + 16, rows * (height + 44) + 16), "#8a8a8a")
    pen, font = ImageDraw.Draw(page), ImageFont.load_default(15)
    for at, (caption, picture) in enumerate(cells):
        x, y = 16 + at % columns * (width + 16), 16 + at // columns * (height + 44)
        page.paste(picture, (x, y + 24))
        pen.text((x, y), caption, fill="#ffffff", font=font)
    page.save(FOLDER / name, optimize=True)


def kinds() -> None:
    art = drawn.draw("landscape", 3, SIZE)
    white, box = (255, 255, 255), (0, 0, 40, 16)

    def top(depth: float, start: float = 0, end: float = 1) -> Image.Image:
        return faults.cut(art, [Fault("", "top", depth, start, end, white)])[0]

    cells = [
        ("two whole lines", corner_of(top(2), box)),
        ("a part-covered line, 40 % page", corner_of(top(0.4), box)),
        ("two lines and a part, JPEG 80", corner_of(jpeg(top(2.5), 80, "4:2:0"), box)),
        ("a part of the side", corner_of(top(3, 0.02), box)),
        (
            "a wedge: art turned by 2 degrees",
            corner_of(faults.wedge(art, "top", 2, False, 0.04, white)[0], box),
        ),
        (
            "a corner nick",
            corner_of(faults.nick(art, ("top", "left"), 6, "triangle", white)[0], box),
        ),
        (
            "transparent lines",
            corner_of(faults.cut(art, [Fault("", "top", 2, 0, 1, white, 0.0)])[0], box),
        ),
        (
            "half-transparent lines",
            corner_of(faults.cut(art, [Fault("", "top", 2, 0, 1, white, 0.5)])[0], box),
        ),
    ]
    sheet("edges-kinds.png", cells, 2)


def art_cells() -> None:
    box = (0, 0, 40, 16)
    letters = Image.new("RGB", SIZE, "white")
    pen = ImageDraw.Draw(letters)
    for x in range(4, 700, 12):
        pen.rectangle((x, 5, x + 6, 23 + x % 7), fill=INK)
    bars = Image.new("RGB", SIZE, "white")
    pen = ImageDraw.Draw(bars)
    for y in range(3, 600, 9):
        pen.rectangle((0, y, 800, y + 4), fill=BLUE)
    sloping = drawn.ramp(SIZE, (200, 220, 240), (120, 150, 210), 1.57)
    ImageDraw.Draw(sloping).polygon([(0, 4), (800, 90), (800, 600), (0, 600)], fill="#2d4020")
    cells = [
        ("stripes: the color comes back", corner_of(bars, box)),
        ("type on a ground: it comes back", corner_of(letters, box)),
        (
            "a fade: the change goes on",
            corner_of(drawn.ramp((800, 90), (255, 255, 255), (30, 80, 160), 1.5708), box),
        ),
        ("a picture's own edge: not parallel", corner_of(sloping, box)),
    ]
    sheet("edges-art.png", cells, 2)


def plot(lines: Profile, title: str, page: float | None) -> Image.Image:
    """The outermost line against the next one, segment by segment."""
    side = 300
    picture = Image.new("RGB", (side + 60, side + 60), PAPER)
    pen, font = ImageDraw.Draw(picture), ImageFont.load_default(13)
    pen.rectangle((45, 15, 45 + side, 15 + side), outline=INK)
    pen.line((45, 15 + side, 45 + side, 15), fill="#bbbbbb")

    def place(x: float, y: float) -> tuple[float, float]:
        return 45 + x * side / 255, 15 + side - y * side / 255

    for x, y in zip(lines.luma[1], lines.luma[0], strict=True):
        px, py = place(x, y)
        pen.ellipse((px - 2, py - 2, px + 2, py + 2), fill=BLUE)
    if page is not None:
        pen.line((*place(0, 0.4 * page), *place(255, 0.4 * page + 0.6 * 255)), fill=RED, width=2)
    pen.text((50, side + 22), "luma of the next line", fill=INK, font=font)
    pen.text((52, 18), "luma of the outermost line", fill=INK, font=font)
    pen.text((50, side + 40), title, fill=INK, font=font)
    return picture


def scatter() -> None:
    art = drawn.draw("collage", 6, SIZE)
    cut, _ = faults.cut(art, [Fault("", "top", 0.4, 0, 1, (255, 255, 255))])
    cells = [
        (
            "art as it is",
            plot(profile(jpeg(art, 85, "4:2:0"), "top"), "neighbors are alike", None),
        ),
        (
            "40 % white page in the outermost line",
            plot(profile(jpeg(cut, 85, "4:2:0"), "top"), "red: 0.4 x 255 + 0.6 x art", 255),
        ),
    ]
    sheet("edges-part-line.png", cells, 2)


MISSED: tuple[tuple[str, int, str, str], ...] = (
    # fault, seed, side and what is seen: cuts in art of the reporting half that are not found
    ("full", 24, "bottom", "white page, dots on white"),
    ("full", 37, "right", "black page, checks of black"),
    ("full", 67, "right", "off-white page, stripes"),
    ("full", 106, "left", "gray page, stripes of gray"),
    ("full", 81, "top", "off-white page, light border"),
    ("part-line", 43, "left", "off-white line, white ground"),
    ("part-line", 48, "bottom", "a mixed line on checks"),
    ("part-line", 37, "left", "a mixed line beside a stripe"),
    ("part-line", 63, "left", "a third of a brown line, dark art"),
    ("partial", 45, "bottom", "page ends within the chroma's reach"),
    ("partial", 53, "left", "white page, a stripe of white"),
    ("wedge", 11, "top", "a gray wedge among dots"),
    ("wedge", 67, "right", "off-white wedge on a fade to white"),
    ("nick", 12, "top", "a gray rounding of 6 px"),
    ("nick", 54, "top", "a gray rounding of 6 px"),
    ("nick", 24, "top", "a nick on checks"),
)
TURNS = {
    "right": Image.Transpose.ROTATE_90,
    "bottom": Image.Transpose.ROTATE_180,
    "left": Image.Transpose.ROTATE_270,
}


def misses() -> None:
    """Cuts of the benchmark that are missed, the side on top, each where it can be seen best."""
    cells = []
    for fault, seed, side, caption in MISSED:
        case = corpus.faulty(seed, fault, "reporting", (corpus.DRAWN,))
        cut = next(one for one in case.faults if one.side == side)
        first, last = cut.start, cut.end
        picture = case.picture.convert("RGB")
        if side != "top":
            picture = picture.transpose(TURNS[side])
        if side in {"bottom", "left"}:  # turned, what was first is last
            first, last = 1 - last, 1 - first
        # A part shows where it ends, a whole side in its middle.
        ends = [place for place in (first, last) if 0 < place < 1] or [0.5]
        place = round(ends[0] * picture.width)
        left = max(0, min(place - 20, picture.width - 40))
        name = f"{caption} ({cut.seen:.0f})"
        cells.append((name, corner_of(picture, (left, 0, left + 40, 16))))
    sheet("edges-misses.png", cells, 3)


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    kinds()
    art_cells()
    scatter()
    misses()
