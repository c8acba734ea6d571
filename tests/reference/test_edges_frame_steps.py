"""Margins and left-over frames: pictures drawn with known bands and lines, and each border of both."""

from __future__ import annotations

import numpy as np
import pytest
from edge_strips import seen
from PIL import Image

from pytest_webdeliverable.measure.edges import margins, outline
from pytest_webdeliverable.measure.edges.margins import _flat_depth, margin_facts
from pytest_webdeliverable.measure.edges.outline import _stops, outline_facts
from pytest_webdeliverable.measure.edges.profile import profile
from pytest_webdeliverable.measure.edges.types import SIDES, Outline, Side

WIDTH, HEIGHT = 330, 260
RNG = np.random.default_rng


def _art(seed: int = 1) -> np.ndarray:
    """Grainy art, darker than its page everywhere."""
    return RNG(seed).integers(40, 160, (HEIGHT, WIDTH, 3)).astype(np.uint8)


def _framed(pixels: np.ndarray, depths: tuple[int, int, int, int], color: int = 255) -> Image.Image:
    """Paint bands of given depths on the left, top, right and bottom."""
    left, top, right, bottom = depths
    painted = np.full_like(pixels, color)
    inner = np.s_[top : HEIGHT - bottom, left : WIDTH - right]
    painted[inner] = pixels[inner]
    return Image.fromarray(painted)


@pytest.mark.parametrize(
    "depths", [(12, 12, 12, 12), (13, 20, 31, 40), (36, 17, 38, 18), (12, 30, 13, 35)]
)
def test_margins_on_four_sides(depths: tuple[int, int, int, int]) -> None:
    """Each band as deep as painted, and the art the rest: three quarters of either side and more."""
    assert margins.LEAST == 12
    facts = margin_facts(_framed(_art(), depths, 240))
    assert facts is not None
    assert [(band["side"], band["depth"]) for band in facts["bands"]] == list(
        zip(SIDES, map(float, depths), strict=True)
    )
    assert {band["color"] for band in facts["bands"]} == {"#f0f0f0"}
    assert facts["art"] == {
        "width": WIDTH - depths[0] - depths[2],
        "height": HEIGHT - depths[1] - depths[3],
    }


@pytest.mark.parametrize(
    ("depths", "sides"),
    [
        ((20, 0, 20, 0), ["left", "right"]),
        ((0, 20, 0, 30), ["top", "bottom"]),
        ((20, 20, 0, 20), ["top", "bottom"]),
        ((20, 20, 0, 0), None),
        ((11, 0, 20, 0), None),
        ((12, 0, 12, 0), ["left", "right"]),
        # Half of the width is 165: a band as deep as that is no margin.
        ((164, 0, 20, 0), ["left", "right"]),
        ((165, 0, 20, 0), None),
    ],
)
def test_margins_come_in_pairs(depths: tuple[int, int, int, int], sides: list[Side] | None) -> None:
    """Opposite bands of LEAST px; what has none opposite is none."""
    facts = margin_facts(_framed(_art(), depths))
    assert (facts and [band["side"] for band in facts["bands"]]) == sides
    if facts:
        gone = [
            depth if side in (sides or ()) else 0 for side, depth in zip(SIDES, depths, strict=True)
        ]
        assert facts["art"] == {
            "width": WIDTH - gone[0] - gone[2],
            "height": HEIGHT - gone[1] - gone[3],
        }


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("depth", [0, 11, 12, 13, 24, 37, 100])
def test_the_flat_depth_is_the_last_flat_line(side: Side, depth: int) -> None:
    """numpy: the spread of all lines so far, line by line."""
    pixels = _art(2)
    lines = {
        "left": pixels.swapaxes(0, 1),
        "top": pixels,
        "right": pixels[:, ::-1].swapaxes(0, 1),
        "bottom": pixels[::-1],
    }[side]
    lines[:depth] = 200 + RNG(3).integers(0, margins.FLAT_SPREAD + 1, lines[:depth].shape)
    spread = [np.ptp(lines[: at + 1], axis=(0, 1)).max() for at in range(120)]
    flat = int(np.argmax(np.array(spread) > margins.FLAT_SPREAD))
    assert flat == depth
    assert _flat_depth(Image.fromarray(pixels), side) == (flat if flat >= margins.LEAST else 0)


@pytest.mark.parametrize(("spread", "flat"), [(0, True), (12, True), (13, False)])
def test_how_flat_a_margin_is(spread: int, flat: bool) -> None:
    """One channel of one pixel off, by FLAT_SPREAD codes and by one more."""
    assert margins.FLAT_SPREAD == 12
    picture = _framed(_art(), (20, 0, 20, 0), 200)
    picture.putpixel((4, 77), (200, 200 - spread, 200))
    assert (margin_facts(picture) is not None) == flat


@pytest.mark.parametrize(("share", "told"), [(0.7, False), (0.8, True)])
def test_art_on_a_page_fills_its_first_lines(share: float, told: bool) -> None:
    """Type and drawings on a ground do not: so much of each line inside is art, the rest page."""
    assert 0.7 < margins.FILLED < 0.8
    pixels = _art(4)
    pixels[int(share * HEIGHT) :] = 255
    facts = margin_facts(_framed(pixels, (20, 0, 20, 0)))
    assert (facts is not None) == told


@pytest.mark.parametrize(("off", "told"), [(margins.SEEN, False), (margins.SEEN + 4, True)])
def test_a_margin_is_seen(off: int, told: bool) -> None:
    """Art off by SEEN codes in one channel is at once more than flat and seen; less is ground."""
    pixels = np.full((HEIGHT, WIDTH, 3), 200, np.uint8)
    pixels[..., 2] -= np.uint8(off)
    facts = margin_facts(_framed(pixels, (20, 0, 20, 0), 200))
    assert (facts is not None) == told


