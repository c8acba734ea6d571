"""Margins, step by step: flat depths scanned line by line in numpy, bands of a few grays worked by hand."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from pytest_webdeliverable.measure.edges.margins import (
    _band,
    _flat_depth,
    _is_art,
    _joined,
    _spread,
    margin_facts,
)
from pytest_webdeliverable.measure.edges.types import SIDES, Margin, Side

RNG = np.random.default_rng
PAGE, ART = 240, 100
OTHERS: dict[Side, tuple[Side, Side]] = {
    "left": ("top", "bottom"),
    "right": ("top", "bottom"),
    "top": ("left", "right"),
    "bottom": ("left", "right"),
}


def _from(side: Side, pixels: np.ndarray) -> np.ndarray:
    """Turn a side's lines (outermost first), or a picture, to the other: each turn is its own reverse."""
    return {
        "top": lambda: pixels,
        "bottom": lambda: pixels[::-1],
        "left": lambda: pixels.swapaxes(0, 1),
        "right": lambda: pixels[::-1].swapaxes(0, 1),
    }[side]()


def _picture(side: Side, lines: np.ndarray) -> Image.Image:
    """Return the picture whose side has these lines, gray unless they have bands."""
    pixels = _from(side, lines if lines.ndim == 3 else np.stack([lines] * 3, -1))
    return Image.fromarray(np.ascontiguousarray(pixels.astype(np.uint8)))


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize(("first", "last"), [(0, 1), (0, 12), (3, 7), (11, 13)])
def test_extremes_of_some_lines(side: Side, first: int, last: int) -> None:
    """numpy's own; two of them make one."""
    lines = RNG(1).integers(0, 256, (13, 17, 3))
    picture = _picture(side, lines)
    part, begin = lines[first:last], lines[:2]
    want = [(part[..., band].min(), part[..., band].max()) for band in range(3)]
    assert list(_spread(picture, side, first, last)) == want
    both = np.concatenate([part, begin])
    joined = _joined(_spread(picture, side, first, last), _spread(picture, side, 0, 2))
    assert joined == [(both[..., band].min(), both[..., band].max()) for band in range(3)]


def _scanned(lines: np.ndarray) -> int:
    """Return how many lines stay within 12 codes, one after the other; 0 below 12 and from the half on."""
    flat = 0
    while flat < len(lines) and np.ptp(lines[: flat + 1].astype(int)) <= 12:
        flat += 1
    return flat if 12 <= flat < len(lines) // 2 else 0


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("long", [24, 25, 26, 27, 53, 120])
def test_every_depth(side: Side, long: int) -> None:
    """Bands of all depths, in pictures of several sizes, then all art."""
    for depth in range(long + 1):
        lines = np.full((long, 5), ART)
        lines[:depth] = PAGE
        if depth < long:
            lines[depth, 1:] = PAGE  # one px is enough to end it
        lines[depth + 1 :] = ART
        assert _flat_depth(_picture(side, lines), side) == _scanned(lines), depth


@pytest.mark.parametrize(
    ("rise", "depth"), [(0.2, 65), (0.5, 26), (0.9, 15), (1.0, 13), (1.1, 12), (1.2, 0)]
)
@pytest.mark.parametrize("sign", [-1, 1])
def test_a_slow_fade_is_not_flat(rise: float, depth: int, sign: int) -> None:
    """Each few lines are, all together are not: it ends with the first line that is 13 codes off."""
    lines = np.repeat(120 + sign * np.floor(np.arange(150) * rise)[:, None], 4, axis=1)
    assert _scanned(lines) == depth
    for side in SIDES:
        assert _flat_depth(_picture(side, np.clip(lines, 0, 255)), side) == depth


@pytest.mark.parametrize(
    ("count", "off", "is_art"), [(15, 12, True), (14, 99, False), (15, 11, False), (20, 11, False)]
)
@pytest.mark.parametrize("band", [0, 1, 2, 3])
def test_three_quarters_of_a_line_make_it_art(
    count: int, off: int, is_art: bool, band: int
) -> None:
    """15 of 20 segments are enough, each off by 12 codes in one channel, lighter or darker."""
    for sign in (-1, 1):
        pixels = np.full((3, 20, 4), 120)
        pixels[1, :count, band] += sign * off
        segments = Image.fromarray(pixels.astype(np.uint8))
        # The page's mean is rounded.
        assert _is_art(segments, 1, [119.6, 120.4, 120.0, 120.0]) == is_art
        assert not _is_art(segments, 0, [120.0] * 4)


def _bands(
    side: Side, lines: np.ndarray, depth: int, first: int = 0, last: int = 0
) -> Margin | None:
    """Ask for the band of a side that is flat to a depth, as two sides beside it are."""
    before, after = OTHERS[side]
    picture = _picture(side, lines)
    return _band(picture, side, {side: depth, before: first, after: last, **_opposite(side)})


