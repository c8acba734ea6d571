"""Gaps: page colour between the art and the edge of the picture."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.edges import color
from pytest_webdeliverable.measure.edges.strips import strip
from pytest_webdeliverable.measure.edges.types import SIDES, Gap, Side

if TYPE_CHECKING:
    from PIL import Image

LINES: Final = 16
SEGMENT: Final = 8
DEEPEST: Final = 9
FLAT: Final = 8.0
STEP: Final = 10.0
SHORTEST: Final = 4


def _far(one: tuple[float, ...], other: tuple[float, ...]) -> float:
    return max(abs(a - b) for a, b in zip(one, other, strict=True))


def _side(picture: Image.Image, side: Side) -> list[Gap]:
    lines = strip(picture, side, LINES)
    bands = len(lines.getbands())
    length = lines.width
    small = lines.reduce((SEGMENT, 1)) if length >= SEGMENT else lines
    count = small.width
    data = small.tobytes()
    rows = [
        [
            tuple(data[(row * count + at) * bands : (row * count + at + 1) * bands])
            for at in range(count)
        ]
        for row in range(small.height)
    ]
    depths = []
    for at in range(count):
        outer = rows[0][at]
        depth = 1
        while depth < min(DEEPEST + 1, small.height) and _far(outer, rows[depth][at]) <= STEP:
            depth += 1
        depths.append(depth if depth <= DEEPEST and depth < small.height else 0)
    gaps: list[Gap] = []
    at = 0
    while at < count:
        end = at
        while (
            depths[at]
            and end < count
            and depths[end] == depths[at]
            and _far(rows[0][end], rows[0][at]) <= FLAT
        ):
            end += 1
        if end - at >= max(SHORTEST, count // 25):
            depth = depths[at]
            outer = rows[0][(at + end) // 2]
            inner = [rows[min(depth + 1, small.height - 1)][k] for k in range(at, end)]
            mean = [sum(values) / len(inner) for values in zip(*inner, strict=True)]
            gap: Gap = {
                "side": side,
                "depth": float(depth),
                "start": at / count,
                "end": end / count,
                "color": color.name(outer),
                "delta-e": round(color.difference(outer, mean), 1),
            }
            if bands == 4 and outer[3] < 250:
                gap["color"] = "transparent"
                gap["alpha"] = round(outer[3] / 255, 2)
            gaps.append(gap)
        at = max(end, at + 1)
    return gaps


def gap_facts(picture: Image.Image) -> list[Gap]:
    """Return the gaps of all four sides."""
    return [gap for side in SIDES for gap in _side(picture, side)]
