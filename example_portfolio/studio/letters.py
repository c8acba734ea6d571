"""A geometric alphabet of one stroke width, drawn from lines and arcs; ours, at any weight."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from PIL import Image, ImageDraw

if TYPE_CHECKING:
    from collections.abc import Sequence

    from studio.canvas import Canvas, Color

Point = tuple[float, float]
Stroke = list[Point]


def arc(cx: float, cy: float, rx: float, ry: float, start: float, end: float) -> Stroke:
    """Points of an elliptic arc; degrees, 0 at three o'clock, clockwise as y runs down."""
    steps = max(8, int(abs(end - start) / 4))
    angles = [math.radians(start + (end - start) * i / steps) for i in range(steps + 1)]
    return [(cx + rx * math.cos(a), cy + ry * math.sin(a)) for a in angles]


def _bowl(x0: float, x1: float, y0: float, y1: float) -> Stroke:
    """Trace a D-shaped bowl that opens from the stem at x0."""
    r = (y1 - y0) / 2
    return [(x0, y0), (x1 - 0.42, y0), *arc(x1 - 0.42, (y0 + y1) / 2, 0.42, r, -90, 90), (x0, y1)]


# Center lines in a unit box (x right, y down) and the width as a share of the height.
GLYPHS: Final[dict[str, tuple[float, list[Stroke]]]] = {
    "A": (0.88, [[(0, 1), (0.5, 0), (1, 1)], [(0.2, 0.68), (0.8, 0.68)]]),
    "B": (0.70, [[(0, 0), (0, 1)], _bowl(0, 0.94, 0, 0.47), _bowl(0, 1, 0.47, 1)]),
    "C": (0.86, [arc(0.5, 0.5, 0.5, 0.5, -42, -318)]),
    "D": (0.82, [[(0, 0), (0, 1)], _bowl(0, 1, 0, 1)]),
    "E": (0.62, [[(1, 0), (0, 0), (0, 1), (1, 1)], [(0, 0.48), (0.88, 0.48)]]),
    "F": (0.60, [[(1, 0), (0, 0), (0, 1)], [(0, 0.5), (0.88, 0.5)]]),
    "G": (0.90, [[*arc(0.5, 0.5, 0.5, 0.5, -42, -360), (0.55, 0.5)]]),
    "H": (0.78, [[(0, 0), (0, 1)], [(1, 0), (1, 1)], [(0, 0.5), (1, 0.5)]]),
    "I": (0.0, [[(0.5, 0), (0.5, 1)]]),
    "J": (0.58, [[(1, 0), (1, 0.62), *arc(0.5, 0.62, 0.5, 0.38, 0, 175)]]),
    "K": (0.76, [[(0, 0), (0, 1)], [(1, 0), (0.06, 0.56)], [(0.3, 0.42), (1, 1)]]),
    "L": (0.58, [[(0, 0), (0, 1), (1, 1)]]),
    "M": (0.98, [[(0, 1), (0, 0), (0.5, 0.72), (1, 0), (1, 1)]]),
    "N": (0.80, [[(0, 1), (0, 0), (1, 1), (1, 0)]]),
    "O": (0.96, [arc(0.5, 0.5, 0.5, 0.5, 0, 360)]),
    "P": (0.66, [[(0, 0), (0, 1)], _bowl(0, 1, 0, 0.54)]),
    "Q": (0.96, [arc(0.5, 0.5, 0.5, 0.5, 0, 360), [(0.6, 0.66), (0.98, 1.0)]]),
    "R": (0.70, [[(0, 0), (0, 1)], _bowl(0, 1, 0, 0.52), [(0.42, 0.52), (1, 1)]]),
    "S": (
        0.66,
        [[*arc(0.5, 0.25, 0.5, 0.25, -25, -270), *arc(0.5, 0.75, 0.5, 0.25, -90, 155)]],
    ),
    "T": (0.70, [[(0, 0), (1, 0)], [(0.5, 0), (0.5, 1)]]),
    "U": (0.76, [[(0, 0), (0, 0.62), *arc(0.5, 0.62, 0.5, 0.38, 180, 0), (1, 0)]]),
    "V": (0.84, [[(0, 0), (0.5, 1), (1, 0)]]),
    "W": (1.22, [[(0, 0), (0.26, 1), (0.5, 0.18), (0.74, 1), (1, 0)]]),
    "X": (0.80, [[(0, 0), (1, 1)], [(1, 0), (0, 1)]]),
    "Y": (0.80, [[(0, 0), (0.5, 0.5), (1, 0)], [(0.5, 0.5), (0.5, 1)]]),
    "Z": (0.70, [[(0, 0), (1, 0), (0, 1), (1, 1)]]),
    "0": (0.74, [arc(0.5, 0.5, 0.5, 0.5, 0, 360)]),
    "1": (0.34, [[(0, 0.2), (1, 0), (1, 1)]]),
    "2": (0.66, [[*arc(0.5, 0.3, 0.5, 0.3, 185, 395), (0, 1), (1, 1)]]),
    "3": (0.66, [arc(0.48, 0.25, 0.44, 0.25, 200, 450), arc(0.48, 0.75, 0.52, 0.25, -90, 165)]),
    "4": (0.76, [[(0.74, 1), (0.74, 0), (0, 0.7), (1, 0.7)]]),
    "5": (
        0.66,
        [[(0.95, 0), (0.1, 0), (0.06, 0.44), *arc(0.48, 0.68, 0.52, 0.32, -115, 150)]],
    ),
    "6": (
        0.70,
        [[(0.78, 0), *arc(0.5, 0.66, 0.5, 0.34, -160, -180)], arc(0.5, 0.66, 0.5, 0.34, 0, 360)],
    ),
    "7": (0.66, [[(0, 0), (1, 0), (0.3, 1)]]),
    "8": (0.68, [arc(0.5, 0.24, 0.42, 0.24, 0, 360), arc(0.5, 0.74, 0.5, 0.26, 0, 360)]),
    "9": (
        0.70,
        [arc(0.5, 0.34, 0.5, 0.34, 0, 360), [(0.22, 1), *arc(0.5, 0.34, 0.5, 0.34, 20, 0)]],
    ),
    "-": (0.40, [[(0.1, 0.52), (0.9, 0.52)]]),
    ".": (0.0, [[(0.5, 0.985), (0.5, 1)]]),
}
KERN: Final = {
    "AV": -0.16,
    "VA": -0.16,
    "LT": -0.14,
    "LO": -0.05,
    "TA": -0.12,
    "AT": -0.12,
    "LY": -0.14,
    "RO": -0.02,
    "OA": -0.05,
    "AY": -0.12,
    "PA": -0.1,
    "FO": -0.05,
    "KO": -0.05,
    "LA": 0.0,
    "RT": -0.03,
    "AW": -0.1,
    "WA": -0.1,
    "TO": -0.05,
}


