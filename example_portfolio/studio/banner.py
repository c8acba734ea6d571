"""The banner kite-day, from which its thumbnail and card are cut."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from studio import letters
from studio.canvas import Canvas, ink, ramp
from studio.export import fit

if TYPE_CHECKING:
    from PIL import Image

    from studio.canvas import Point


def _kite(art: Canvas, x: float, y: float, size: float, turn: float, hues: tuple[str, ...]) -> None:
    c, s = math.cos(turn), math.sin(turn)

    def at(u: float, v: float) -> Point:
        return (x + size * (u * c - v * s), y + size * (u * s + v * c))

    top, left, right, tail, mid = (
        at(0, -1),
        at(-0.72, -0.2),
        at(0.72, -0.2),
        at(0, 1.25),
        at(0, -0.2),
    )
    for i, facet in enumerate(
        ((top, left, mid), (top, right, mid), (left, tail, mid), (right, tail, mid))
    ):
        art.polygon(facet, ink(hues[i % len(hues)]))
    string = []
    for i in range(60):
        t = i / 59
        string.append(
            (
                tail[0] + (190 + size) * t - 90 * t * t + 8 * math.sin(t * 9),
                tail[1] + (900 - tail[1]) * t**1.25,
            )
        )
    art.line(string, 1.1, ink("#3b4a63"))
    for i in range(1, 6):
        bx, by = string[i * 3]
        art.polygon(
            [(bx - 9, by - 5), (bx + 9, by + 5), (bx + 9, by - 5), (bx - 9, by + 5)],
            ink(hues[i % len(hues)]),
        )


def kite_day() -> Image.Image:
    """Draw a wide banner whose sky fades to almost white at the lower edge."""
    width, height = fit(36, 18)
    art = Canvas(width, height, ink("#fdfaf2"))
    sky = [
        (0.0, ink("#2f78b7")),
        (0.34, ink("#6fb0d6")),
        (0.66, ink("#c9e1e6")),
        (0.88, ink("#f7f2e4")),
        (1.0, ink("#fdfaf2")),
    ]
    for i in range(height * art.k):
        art.pen.line((0, i, width * art.k, i), fill=ramp(sky, i / (height * art.k - 1)))
    art.disc(300, 672, 66, ink("#fbe3a4"))
    _kite(art, 900, 250, 150, 0.42, ("#e2452f", "#b72c24", "#f38b3c", "#d96424"))
    _kite(art, 1305, 175, 96, -0.25, ("#17324f", "#0f2238", "#2b5a86", "#1f4468"))
    _kite(art, 1215, 478, 64, 0.6, ("#f0b429", "#c98d16", "#f7d267", "#dda52b"))
    _kite(art, 655, 120, 52, 0.12, ("#2a8c7c", "#1d6b5f", "#5cb5a2", "#3a9d8c"))
    _kite(art, 1480, 410, 40, -0.5, ("#e2452f", "#b72c24", "#f38b3c", "#d96424"))
    navy = ink("#17324f")
    letters.write(art, 84, 92, "KITE", 150, 34, ink("#fdfaf2"), tracking=12)
    letters.write(art, 84, 268, "DAY", 150, 34, ink("#fdfaf2"), tracking=12)
    art.text(88, 486, "North strand, first dry Sunday.", 24, navy, bold=0.3)
    art.text(88, 520, "Bring string.", 24, navy, bold=0.3)
    return art.finish()
