"""From runs to gaps: doubles, patches, mixes against whole lines, and the facts as they are told."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from edge_strips import cut, gray, seen, side_of
from PIL import Image

from pytest_webdeliverable.measure.edges import gaps
from pytest_webdeliverable.measure.edges.gaps import (
    _apart,
    _choose,
    _echo,
    _nick_gaps,
    _on_the_way,
    _patchwork,
    _reaches,
    _without_doubles,
    gap_facts,
)
from pytest_webdeliverable.measure.edges.nick import CORNERS, Nick, find_nick
from pytest_webdeliverable.measure.edges.part import PartRun
from pytest_webdeliverable.measure.edges.profile import profile
from pytest_webdeliverable.measure.edges.types import SIDES, Gap, Side
from pytest_webdeliverable.measure.edges.weigh import SHORT
from pytest_webdeliverable.measure.edges.whole import Run, candidates

RNG = np.random.default_rng
WHITE, ART = (255.0, 128.0, 128.0), (100.0, 128.0, 128.0)
COUNT = 100


def _art(seed: int = 1) -> np.ndarray:
    return np.repeat(gray(RNG(seed).integers(60, 150, (1, COUNT))), 24, axis=0)


STRIP = cut(_art(), np.array(WHITE), np.ones(COUNT))
LINES = side_of(STRIP, 8)
RUN: Run = candidates(LINES, WHITE)[0]
PART = PartRun(0, COUNT, 0.5, 0.5, WHITE, 99.0, 1.0, 1.0, ART, (177.5, 128.0, 128.0), 20.0)


def _run(first: int, last: int, **change: Any) -> Run:
    return replace(RUN, **{"first": first, "last": last, "told": last - first, **change})


@pytest.mark.parametrize(
    ("first", "last", "apart"),
    # Against 30..60, by the shorter one's third: 10 of 30, 4 of 12.
    [
        (0, 30, True),
        (0, 39, True),
        (0, 40, False),
        (51, 90, True),
        (50, 90, False),
        (22, 33, True),
        (22, 34, False),
        (40, 50, False),
        (70, 90, True),
    ],
)
def test_runs_apart(first: int, last: int, apart: bool) -> None:
    """Less than a third of the shorter one is shared, whichever comes first."""
    assert _apart(_run(30, 60), _run(first, last)) == apart
    assert _apart(_run(first, last), _run(30, 60)) == apart


def test_doubles_leave_the_longest() -> None:
    """The most told is kept, then what is apart from all that is kept."""
    long, inside, beside = _run(0, 60), _run(20, 50), _run(55, 90)
    assert _without_doubles([inside, beside, long]) == [long, beside]
    assert _without_doubles([inside, replace(long, told=5)]) == [inside]


@pytest.mark.parametrize(
    ("change", "patchwork"),
    [
        ({}, True),
        ({"first": 11, "last": 20}, True),
        ({"first": 12, "last": 20}, False),
        ({"told": SHORT * COUNT - 1}, True),
        ({"told": SHORT * COUNT}, False),
        ({"depth_first": RUN.depth + gaps.SAME_DEPTH - 0.001}, True),
        ({"depth_first": RUN.depth + gaps.SAME_DEPTH + 0.001}, False),
        ({"page": WHITE}, False),
    ],
)
def test_patchwork(change: dict[str, Any], patchwork: bool) -> None:
    """Two short runs of two colors that touch; each condition at its border and beyond."""
    one, other = _run(0, 10), replace(_run(10, 19, page=(128.0, 128.0, 128.0)), **change)
    assert _patchwork(one, other, COUNT) == patchwork
    assert _patchwork(other, one, COUNT) == patchwork


def test_two_colors_by_ciede2000() -> None:
    """The first gray that is TWO_COLORS from white, and the one before."""
    white = np.array(WHITE)
    gray_codes = range(255, 0, -1)
    at = next(
        code for code in gray_codes if seen(white, np.array([code, 128, 128])) >= gaps.TWO_COLORS
    )
    for code, patchwork in ((at, True), (at + 1, False)):
        other = _run(10, 19, page=(float(code), 128.0, 128.0))
        assert _patchwork(_run(0, 10), other, COUNT) == patchwork


@pytest.mark.parametrize("share", [0.0, 0.3, 0.8])
def test_the_echo_is_the_slope_of_the_art_in_the_outermost_line(share: float) -> None:
    """numpy.polyfit of the mixed line on the next: what is not page goes on."""
    strip = cut(_art(2), np.array(WHITE), np.full(COUNT, share))
    strip[1:] += RNG(3).integers(-3, 4, (23, COUNT, 1))
    lines = side_of(strip)
    part = replace(PART, first=10, last=90)
    slope = np.polyfit(list(lines.luma[1][10:90]), list(lines.luma[0][10:90]), 1)[0]
    assert _echo(lines, part) == pytest.approx(slope)
    assert slope == pytest.approx(1 - share, abs=0.05)


def test_flat_art_has_no_echo() -> None:
    """Without variation there is no slope."""
    assert _echo(side_of(gray(np.full((24, COUNT), 90))), PART) == 0.0


@pytest.mark.parametrize(
    ("moved", "way"),
    # A page 60 codes away, half covered: the mix moves chroma by 30, 4:2:0 leaves 12 (0.4) at least.
    [
        (30 + gaps.HUE_SLACK, True),
        (30 + gaps.HUE_SLACK + 0.1, False),
        (12 - gaps.HUE_SLACK, True),
        (12 - gaps.HUE_SLACK - 0.1, False),
    ],
)
@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("band", [1, 2])
def test_on_the_way(moved: float, way: bool, sign: int, band: int) -> None:
    """Each chroma by itself, upward and downward; the other one is exactly on the way."""
    page, line = [255.0, 188.0, 188.0], [177.0, 158.0, 158.0]
    page[band], line[band] = 128 + 60.0 * sign, 128 + moved * sign
    part = replace(PART, page=tuple(page), line=tuple(line), share_first=0.4, share_last=0.6)
    assert _on_the_way(part) == way


SPREAD = {"spread": gaps.FLAT_ART}
MIXED = side_of(cut(_art(), np.array(WHITE), np.full(COUNT, 0.5)), 8)
"""An outermost line in which the art echoes."""


@pytest.mark.parametrize(
    ("lines", "run", "part", "kept"),
    [
        (MIXED, SPREAD, {}, True),
        (LINES, SPREAD, {}, False),
        # On flat art the mix has to explain the line; the echo does not matter.
        (LINES, {"spread": gaps.FLAT_ART - 0.1}, {}, True),
        (LINES, {"spread": 0.0}, {"told": gaps.SURE_MIX}, True),
        (LINES, {"spread": 0.0}, {"told": gaps.SURE_MIX - 0.01}, False),
        (
            LINES,
            {"spread": 0.0},
            dict.fromkeys(["share_first", "share_last"], gaps.NEARLY_WHOLE),
            False,
        ),
        (LINES, {"spread": 0.0}, dict.fromkeys(["share_first", "share_last"], 0.92), True),
        (LINES, {"spread": 0.0}, {"line": (177.5, 168.0, 128.0)}, False),
        # A straight run of more than a line is none; wedges give way to an even stretch.
        (MIXED, {**SPREAD, "depth_first": 1.4, "depth_last": 1.4}, {}, True),
        (MIXED, {**SPREAD, "depth_first": 1.5, "depth_last": 1.5}, {}, False),
        (MIXED, {**SPREAD, "depth_first": 3.0}, {"agree": gaps.EVEN}, True),
        (MIXED, {**SPREAD, "depth_first": 3.0}, {"agree": gaps.EVEN - 0.01}, False),
        (MIXED, {**SPREAD, "depth_first": 3.0}, {"share_last": 0.4}, False),
        # The stretch must be as long as three quarters of what it stands for.
        (MIXED, SPREAD, {"last": 75}, True),
        (MIXED, SPREAD, {"last": 74}, False),
        (LINES, {**SPREAD, "last": 74, "told": 74}, {}, True),
        (LINES, {**SPREAD, "last": 75, "told": 75}, {}, False),
    ],
)
def test_a_mix_or_a_whole_line(
    lines: Any, run: dict[str, Any], part: dict[str, Any], kept: bool
) -> None:
    """One of the two is left: the mix where it explains the line better."""
    whole = replace(RUN, **{"depth_first": 1.0, "depth_last": 1.0, **run})
    mix = replace(PART, **part)
    assert _choose(lines, [whole], [mix]) == (([], [mix]) if kept else ([whole], []))


def test_mixes_beside_whole_lines_stay() -> None:
    """Three tenths of the run's length in common are no rivalry."""
    wide = _run(0, 50, depth_first=4.0, depth_last=4.0)
    for first, both in ((35, True), (34, False)):
        part = replace(PART, first=first)
        assert _choose(MIXED, [wide], [part]) == ([wide], [part] if both else [])
    assert _choose(MIXED, [wide], []) == ([wide], [])