def _outline(points: Sequence[Point], width: float) -> list[Point]:
    """Outline of a stroke with mitred corners (cut off beyond three half widths)."""
    half = width / 2
    left: list[Point] = []
    right: list[Point] = []
    points = [p for i, p in enumerate(points) if not i or math.dist(p, points[i - 1]) > 1e-3]
    closed = math.dist(points[0], points[-1]) < 1e-3
    ring = points[:-1] if closed else points
    n = len(ring)
    for i, (x, y) in enumerate(ring):
        before = ring[i - 1] if i or closed else None
        after = ring[(i + 1) % n] if i < n - 1 or closed else None
        d0 = _unit(before, (x, y)) if before else _unit((x, y), after or (x, y))
        d1 = _unit((x, y), after) if after else d0
        nx, ny = -(d0[1] + d1[1]), d0[0] + d1[0]
        size = math.hypot(nx, ny) or 1.0
        nx, ny = nx / size, ny / size
        cosine = max(0.33, nx * -d0[1] + ny * d0[0])
        reach = half / cosine
        left.append((x + nx * reach, y + ny * reach))
        right.append((x - nx * reach, y - ny * reach))
    if closed:
        return [*left, left[0], right[0], *reversed(right)]
    return [*left, *reversed(right)]


def _unit(start: Point, end: Point) -> Point:
    length = math.dist(start, end) or 1.0
    return ((end[0] - start[0]) / length, (end[1] - start[1]) / length)


def _reach(points: Stroke, width: float, box: Point) -> Stroke:
    """Lengthen open ends that lie on the letter's box, so that the box cuts them flat."""
    if math.dist(points[0], points[-1]) < 1e-6:
        return points
    ends = [points[0], points[-1]]
    for which, (end, inner) in enumerate(((points[0], points[1]), (points[-1], points[-2]))):
        dx, dy = _unit(inner, end)
        half = width / 2
        on_y = end[1] < half + 1 or end[1] > box[1] - half - 1
        on_x = end[0] < half + 1 or end[0] > box[0] - half - 1
        if (on_y and abs(dy) > 0.3) or (on_x and abs(dy) < 0.01):
            ends[which] = (end[0] + dx * width, end[1] + dy * width)
    return [ends[0], *points[1:-1], ends[1]]


def glyph(letter: str, height: float, weight: float) -> Image.Image:
    """Mask of one letter; height and stroke weight in drawn pixels."""
    share, strokes = GLYPHS[letter]
    width = max(weight, share * height + (weight * 0.55 if share else 0))
    mask = Image.new("L", (math.ceil(width), math.ceil(height)), 0)
    pen = ImageDraw.Draw(mask)
    for stroke in strokes:
        placed = [
            (weight / 2 + x * (width - weight), weight / 2 + y * (height - weight))
            for x, y in stroke
        ]
        reached = _reach(placed, weight, (width, height))
        pen.polygon(_outline(reached, weight), fill=255)
    return mask


def measure(words: str, height: float, weight: float, tracking: float) -> float:
    """Length of a line in px, as `write` sets it."""
    return _set(words, height, weight, tracking)[1]


def _set(words: str, h: float, weight: float, tracking: float) -> tuple[list[float], float]:
    at, places = 0.0, []
    for i, letter in enumerate(words):
        places.append(at)
        if letter == " ":
            at += h * 0.36 + tracking
            continue
        share = GLYPHS[letter][0]
        at += max(weight, share * h + (weight * 0.55 if share else 0)) + tracking
        at += KERN.get(words[i : i + 2], 0.0) * h
    return places, at - tracking


def write(
    canvas: Canvas,
    x: float,
    y: float,
    words: str,
    height: float,
    weight: float,
    fill: Color,
    *,
    tracking: float = 0.0,
    anchor: str = "l",
) -> float:
    """Set a line of capitals with its top at y; all sizes in final px; gives the length."""
    places, length = _set(words, height, weight, tracking)
    left = {"l": x, "m": x - length / 2, "r": x - length}[anchor]
    k = canvas.k
    for letter, place in zip(words, places, strict=True):
        if letter != " ":
            canvas.stamp(
                glyph(letter, height * k, weight * k), fill, round((left + place) * k), round(y * k)
            )
    return length
