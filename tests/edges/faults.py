"""Cut faults into art, and say what was cut."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from pytest_webdeliverable.measure.ciede2000 import delta_e

SIDES = ("left", "top", "right", "bottom")
Color = tuple[int, int, int]
Pixels = NDArray[np.float32]

WHITE = (255, 255, 255)


@dataclass(frozen=True)
class Fault:
    """One cut: where, how deep (px, at its deepest), from where to where (fractions), what shows."""

    kind: str
    side: str
    depth: float
    start: float
    end: float
    color: Color
    alpha: float = 1.0
    """Opacity of what shows: 0 transparent, 1 a page color."""
    seen: float = 0.0
    """CIEDE2000 between the outermost line and the art beside the gap, mean along the gap."""


def page_color(rng: random.Random) -> Color:
    """White, off-white, gray, black or a color, white most often."""
    pick = rng.random()
    if pick < 0.4:
        return WHITE
    if pick < 0.55:
        return rng.randrange(244, 254), rng.randrange(240, 252), rng.randrange(228, 246)
    if pick < 0.7:
        gray = rng.randrange(40, 230)
        return gray, gray, gray
    if pick < 0.82:
        return (0, 0, 0)
    return rng.randrange(256), rng.randrange(256), rng.randrange(256)


def _turned(pixels: Pixels, side: str) -> Pixels:
    """A view in which the side is the top and runs left to right (top to bottom)."""
    match side:
        case "left":
            return pixels.transpose(1, 0, 2)
        case "right":
            return pixels.transpose(1, 0, 2)[::-1]
        case "bottom":
            return pixels[::-1]
        case _:
            return pixels


def _paint(
    pixels: Pixels, side: str, coverage: NDArray[np.float64], color: Color, alpha: float
) -> None:
    """Mix page into the lines of a side; coverage is (lines, length) from 0 (art) to 1 (page)."""
    view = _turned(pixels, side)[: coverage.shape[0]]
    page = np.array(color, dtype=np.float32)
    share = coverage[..., None].astype(np.float32)
    if view.shape[2] == 4:
        view[..., 3:] = view[..., 3:] * (1 - share) + 255 * alpha * share
        if alpha == 0:
            return
    view[..., :3] = view[..., :3] * (1 - share) + page * share


def _depths(length: int, fault: Fault) -> NDArray[np.float64]:
    depths = np.zeros(length)
    depths[round(fault.start * length) : round(fault.end * length)] = fault.depth
    return depths


def _coverage(depths: NDArray[np.float64]) -> NDArray[np.float64]:
    lines = np.arange(math.ceil(depths.max()) + 1)
    return (depths[None, :] - lines[:, None]).clip(0, 1)


def seen(art: Image.Image, cut: Image.Image, fault: Fault) -> float:
    """Return the mean CIEDE2000 of the outermost line against the art line beside the gap."""
    before = _turned(np.asarray(art.convert("RGB"), dtype=np.float32), fault.side)
    after = _turned(np.asarray(cut.convert("RGB"), dtype=np.float32), fault.side)
    length = before.shape[1]
    low, high = round(fault.start * length), max(round(fault.end * length), 1)
    inner = min(math.ceil(fault.depth), before.shape[0] - 1)
    step = max(1, min(8, (high - low) // 2))
    values = []
    for at in range(low, high, step):
        one = after[0, at : at + step].mean(axis=0)
        other = before[inner, at : at + step].mean(axis=0)
        values.append(delta_e(_codes(one), _codes(other)))
    return sum(values) / max(1, len(values))


def _codes(values: NDArray[np.float32]) -> Color:
    red, green, blue = (round(float(value)) for value in values)
    return red, green, blue


def cut(art: Image.Image, faults: list[Fault]) -> tuple[Image.Image, list[Fault]]:
    """Cut whole, part-line and partial gaps; return the picture and the faults with what is seen."""
    clear = any(fault.alpha < 1 for fault in faults)
    pixels = np.array(art.convert("RGBA" if clear else "RGB"), dtype=np.float32)
    for fault in faults:
        depths = _depths(_turned(pixels, fault.side).shape[1], fault)
        _paint(pixels, fault.side, _coverage(depths), fault.color, fault.alpha)
    return _finish(art, pixels, faults)


def _finish(
    art: Image.Image, pixels: Pixels, faults: list[Fault]
) -> tuple[Image.Image, list[Fault]]:
    picture = Image.fromarray((pixels + 0.5).clip(0, 255).astype(np.uint8))
    return picture, [
        replace(fault, seen=100.0 if fault.alpha < 1 else seen(art, picture, fault))
        for fault in faults
    ]


def wedge(
    art: Image.Image, side: str, angle: float, rising: bool, length: float, color: Color
) -> tuple[Image.Image, list[Fault]]:
    """A triangle of page along a side: depth grows by tan(angle in degrees) over a share of it."""
    pixels = np.array(art.convert("RGB"), dtype=np.float32)
    along = _turned(pixels, side).shape[1]
    run = round(along * length)
    depths = np.zeros(along)
    depths[:run] = np.arange(run, 0, -1) * math.tan(math.radians(angle))
    fault = Fault("wedge", side, float(depths.max()), 0.0, length, color)
    if rising:
        depths = depths[::-1].copy()
        fault = replace(fault, start=1 - length, end=1.0)
    _paint(pixels, side, _coverage(depths), color, 1.0)
    return _finish(art, pixels, [fault])


def turned(
    art: Image.Image, angle: float, color: Color, smooth: bool
) -> tuple[Image.Image, list[Fault]]:
    """Art turned about its middle on a page: a wedge on half of every side.

    Smooth turning mixes page and art along the slope; the other kind leaves stairs.
    """
    mask = Image.new("L", art.size, 0)
    if smooth:
        fine = art.width * 3, art.height * 3
        turn = {"resample": Image.Resampling.BILINEAR}
        mask = mask.resize(fine).rotate(angle, fillcolor=255, **turn)
        mask = mask.resize(art.size, Image.Resampling.BOX)
        # Past its own edge the turned art is taken to go on, so that the mask alone mixes.
        wide = Image.fromarray(np.pad(np.asarray(art), ((8, 8), (8, 8), (0, 0)), mode="edge"))
        inside = wide.rotate(angle, Image.Resampling.BICUBIC).crop(
            (8, 8, art.width + 8, art.height + 8)
        )
        picture = Image.composite(Image.new("RGB", art.size, color), inside, mask)
    else:
        mask = mask.rotate(angle, Image.Resampling.BICUBIC, fillcolor=255)
        picture = art.rotate(angle, Image.Resampling.BICUBIC, fillcolor=color)
    covered = np.asarray(mask, dtype=np.float32)[..., None] / 255
    faults = []
    for side in SIDES:
        depths = _turned(covered, side)[:24, :, 0].sum(axis=0)
        depths[:10] = depths[10]
        depths[-10:] = depths[-11]
        where = np.flatnonzero(depths > 0.2)
        if not where.size:
            continue
        start, end = float(where[0] / depths.size), float((where[-1] + 1) / depths.size)
        faults.append(Fault("wedge", side, float(depths.max()), start, end, color))
    return picture, [replace(fault, seen=seen(art, picture, fault)) for fault in faults]


def nick(
    art: Image.Image, corner: tuple[str, str], leg: int, shape: str, color: Color
) -> tuple[Image.Image, list[Fault]]:
    """A corner missing: a square, a triangle or a rounding of ``leg`` px; corner is (top, left), say."""
    pixels = np.array(art.convert("RGB"), dtype=np.float32)
    fine = 8
    grid = (np.arange(leg * fine) + 0.5) / fine
    x, y = np.meshgrid(grid, grid)
    match shape:
        case "triangle":
            inside = x + y < leg
        case "round":
            inside = (x - leg) ** 2 + (y - leg) ** 2 > leg**2
        case _:
            inside = np.ones_like(x, dtype=bool)
    coverage = inside.reshape(leg, fine, leg, fine).mean(axis=(1, 3))
    view = pixels
    if corner[0] == "bottom":
        view = view[::-1]
    if corner[1] == "right":
        view = view[:, ::-1]
    share = coverage[..., None].astype(np.float32)
    view[:leg, :leg] = view[:leg, :leg] * (1 - share) + np.array(color, dtype=np.float32) * share
    width, height = art.size
    span = {
        "top": (0.0, leg / width) if corner[1] == "left" else (1 - leg / width, 1.0),
        "left": (0.0, leg / height) if corner[0] == "top" else (1 - leg / height, 1.0),
    }
    faults = [
        Fault("nick", corner[0], leg, *span["top"], color),
        Fault("nick", corner[1], leg, *span["left"], color),
    ]
    return _finish(art, pixels, faults)


Maker = Callable[[random.Random, Image.Image], tuple[Image.Image, list[Fault]]]


def _sides(rng: random.Random) -> list[str]:
    count = rng.choice((1, 1, 1, 2, 2, 3, 4, 4))
    return [side for side in SIDES if side in rng.sample(SIDES, count)]


def _share(rng: random.Random) -> float:
    return round(rng.uniform(0.15, 0.9), 2)


def full(rng: random.Random, art: Image.Image) -> tuple[Image.Image, list[Fault]]:
    """Whole lines along whole sides, one to four sides, now and then with a part line inside."""
    color, depth = page_color(rng), float(rng.choice((1, 1, 1, 2, 2, 3, 4, 5, 6, 7, 8)))
    if rng.random() < 0.35 and depth < 8:
        depth += _share(rng)
    faults = [Fault("full", side, depth, 0.0, 1.0, color) for side in _sides(rng)]
    return cut(art, faults)


def part_line(rng: random.Random, art: Image.Image) -> tuple[Image.Image, list[Fault]]:
    """Only the outermost line, 15 to 90 % page, along whole sides."""
    color, depth = page_color(rng), _share(rng)
    return cut(art, [Fault("part-line", side, depth, 0.0, 1.0, color) for side in _sides(rng)])


def partial(rng: random.Random, art: Image.Image) -> tuple[Image.Image, list[Fault]]:
    """Whole and part lines along 5 to 90 % of one side."""
    color, depth = page_color(rng), float(rng.choice((1, 1, 2, 2, 3, 4, 6, 8)))
    if rng.random() < 0.3:
        depth += _share(rng) - 1
    length = rng.choice((rng.uniform(0.05, 0.2), rng.uniform(0.1, 0.9)))
    start = rng.choice((0.0, 1 - length, rng.uniform(0, 1 - length)))
    return cut(art, [Fault("partial", rng.choice(SIDES), depth, start, start + length, color)])


def wedges(rng: random.Random, art: Image.Image) -> tuple[Image.Image, list[Fault]]:
    """Art turned by 0.05 to 0.5 degrees, about its middle or about one corner."""
    angle, color = math.exp(rng.uniform(math.log(0.05), math.log(0.5))), page_color(rng)
    if rng.random() < 0.5:
        return turned(art, angle * rng.choice((-1, 1)), color, rng.random() < 0.5)
    length = rng.choice((1.0, 1.0, rng.uniform(0.3, 1)))
    return wedge(art, rng.choice(SIDES), angle, rng.random() < 0.5, length, color)


def nicks(rng: random.Random, art: Image.Image) -> tuple[Image.Image, list[Fault]]:
    """A corner nick of 2 to 14 px."""
    corner = rng.choice(("top", "bottom")), rng.choice(("left", "right"))
    shape = rng.choice(("triangle", "triangle", "square", "round"))
    leg = rng.choice((2, 3, 3, 4, 5, 6, 8, 10, 12))
    # A rounding of few pixels takes away no more than one.
    leg = max(leg, 6) if shape == "round" else leg
    return nick(art, corner, leg, shape, page_color(rng))


def clear(rng: random.Random, art: Image.Image) -> tuple[Image.Image, list[Fault]]:
    """Transparent or half-transparent lines, whole or part, along one to four sides or a part."""
    depth = float(rng.choice((1, 1, 2, 2, 3, 4, 6, 8)))
    if rng.random() < 0.3:
        depth += _share(rng) - 1
    alpha = rng.choice((0.0, 0.0, 0.0, rng.uniform(0.1, 0.7)))
    start, end = 0.0, 1.0
    if rng.random() < 0.3:
        start = rng.uniform(0, 0.8)
        end = min(1.0, start + rng.uniform(0.1, 0.9))
    sides = _sides(rng)
    return cut(
        art, [Fault("clear", side, depth, start, end, page_color(rng), alpha) for side in sides]
    )


MAKERS: dict[str, Maker] = {
    "full": full,
    "part-line": part_line,
    "partial": partial,
    "wedge": wedges,
    "nick": nicks,
    "clear": clear,
}
