"""Borders between two answers of single steps that whole strips leave room to, each worked by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from edge_strips import cut, gray, seen, side_of
from PIL import Image

from pytest_webdeliverable.measure.edges import gaps, nick, outline
from pytest_webdeliverable.measure.edges.depths import Depths, common_depth
from pytest_webdeliverable.measure.edges.gaps import _clear_gaps, _gap, gap_facts
from pytest_webdeliverable.measure.edges.margins import margin_facts
from pytest_webdeliverable.measure.edges.nick import find_nick
from pytest_webdeliverable.measure.edges.outline import _stops, outline_facts
from pytest_webdeliverable.measure.edges.part import (
    CALM,
    LEAST,
    WEIGHTS,
    Mix,
    _stretch,
    part_run,
    restless,
)
from pytest_webdeliverable.measure.edges.profile import profile
from pytest_webdeliverable.measure.edges.types import SIDES, Side

RNG = np.random.default_rng
WHITE = np.array((255.0, 128.0, 128.0))


def _moved(changes: list[int], *, wavering: tuple[int, ...] = ()) -> bool:
    """Whether a strip is restless whose lines change so much from one to the next.

    48 segments are looked at in blocks of 4. Changes of ``wavering`` lines go up and down by turns within
    a block: as large, with a mean of nothing.
    """
    luma = np.full((24, 48), 120)
    turns = np.tile([1, -1], 24)
    for line, change in enumerate(changes):
        luma[: line + 1] += change * (turns if line in wavering else 1)
    return restless(side_of(gray(luma)))


@pytest.mark.parametrize(
    ("changes", "wavering", "is_restless"),
    [
        # Inner changes of 10 that go up and down: 1.35 * 10 + 1 = 14.5, and the mean moves by nothing.
        ([16, 10, 10, 10, 10], (1, 2, 3, 4), True),
        ([14, 10, 10, 10, 10], (1, 2, 3, 4), False),
        # Inner changes of 10 all one way: the mean moves by 1.6 * 10 + 1 = 17, before 1.8 * 10 + 2 = 20.
        ([18, 10, 10, 10, 10], (), True),
        ([16, 10, 10, 10, 10], (), False),
        # The outermost wavers as well: only 1.8 * 10 + 2 = 20 remains.
        ([18, 10, 10, 10, 10], (0, 1, 2, 3, 4), False),
        ([20, 10, 10, 10, 10], (0, 1, 2, 3, 4), False),
        ([22, 10, 10, 10, 10], (0, 1, 2, 3, 4), True),
        # Going up and then down again by 10, the mean moves as well.
        ([16, 10, -10, 10, -10], (), False),
        # Large enough for the first look, but hardly larger than the art's own moves.
        ([15, 10, 10, 10, 10], (1, 2, 3, 4), True),
        ([12, 10, 10, 10, 10], (1, 2, 3, 4), False),
        # One inner change is enough to compare with, but not beyond the CALM lines.
        ([20, 0, 0, 0, 18], (), False),
        ([20, 0, 0, 0, 0, 18], (), True),
    ],
)
def test_when_a_strip_is_restless(
    changes: list[int], wavering: tuple[int, ...], is_restless: bool
) -> None:
    """Each border of the two looks, worked beside it."""
    assert CALM == 5
    assert _moved(changes, wavering=wavering) == is_restless


@pytest.mark.parametrize(
    ("share", "weight", "found"),
    [
        (0.5, 10.0, True),
        # Chi squared of 40 segments: 40 * 0.25 * 1.1 = 11 is below 12, 40 * 0.25 * 1.3 = 13 is not.
        (0.5, 1.1, False),
        (0.5, 1.3, True),
        (LEAST / 2 + 0.005, 900.0, True),
        (LEAST / 2 - 0.005, 900.0, False),
        (1.25, 10.0, True),
        (1.35, 10.0, False),
    ],
)
def test_what_a_stretch_starts_from(share: float, weight: float, found: bool) -> None:
    """Loud enough, and a share that a line can have; then the share itself is told."""
    mix = Mix([share * weight] * 40, [weight] * 40, [1.0] * 40)
    first, last, base, slope, score = _stretch(mix)
    assert ((first, last) == (0, 40)) == found
    if found:
        assert (base, slope) == pytest.approx((share, 0.0))
        # Each speaks by its share (at most 1) * weight * (share - half of that), clipped.
        own = min(share, 1.0)
        each = min(4.0, own * weight * (share - own / 2))
        assert score == pytest.approx(40 * each)


@pytest.mark.parametrize(
    ("other", "agrees"),
    # Of a share of s from 0.4 s to 1.6 s agrees; the fitted share is a little off 0.5 for the others'.
    [(0.62, True), (0.3, True), (0.12, False), (0.97, False)],
)
def test_what_a_stretch_of_a_side_says(other: float, agrees: bool) -> None:
    """Segments 20 to 79 half covered, every tenth otherwise: means by numpy, and who agrees.

    Art of luma 60 to 150 is far from white, so that each segment weighs as much as any (50 at most).
    """
    strip = gray(np.repeat(RNG(2).integers(60, 150, (1, 100)), 24, axis=0))
    strip[..., 1] = RNG(3).integers(110, 146, (1, 100))
    share = np.where((np.arange(100) >= 20) & (np.arange(100) < 80), 0.5, 0.0)
    share[25:80:10] = other
    lines = side_of(cut(strip, WHITE, share), 8)
    run = part_run(lines, (255.0, 128.0, 128.0), [4.0] * 100)
    assert run is not None
    assert (run.first, run.last) == (20, 80)
    assert run.art == pytest.approx(tuple(strip[1, 20:80].mean(0)))
    outer = np.stack([list(plane[0][20:80]) for plane in (lines.luma, lines.blue, lines.red)], -1)
    assert run.line == pytest.approx(tuple(outer.mean(0)))
    assert run.agree == pytest.approx(1.0 if agrees else 54 / 60)
    # What is left of the offsets once the fitted mix is taken off them.
    off = outer - strip[1, 20:80]
    left = off - run.share_first * (WHITE - strip[1, 20:80])
    weights = np.array(WEIGHTS)
    assert run.told == pytest.approx(1 - (left**2 @ weights).sum() / (off**2 @ weights).sum())


def test_a_bin_of_depths_starts_from_nothing() -> None:
    """By hand: three at 2 px weigh 3 * 0.5, one each at 5 and 5.25 px together 2 * 0.5."""
    found = Depths([5.0, 5.25, 2.0, 2.0, 2.0], [20.0] * 5, [False] * 5, [])
    assert common_depth(found) == 2.0


def test_a_gap_is_told_in_px_and_shares() -> None:
    """100 segments of 8 px: 3 / 100 and 7 / 100; hundredths of px, tenths of CIEDE2000."""
    lines = side_of(gray(np.full((24, 100), 90)), 8)
    assert _gap("left", lines, (3, 7), 2.3456, page=(255, 128, 0), seen=5.678) == {
        "side": "left",
        "depth": 2.35,
        "start": 0.03,
        "end": 0.07,
        "color": "#ff8000",
        "delta-e": 5.7,
    }
    # A last segment of 1 px: the end is the side's.
    short = replace(lines, length=793)
    assert _gap("top", short, (0, 100), 1.0, page=(0, 0, 0), seen=9.0)["end"] == 1.0


ART = RNG(9).integers(60, 150, (300, 400, 1))


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize(("depth", "first", "last"), [(3.0, 0.0, 1.0), (2.5, 0.3, 0.8)])
def test_a_gap_is_told_as_it_was_cut(side: Side, depth: float, first: float, last: float) -> None:
    """Grainy art cut to white along a part of a side: depth, ends (to a segment), color."""
    pixels = np.repeat(ART, 3, axis=2).astype(float)
    turned = {
        "left": pixels.swapaxes(0, 1),
        "top": pixels,
        "right": pixels[:, ::-1].swapaxes(0, 1),
        "bottom": pixels[::-1],
    }[side]
    length = turned.shape[1]
    at = (np.arange(length) >= first * length) & (np.arange(length) < last * length)
    turned[:] = cut(turned, np.array([255.0] * 3), depth * at)
    picture = Image.fromarray(np.rint(pixels).astype(np.uint8))
    found = gap_facts(picture, {one: profile(picture, one) for one in SIDES})
    assert [gap["side"] for gap in found] == [side]
    assert found[0]["depth"] == pytest.approx(depth, abs=0.1)
    assert (found[0]["start"], found[0]["end"]) == pytest.approx((first, last), abs=0.015)
    assert found[0]["color"] == "#ffffff"
    assert found[0]["delta-e"] == pytest.approx(seen(WHITE, np.array([105, 128, 128])), abs=2)


@pytest.mark.parametrize("share", [0.3, 0.5, 0.8])
@pytest.mark.parametrize("side", SIDES)
def test_a_part_covered_line_is_told_as_it_was_cut(side: Side, share: float) -> None:
    """Art that goes on inward for some lines, its outermost line covered in part."""
    smooth = np.asarray(Image.fromarray(ART[::8, ::8, 0].astype(np.uint8)).resize((400, 300)))
    pixels = np.repeat(smooth[..., None], 3, axis=2).astype(float)
    line: Any = {"left": np.s_[:, 0], "top": np.s_[0], "right": np.s_[:, -1], "bottom": np.s_[-1]}
    pixels[line[side]] = share * 255 + (1 - share) * pixels[line[side]]
    picture = Image.fromarray(np.rint(pixels).astype(np.uint8))
    found = gap_facts(picture, {one: profile(picture, one) for one in SIDES})
    assert [(gap["side"], gap["color"]) for gap in found] == [(side, "#ffffff")]
    assert found[0]["depth"] == pytest.approx(share, abs=0.05)
    assert (found[0]["start"], found[0]["end"]) == pytest.approx((0.0, 1.0), abs=0.02)


@pytest.mark.parametrize(
    ("page", "art", "told"),
    [
        (0, 255, True),
        (0, gaps.OPAQUE - 6, True),
        (0, gaps.OPAQUE - 7, False),
        (gaps.OPAQUE - 20, 255, True),
        (gaps.OPAQUE - 1, 255, False),
    ],
)
def test_clear_gaps_lie_beside_opaque_art(page: int, art: int, told: bool) -> None:
    """Alpha of the three outermost lines and of the rest, at the border of opaque."""
    pixels = np.full((120, 160, 4), 90, np.uint8)
    pixels[..., 3] = art
    pixels[:3, :, 3] = page
    picture = Image.fromarray(pixels)
    alpha = picture.getchannel("A").crop((0, 0, 160, 24))
    assert bool(_clear_gaps(picture, alpha, "top")) == told


@pytest.mark.parametrize(("alpha", "color"), [(127, "transparent"), (128, "#c80a14")])
def test_margins_are_clear_below_half(alpha: int, color: str) -> None:
    """Alpha of both bands just below and just above the middle."""
    pixels = np.zeros((200, 200, 4), np.uint8)
    pixels[:] = (200, 10, 20, alpha)
    pixels[20:-20] = RNG(4).integers(0, 140, (160, 200, 4))
    pixels[20:-20, :, 3] = 255
    facts = margin_facts(Image.fromarray(pixels))
    assert facts is not None
    assert {band["color"] for band in facts["bands"]} == {color}


def test_lines_within_two_px_have_no_ends_to_see() -> None:
    """A line 2 px in has one px outside it, 3 px in has two: from there on ends are looked at."""
    pixels = np.full((100, 300, 3), 90, np.uint8)
    pixels[2:4] = (200, 30, 40)
    lines = profile(Image.fromarray(pixels), "top")
    ink = (lines.luma[3][20], lines.blue[3][20], lines.red[3][20])
    assert _stops(lines, 2, ink) == (True, True)
    assert _stops(lines, 3, ink) == (False, False)


def test_a_frame_inside_a_wide_band() -> None:
    """A white edge line, then flat art of 9 px (too wide for a frame), then a frame 10 px in."""
    pixels = np.full((260, 330, 3), 255, np.uint8)
    pixels[1:-1, 1:-1] = 90
    pixels[10:-10, 10:-10] = (200, 30, 40)
    pixels[12:-12, 12:-12] = 90
    picture = Image.fromarray(pixels)
    facts = outline_facts({side: profile(picture, side) for side in SIDES})
    assert outline.WIDEST < 9
    assert facts is not None
    assert (facts["inset"], facts["width"], facts["color"]) == (10.0, 2.0, "#c81e28")


def _spotted(beside: int = 0, below: int = 0, dim: int = 0) -> bool:
    """Whether a nick of 5 px is one, with px of its color beside its first row and below it.

    ``dim`` px right around it are nearly as light as it is.
    """
    luma = np.full((60, 60), 90, np.uint8)
    luma[:5, :5] = 255
    luma[0, 12 : 12 + beside] = 255
    for at in range(below):
        luma[12 + at // 10, 8 + at % 10] = 255
    luma[:dim, 5:9] = 200
    picture = Image.fromarray(np.stack([luma] * 3, -1))
    return find_nick(picture, ("top", "left")) is not None


def test_a_nicks_color_hardly_comes_back() -> None:
    """Of 28 px of a row 0.12 are 3.4; of 28 * 28 below it 0.04 are 31.4."""
    assert 3 < nick.BESIDE * nick.REACH < 4
    assert 31 < nick.BELOW * nick.REACH**2 < 32
    assert [_spotted(beside=many) for many in (0, 3, 4)] == [True, True, False]
    assert [_spotted(below=many) for many in (31, 32)] == [True, False]


def test_a_nick_is_cut_off_sharply() -> None:
    """20 px of its rim are looked at, two for each of 5 rows and 5 columns: SHARP_RIM must be dark.

    Two rows dim are 4 of 20 (0.8 remain), three are 6.
    """
    assert nick.SHARP_RIM == 0.8
    assert [_spotted(dim=rows) for rows in (0, 2, 3)] == [True, True, False]