def _nick_picture(side: int, other: int) -> Image.Image:
    pixels = np.full((100, 200, 3), 90, np.uint8)
    pixels[:6, :7] = 255
    return Image.fromarray(pixels[::side, ::other].copy())


@pytest.mark.parametrize("corner", CORNERS)
def test_a_nick_is_a_gap_on_each_of_its_sides(corner: tuple[Side, Side]) -> None:
    """7 px of 200 across and 6 px of 100 down, from the corner."""
    picture = _nick_picture(-1 if corner[0] == "bottom" else 1, -1 if corner[1] == "right" else 1)
    across, down = _nick_gaps(picture, [])
    assert (across["side"], down["side"]) == corner
    assert (across["depth"], down["depth"]) == (6.0, 7.0)
    right, bottom = corner[1] == "right", corner[0] == "bottom"
    ends = (across["start"], across["end"], down["start"], down["end"])
    want = ((0.965, 1.0) if right else (0.0, 0.035)) + ((0.94, 1.0) if bottom else (0.0, 0.06))
    assert ends == pytest.approx(want)
    assert across["color"] == down["color"] == "#ffffff"
    difference = seen(np.array(WHITE), np.array([90, 128, 128]))
    assert across["delta-e"] == down["delta-e"] == pytest.approx(difference, abs=0.051)


