"""A drawing surface in the web copy's own pixels, drawn larger and reduced once for fine edges."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING, Final

from PIL import Image, ImageDraw, ImageFont

if TYPE_CHECKING:
    from collections.abc import Sequence

Point = tuple[float, float]
Color = tuple[int, int, int]

SUPERSAMPLE: Final = 3  # drawn pixels per final pixel, each way


def ink(code: str) -> Color:
    """Color from a six-digit hex code."""
    value = int(code.lstrip("#"), 16)
    return (value >> 16, value >> 8 & 255, value & 255)


def mix(one: Color, two: Color, share: float) -> Color:
    """Color on the way from one to two; share 0..1."""
    t = min(1.0, max(0.0, share))
    return (
        round(one[0] + (two[0] - one[0]) * t),
        round(one[1] + (two[1] - one[1]) * t),
        round(one[2] + (two[2] - one[2]) * t),
    )


def ramp(stops: Sequence[tuple[float, Color]], at: float) -> Color:
    """Color of a gradient with stops (position, color) in rising order."""
    for (p0, c0), (p1, c1) in itertools.pairwise(stops):
        if at <= p1:
            return mix(c0, c1, (at - p0) / (p1 - p0))
    return stops[-1][1]


def flat(size: tuple[int, int], color: Color) -> Image.Image:
    """Return a picture of one color."""
    return Image.new("RGB", size, color)


def font(size: float) -> ImageFont.FreeTypeFont:
    """Pillow's built-in scalable face; it needs no font on the machine."""
    face = ImageFont.load_default(size)
    if not isinstance(face, ImageFont.FreeTypeFont):
        raise RuntimeError("this drawing needs a Pillow built with FreeType")  # noqa: TRY004
    return face


class Canvas:
    """Draw in final pixels (fractions allowed); `finish` reduces with Lanczos."""

    def __init__(
        self, width: int, height: int, ground: Color, supersample: int = SUPERSAMPLE
    ) -> None:
        self.width, self.height = width, height
        self.k = supersample
        self.image = Image.new("RGB", (width * self.k, height * self.k), ground)
        self.pen = ImageDraw.Draw(self.image)

    def _points(self, points: Sequence[Point]) -> list[Point]:
        return [(x * self.k, y * self.k) for x, y in points]

    def rect(self, x: float, y: float, w: float, h: float, fill: Color) -> None:
        k = self.k
        x0, y0, x1, y1 = round(x * k), round(y * k), round((x + w) * k), round((y + h) * k)
        if x1 > x0 and y1 > y0:
            self.pen.rectangle((x0, y0, x1 - 1, y1 - 1), fill=fill)

    def polygon(self, points: Sequence[Point], fill: Color) -> None:
        self.pen.polygon(self._points(points), fill=fill)

    def disc(self, x: float, y: float, radius: float, fill: Color) -> None:
        self.ellipse(x, y, radius, radius, fill)

    def ellipse(self, x: float, y: float, rx: float, ry: float, fill: Color) -> None:
        k = self.k
        self.pen.ellipse(((x - rx) * k, (y - ry) * k, (x + rx) * k, (y + ry) * k), fill=fill)

    def sector(self, x: float, y: float, r: float, a0: float, a1: float, fill: Color) -> None:
        k = self.k
        self.pen.pieslice(((x - r) * k, (y - r) * k, (x + r) * k, (y + r) * k), a0, a1, fill=fill)

    def line(self, points: Sequence[Point], width: float, fill: Color) -> None:
        self.pen.line(
            self._points(points), fill=fill, width=max(1, round(width * self.k)), joint="curve"
        )

    def dashes(
        self, start: Point, end: Point, width: float, fill: Color, on: float, off: float
    ) -> None:
        length = math.dist(start, end)
        ux, uy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
        at = 0.0
        while at < length:
            to = min(length, at + on)
            self.line(
                [
                    (start[0] + ux * at, start[1] + uy * at),
                    (start[0] + ux * to, start[1] + uy * to),
                ],
                width,
                fill,
            )
            at = to + off

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: float,
        fill: Color,
        *,
        bold: float = 0.0,
        tracking: float = 0.0,
        anchor: str = "l",
    ) -> float:
        """One line of the built-in face, y at the baseline; gives its length in px.

        `bold` thickens by so many px, `tracking` adds space after each letter in px.
        """
        face = font(size * self.k)
        length = sum(face.getlength(c) / self.k + tracking for c in words) - tracking
        left = {"l": x, "m": x - length / 2, "r": x - length}[anchor]
        at = left
        for letter in words:
            self.pen.text(
                (at * self.k, y * self.k),
                letter,
                font=face,
                fill=fill,
                anchor="ls",
                stroke_width=bold * self.k,
                stroke_fill=fill,
            )
            at += face.getlength(letter) / self.k + tracking
        return length

    def column(
        self,
        x: float,
        y: float,
        words: str,
        size: float,
        leading: float,
        measure: float,
        fill: Color,
        *,
        lines: int = 999,
        indent: float = 0.0,
    ) -> tuple[float, str]:
        """Set words ragged in a column; gives the next baseline and the words left over."""
        face = font(size * self.k)
        rest = words.split()
        done = 0
        while rest and done < lines:
            room = measure - (indent if done == 0 else 0.0)
            row = [rest[0]]
            while len(row) < len(rest):
                trial = " ".join([*row, rest[len(row)]])
                if face.getlength(trial) / self.k > room:
                    break
                row.append(rest[len(row)])
            rest = rest[len(row) :]
            self.pen.text(
                ((x + measure - room) * self.k, y * self.k),
                " ".join(row),
                font=face,
                fill=fill,
                anchor="ls",
            )
            y += leading
            done += 1
        return y, " ".join(rest)

    def stamp(self, mask: Image.Image, fill: Color | Image.Image, x: int = 0, y: int = 0) -> None:
        """Lay a color or picture through a mask given in drawn (large) pixels."""
        if isinstance(fill, Image.Image):
            self.image.paste(fill, (x, y), mask)
        else:
            self.image.paste(fill, (x, y, x + mask.width, y + mask.height), mask)

    def mask(self) -> tuple[Image.Image, ImageDraw.ImageDraw]:
        """Return an empty mask as large as the drawn picture, with its pen."""
        blank = Image.new("L", self.image.size, 0)
        return blank, ImageDraw.Draw(blank)

    def finish(self, scale: int = 1) -> Image.Image:
        size = (self.width * scale, self.height * scale)
        return self.image.resize(size, Image.Resampling.LANCZOS)