def _opposite(side: Side) -> dict[Side, int]:
    opposite: dict[Side, Side] = {
        "left": "right",
        "right": "left",
        "top": "bottom",
        "bottom": "top",
    }
    return {opposite[side]: 99}


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize(("ringing", "depth"), [(0, 13.0), (1, 14.0), (8, 21.0), (9, None)])
def test_lines_that_ring_belong_to_the_band(side: Side, ringing: int, depth: float | None) -> None:
    """Up to a block of a JPEG, 8 px: the art begins where three quarters of a line are off."""
    lines = np.full((60, 100), ART)
    lines[: 13 + ringing] = PAGE
    lines[13 : 13 + ringing, ::9] = PAGE - 30
    band = _bands(side, lines, 13)
    assert band == (None if depth is None else {"side": side, "depth": depth, "color": "#f0f0f0"})
    assert _bands(side, lines, 0) is None


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize(
    ("first", "last", "found"),
    [
        (24, 24, True),
        (26, 26, True),
        (27, 26, False),
        (26, 27, False),
        # With one band beside it alone the whole line is asked.
        (0, 48, False),
        (48, 0, False),
        (1, 26, True),
        (26, 1, True),
    ],
)
def test_a_band_is_judged_between_its_neighbors(
    side: Side, first: int, last: int, found: bool
) -> None:
    """Of 100 px: bands of up to 26 beside it, wider ones are a ground and not left out.

    Between them all is art; of all 100 px at most 73 are, which is less than three quarters.
    """
    lines = np.full((60, 100), PAGE)
    lines[13:, first : 100 - last] = ART
    band = _bands(side, lines, 13, first, last)
    assert (band is not None) == found


@pytest.mark.parametrize("side", SIDES)
def test_art_that_begins_beside_a_neighbor_counts(side: Side) -> None:
    """What is left out at each end is that neighbor's band, not the other's: 10 px or 26 of 100."""
    lines = np.full((60, 100), ART)
    lines[:13] = PAGE
    # Three of eight segments from 10 to 74 are page, but only one of those from 26 to 90.
    lines[13:, 10:34] = PAGE
    assert _bands(side, lines, 13, 10, 26) is None
    assert _bands(side, lines, 13, 26, 10) is not None


@pytest.mark.parametrize(
    ("width", "count", "found"), [(6, 4, False), (6, 5, True), (8, 1, True), (9, 1, False)]
)
def test_a_picture_as_narrow_as_a_block(width: int, count: int, found: bool) -> None:
    """Narrower, its px are asked one by one: 5 of 6 are art, 4 are less than three quarters.

    8 px are one segment, of which one px in eight makes 17 codes; a ninth is another.
    """
    lines = np.full((60, width), PAGE)
    lines[13:, :count] = ART
    for side in SIDES:
        assert (_bands(side, lines, 13) is not None) == found


@pytest.mark.parametrize(
    ("alpha", "color"), [(0, "transparent"), (127, "transparent"), (128, "#f0f0f0")]
)
def test_a_band_seen_through(alpha: int, color: str) -> None:
    """More than half."""
    lines = np.full((60, 100, 4), PAGE)
    lines[..., 3] = alpha
    lines[14:] = (ART, ART, ART, 255)
    for side in SIDES:
        band = _bands(side, lines, 14)
        assert band == {"side": side, "depth": 14.0, "color": color}


def test_the_color_is_that_of_the_outermost_lines() -> None:
    """Twelve of them; the rest of a flat band may be a little off."""
    lines = np.full((90, 100), ART)
    lines[:12], lines[12:30] = PAGE, PAGE - 12
    for side in SIDES:
        band = _bands(side, lines, 30)
        assert band == {"side": side, "depth": 30.0, "color": "#f0f0f0"}


@pytest.mark.parametrize("pair", [("left", "right"), ("top", "bottom")])
def test_what_is_left_for_the_art(pair: tuple[Side, Side]) -> None:
    """The picture's size less the bands of one pair, 14 and 20 px."""
    lines = RNG(2).integers(40, 160, (90, 110))
    lines[:14], lines[-20:] = PAGE, 255
    facts = margin_facts(_picture(pair[0], lines))
    assert facts is not None
    assert [(band["side"], band["depth"], band["color"]) for band in facts["bands"]] == (
        [(pair[0], 14.0, "#f0f0f0"), (pair[1], 20.0, "#ffffff")]
    )
    width, height = (56, 110) if pair[0] == "left" else (110, 56)
    assert facts["art"] == {"width": width, "height": height}