@pytest.mark.parametrize("corner", CORNERS)
@pytest.mark.parametrize("side", SIDES)
def test_a_gap_reaches_a_corner(corner: tuple[Side, Side], side: Side) -> None:
    """Within 2 % of the side's end that is the corner's, on the corner's own two sides."""
    nick: Nick | None = find_nick(
        _nick_picture(-1 if corner[0] == "bottom" else 1, -1 if corner[1] == "right" else 1), corner
    )
    assert nick is not None
    other = corner[1] if side == corner[0] else corner[0]
    own = side in corner
    for first, last in ((0.02, 0.5), (0.03, 0.5), (0.5, 0.98), (0.5, 0.97)):
        gap: Gap = {
            "side": side,
            "depth": 2.0,
            "start": first,
            "end": last,
            "color": "",
            "delta-e": 9,
        }
        reaches = first == 0.02 if other in {"left", "top"} else last == 0.98
        assert _reaches(gap, nick) == (own and reaches)


@pytest.mark.parametrize("side", SIDES)
def test_a_clear_gap_is_told(side: Side) -> None:
    """Three clear lines, then opaque art: depth, ends, alpha, and the art against white and black."""
    pixels = np.full((120, 160, 4), 90, np.uint8)
    pixels[..., 3] = 255
    lines: Any = {
        "top": np.s_[:3],
        "bottom": np.s_[-3:],
        "left": np.s_[:, :3],
        "right": np.s_[:, -3:],
    }
    pixels[lines[side]] = 0
    picture = Image.fromarray(pixels)
    found = gap_facts(picture, {one: profile(picture.convert("RGB"), one) for one in SIDES})
    art = np.array([90, 128, 128])
    far = max(seen(art, np.array(WHITE)), seen(art, np.array([0, 128, 128])))
    assert found == [
        {
            "side": side,
            "depth": 3.0,
            "start": 0.0,
            "end": 1.0,
            "color": "transparent",
            "alpha": 0.0,
            "delta-e": round(far, 1),
        }
    ]


@pytest.mark.parametrize(("alpha", "told"), [(100, True), (200, True), (gaps.OPAQUE, False)])
def test_a_half_clear_line_is_told_by_its_middle(alpha: int, told: bool) -> None:
    """A line of which 1 - alpha is clear, or a whole line that is half clear: the middle of both."""
    pixels = np.full((120, 160, 4), 90, np.uint8)
    pixels[..., 3] = 255
    pixels[0, :, 3] = alpha
    picture = Image.fromarray(pixels)
    found = gap_facts(picture, {one: profile(picture.convert("RGB"), one) for one in SIDES})
    clear = 1 - alpha / 255
    want = [("top", round((clear + 1) / 2, 2), round(alpha / 255, 3))]
    assert [(gap["side"], gap["depth"], gap.get("alpha")) for gap in found] == (
        want if told else []
    )