def test_ringing_lines_belong_to_the_band() -> None:
    """Five lines before the art have a few dots too dark: not flat, but no art either."""
    pixels = _art(5)
    pixels[20:25] = pixels[-25:-20] = 255
    pixels[20:25, ::60] = pixels[-25:-20, ::60] = 220
    facts = margin_facts(_framed(pixels, (0, 20, 0, 20)))
    assert facts is not None
    assert [band["depth"] for band in facts["bands"]] == [25.0, 25.0]


def test_clear_margins() -> None:
    """Alpha 0 all around is a transparent margin."""
    pixels = np.dstack([_art(6), np.full((HEIGHT, WIDTH), 255, np.uint8)])
    clear = np.array(_framed(pixels, (14, 15, 16, 17), 0))
    facts = margin_facts(Image.fromarray(clear))
    assert facts is not None
    assert [band["depth"] for band in facts["bands"]] == [14.0, 15.0, 16.0, 17.0]
    assert {band["color"] for band in facts["bands"]} == {"transparent"}


INK = (200, 30, 40)


def _ruled(
    sides: tuple[Side, ...],
    inset: int,
    width: int,
    ink: tuple[int, int, int] = INK,
    *,
    open_at: int = 0,
) -> np.ndarray:
    """Draw lines parallel to sides, that far from them, from one line to the next."""
    grain = RNG(8).integers(104, 117, (HEIGHT, WIDTH, 1)).astype(np.uint8)
    pixels = np.repeat(grain, 3, axis=2)
    along = slice(inset - open_at, WIDTH - inset + open_at)
    up = slice(inset - open_at, HEIGHT - inset + open_at)
    near, far = slice(inset, inset + width), slice(-inset - width, -inset)
    places = {"left": (up, near), "right": (up, far), "top": (near, along), "bottom": (far, along)}
    for side in sides:
        pixels[places[side]] = ink
    return pixels


def _outline(pixels: np.ndarray) -> Outline | None:
    picture = Image.fromarray(pixels)
    return outline_facts({side: profile(picture, side) for side in SIDES})


@pytest.mark.parametrize("inset", [2, 5, 9, outline.FARTHEST - 1])
@pytest.mark.parametrize("width", [1, 2, outline.WIDEST])
def test_a_frame_on_four_sides(inset: int, width: int) -> None:
    """Inset, width, color and CIEDE2000 to the art of the lines that were drawn.

    Near gray a code of the art's mean changes CIEDE2000 by half a unit.
    """
    facts = _outline(_ruled(SIDES, inset, width))
    assert facts is not None
    assert facts["sides"] == list(SIDES)
    assert (facts["inset"], facts["width"], facts["color"]) == (inset, width, "#c81e28")
    red, green, blue = INK
    y = 0.299 * red + 0.587 * green + 0.114 * blue
    ink = np.array([y, 128 + (blue - y) / 1.772, 128 + (red - y) / 1.402])
    assert facts["delta-e"] == pytest.approx(seen(ink, np.array([110, 128, 128])), abs=0.6)


@pytest.mark.parametrize("missing", SIDES)
def test_three_sides_are_a_frame(missing: Side) -> None:
    """Any three; two are none."""
    assert outline.FEWEST_SIDES == 3
    left: tuple[Side, ...] = tuple(side for side in SIDES if side != missing)
    facts = _outline(_ruled(left, 6, 2))
    assert facts is not None
    assert facts["sides"] == list(left)
    assert _outline(_ruled(left[:2], 6, 2)) is None


def test_what_is_no_frame() -> None:
    """Too wide, too far in, too faint, of several colors or at several distances."""
    assert _outline(_ruled(SIDES, 6, outline.WIDEST + 1)) is None
    assert _outline(_ruled(SIDES, outline.FARTHEST + 1, 1)) is None
    gray = int(110 + outline.SEEN - 6)
    assert _outline(_ruled(SIDES, 6, 2, (gray,) * 3)) is None
    assert _outline(_ruled(SIDES, 6, 2, (gray + 14,) * 3)) is not None
    mixed = _ruled(SIDES, 6, 2)
    mixed[6:8, 8:-8] = mixed[-8:-6, 8:-8] = (30, 60, 200)
    assert _outline(mixed) is None
    apart = _ruled(("left", "right"), 6, 2)
    apart[10:12, 8:-8] = apart[-12:-10, 8:-8] = INK
    assert _outline(apart) is None


def test_lines_one_px_off_are_one_frame() -> None:
    """Left and right 6 px in, top and bottom 7: the median of both is told."""
    pixels = _ruled(("left", "right"), 6, 2)
    pixels[7:9, 6:-6] = pixels[-9:-7, 6:-6] = INK
    facts = _outline(pixels)
    assert facts is not None
    assert (facts["inset"], facts["width"]) == (6.5, 2.0)


def test_stripes_that_run_on_are_no_frame() -> None:
    """Lines that go on to the picture's edge, across their neighbors."""
    assert _outline(_ruled(SIDES, 8, 2, open_at=8)) is None


def test_where_a_line_stops() -> None:
    """A line 8 px in, closed on the left and open on the right, seen from the top."""
    pixels = _ruled((), 8, 2)
    pixels[8:10, 8:] = INK
    lines = profile(Image.fromarray(pixels), "top")
    ink = (lines.luma[8][20], lines.blue[8][20], lines.red[8][20])
    assert _stops(lines, 8, ink) == (True, False)
    pixels[8:10] = pixels[8:10, ::-1].copy()
    assert _stops(profile(Image.fromarray(pixels), "top"), 8, ink) == (False, True)
