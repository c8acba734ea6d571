"""Drawings of the page: edge strips with their gaps, and a picture inside its box.

SVG in the page itself, because its geometry is attributes: the page's policy allows no inline styles.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from pytest_webdeliverable.report.pictures import WHOLE, where_to_look
from pytest_webdeliverable.report.words import markup

if TYPE_CHECKING:
    from pytest_webdeliverable.report.pictures import EdgeStrip

_COLOR: Final = re.compile(r"#[0-9a-f]{6}")
ZOOM: Final = 8
"""How many times an edge strip is enlarged, each pixel a square."""
LABEL: Final = 56
"""Px on the screen that the number beside a gap takes."""
LABEL_INSIDE: Final = 64
"""How far that number stands from the end of a long gap."""
CANVAS: Final = 168
"""Long side of the drawing of sizes, in px on the screen."""
ROOM: Final = 26
"""Px around that drawing, for what passes the box and for lengths."""


def edge_strip(strip: EdgeStrip, gaps: list[dict[str, Any]] | None, length: int) -> str:
    """Return one magnified edge.

    ``gaps`` are those of all sides, None where nobody looked for any; ``length`` is that of the whole
    side in px.
    """
    upright = strip.side in {"left", "right"}
    span = strip.end - strip.start
    size = (strip.depth, span) if upright else (span, strip.depth)
    width, height = size[0] * ZOOM, size[1] * ZOOM
    here = [gap for gap in gaps or () if gap["side"] == strip.side]
    found = "; ".join(gap_words(gap) for gap in here) or ("" if gaps is None else "no gap")
    label = f"{strip.side} edge, enlarged {ZOOM} times{': ' if found else ''}{found}"
    marks = "".join(_gap_mark(gap, strip, length) for gap in here)
    place = where_to_look(here) * length if here else (strip.start + strip.end) / 2
    at = round((place - strip.start) * ZOOM)
    return (
        f'<div class="edge {strip.side}" tabindex="0" role="group" aria-label="{markup(label)}" '
        f'data-at="{at}">'
        f'<svg width="{width}" height="{height}" aria-hidden="true">'
        f'<image href="{strip.picture.uri}" width="{width}" height="{height}" '
        'preserveAspectRatio="none"/>'
        f"{marks}</svg></div>"
    )


def gap_words(gap: dict[str, Any]) -> str:
    """Return depth, color and reach of a gap."""
    share = gap["end"] - gap["start"]
    reach = f"along {share:.0%}" if share >= 0.01 else "along less than 1%"
    color = "see-through" if gap["color"] == "transparent" else gap["color"]
    return f"{gap['depth']:g} px of {color} {reach} of the side"


def swatch(color: str) -> str:
    """Return a patch of a measured color; nothing for what has none."""
    if not _COLOR.fullmatch(color):
        return ""
    return (
        '<svg class="patch" width="14" height="14" aria-hidden="true">'
        f'<rect x=".5" y=".5" width="13" height="13" fill="{color}"/></svg>'
    )


def _gap_mark(gap: dict[str, Any], strip: EdgeStrip, length: int) -> str:
    """Outline a gap and draw its depth as a measure with its number."""
    first = max(0.0, gap["start"] * length - strip.start) * ZOOM
    last = min(float(strip.end - strip.start), gap["end"] * length - strip.start) * ZOOM
    if last <= first:
        return ""
    depth = min(gap["depth"], strip.depth) * ZOOM
    full = strip.depth * ZOOM
    middle = _label_place(gap, first, last)
    text = f"{gap['depth']:g} px"
    places = {
        "top": ((first, 0, last, depth), (middle, depth + 18)),
        "bottom": ((first, full - depth, last, full), (middle, full - depth - 10)),
        "left": ((0, first, depth, last), (depth + 8, middle + 5)),
        "right": ((full - depth, first, full, last), (full - depth - 8, middle + 5)),
    }
    (left, top, right, bottom), (x, y) = places[strip.side]
    if strip.side in {"left", "right"} and full - depth < LABEL:
        # No room beside a deep gap: the number stands at the rim instead, below the gap if it ends.
        x = 6 if strip.side == "left" else full - 6
        y = last + 18 if last + 24 < (strip.end - strip.start) * ZOOM else y
    anchor = {"left": "start", "right": "end"}.get(strip.side, "middle")
    box = f'x="{left:g}" y="{top:g}" width="{right - left:g}" height="{bottom - top:g}"'
    return (
        f'<rect class="halo" {box}/><rect class="gap" {box}/>'
        f'<text class="measure" x="{x:g}" y="{y:g}" text-anchor="{anchor}">{markup(text)}</text>'
    )


def _label_place(gap: dict[str, Any], first: float, last: float) -> float:
    """Where along a gap its number stands: the middle, or near the end that is looked at first."""
    if last - first > 2 * LABEL_INSIDE:
        if gap["start"] > WHOLE:
            return first + LABEL_INSIDE
        if gap["end"] < 1 - WHOLE:
            return last - LABEL_INSIDE
    return (first + last) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizes:
    """Sizes to draw over each other, in px: width, height; None where there is none."""

    actual: tuple[int, int]
    expected: tuple[int, int] | None
    box: tuple[int, int] | None
    fits: bool


def size_drawing(sizes: Sizes) -> str:
    """Draw a picture's size over the expected one, inside the box of the site."""
    drawn = [size for size in (sizes.actual, sizes.expected, sizes.box) if size is not None]
    across, down = (max(size[axis] for size in drawn) for axis in (0, 1))
    scale = CANVAS / max(across, down)
    shapes = []
    if sizes.box is not None:
        shapes.append(_rect("box", sizes.box, scale))
    shapes.append(_rect("actual fits" if sizes.fits else "actual", sizes.actual, scale))
    if sizes.expected is not None:
        shapes.append(_rect("expected", sizes.expected, scale))
    width, height = across * scale + 2 * ROOM, down * scale + 2 * ROOM
    wide, high = sizes.actual[0] * scale, sizes.actual[1] * scale
    lengths = (
        f'<text x="{ROOM + wide / 2:.1f}" y="{ROOM - 8}" text-anchor="middle">{sizes.actual[0]}</text>'
        f'<text x="{ROOM - 8}" y="{ROOM + high / 2:.1f}" text-anchor="middle" '
        f'transform="rotate(-90 {ROOM - 8} {ROOM + high / 2:.1f})">{sizes.actual[1]}</text>'
    )
    return (
        f'<svg class="sizes" width="{width:.0f}" height="{height:.0f}" aria-hidden="true">'
        f"{''.join(shapes)}{lengths}</svg>"
    )


def _rect(name: str, size: tuple[int, int], scale: float) -> str:
    width, height = max(1.0, size[0] * scale), max(1.0, size[1] * scale)
    return f'<rect class="{name}" x="{ROOM}" y="{ROOM}" width="{width:.1f}" height="{height:.1f}"/>'
