"""Runs of whole lines: what each fact of a run says of a strip made to say it, by numpy or by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from edge_strips import cut, gray, seen, side_of
from PIL import Image

from pytest_webdeliverable.measure.edges import whole
from pytest_webdeliverable.measure.edges.depths import GROUND, STAIR, Depths
from pytest_webdeliverable.measure.edges.lean import lean
from pytest_webdeliverable.measure.edges.pages import CONTRAST, SHORTEST, STILL
from pytest_webdeliverable.measure.edges.profile import SAMPLES, profile
from pytest_webdeliverable.measure.edges.whole import (
    AGREE,
    NOISE,
    OPEN,
    SMEAR,
    STEP_DEPTH,
    Run,
    _scores,
    candidates,
    corner_wedge,
    long_enough,
)

RNG = np.random.default_rng
WHITE = (255.0, 128.0, 128.0)
COUNT = 60
SEGMENT = 8
"""px: 12 px of a corner are two segments."""


def _art(seed: int = 1, count: int = COUNT) -> np.ndarray:
    """Art that differs from segment to segment and is the same on all lines."""
    rng = RNG(seed)
    row = gray(rng.integers(60, 150, (1, count)))
    row[..., 1:] = rng.integers(110, 150, (1, count, 2))
    return np.repeat(row, 24, axis=0)


def _runs(art: np.ndarray, depth: np.ndarray | float) -> list[Run]:
    deep = np.full(art.shape[1], 1.0) * depth
    return candidates(side_of(cut(art, np.array(WHITE), deep), SEGMENT), WHITE)


def _between(first: int, last: int, inside: float, outside: float) -> np.ndarray:
    at = np.arange(COUNT)
    return np.where((at >= first) & (at < last), inside, outside)


def test_what_a_full_side_says() -> None:
    """numpy's means and deviations of the art; nothing speaks against the run."""
    art = _art()
    (run,) = _runs(art, 3.0)
    own = art[0]
    assert (run.first, run.last, run.told) == (0, COUNT, COUNT)
    assert (run.depth, run.depth_first, run.depth_last, run.straight) == (3.0, 3.0, 3.0, True)
    assert run.art == pytest.approx(tuple(own.mean(0)))
    deviation = own.std(0)
    assert run.spread == pytest.approx(deviation[0] + deviation[1:].sum() / 2)
    off = np.abs(own - WHITE)
    assert run.contrast == pytest.approx((off[:, 0] + off[:, 1:].max(1) / 2).mean())
    each = [seen(np.array(WHITE), one) for one in own[:: COUNT // SAMPLES]]
    assert run.seen == pytest.approx(np.mean(each), rel=0.005)
    assert (run.share, run.sharp, run.lasting) == (1.0, 1.0, 1.0)
    assert (run.back, run.ground, run.opens, run.banded) == (0.0, 0.0, 0, False)
    assert (run.grain, run.drift) == (0.0, 0.0)


@pytest.mark.parametrize("depth", [1.0, 2.4, 5.5])
def test_a_run_ends_where_it_was_cut(depth: float) -> None:
    """Segments 9 to 34 covered: those, at that depth; a run to the corner's segments ends in it."""
    (run,) = _runs(_art(2), _between(9, 35, depth, 0.0))
    assert (run.first, run.last, run.told) == (9, 35, 26)
    assert run.depth == pytest.approx(depth, abs=0.02)
    for first, last, ends in (
        (2, 35, (0, 35)),
        (3, 35, (3, 35)),
        (9, 58, (9, 60)),
        (9, 57, (9, 57)),
    ):
        (run,) = _runs(_art(2), _between(first, last, depth, 0.0))
        assert (run.first, run.last) == ends


def test_a_gradient_is_less_sharp_and_does_not_last() -> None:
    """Page to line 3, art 155 at line 3 and 5 codes darker each line.

    Sharp: lines 4 and 6 are 105 and 115 codes from the page; lasting: line 15 is 160 codes from it.
    """
    luma = 155 - 5.0 * (np.arange(24) - 3)
    (run,) = _runs(gray(np.repeat(luma[:, None], COUNT, 1)), 3.0)
    assert run.sharp == pytest.approx(105 / 115)
    assert run.lasting == pytest.approx(105 / (255 - luma[3 + whole.FURTHER]))
    assert run.contrast == 105
    # Of the line taken for mixed (100 codes off) 100 / 105 is art.
    assert run.depth == pytest.approx(4 - 100 / 105)


def test_the_page_color_comes_back() -> None:
    """White dots on line 12 below every third segment; those on the mixed line's next do not count."""
    art = _art(3)
    art[12, ::3] = WHITE
    (run,) = _runs(art, 3.0)
    assert run.back == pytest.approx(1 / 3)


def test_ground_is_page_without_an_end() -> None:
    """12 of 60 segments white on all lines: no depth, so that they could not have told."""
    art = _art(4)
    art[:, 20:44:2] = WHITE
    (run,) = _runs(art, 3.0)
    assert (run.told, run.share, run.ground) == (48, 1.0, 12 / 60)


@pytest.mark.parametrize("depth", [0.0, 6.0])
def test_segments_that_tell_otherwise_lessen_the_share(depth: float) -> None:
    """6 of 60 segments with no page, or with page to another depth."""
    deep = np.full(COUNT, 3.0)
    deep[10:58:8] = depth
    (run,) = _runs(_art(5), deep)
    assert (run.first, run.last, run.told) == (0, COUNT, 54)
    assert run.share == pytest.approx(54 / 60)


@pytest.mark.parametrize(
    ("left", "right", "opens"),
    [
        (6.0, 6.0, 2),
        (6.0, 0.0, 1),
        (0.0, 6.0, 1),
        (0.0, 0.0, 0),
        # The stairs of unsmoothed art: one step deeper is no open end.
        (3 + STEP_DEPTH - 0.1, 0.0, 0),
        (3 + STEP_DEPTH + 0.1, 0.0, 1),
        (2.0, 0.0, 1),
    ],
)
def test_open_ends(left: float, right: float, opens: int) -> None:
    """Page beside a run of 40 segments, on the outermost line, to the given depths."""
    deep = _between(10, 50, 3.0, left)
    deep[50:] = right
    art = gray(np.full((24, COUNT), 90))
    (run,) = _runs(art, deep)
    assert (run.first, run.last) == (10, 50)
    assert run.opens == opens


@pytest.mark.parametrize(("off", "opens"), [(OPEN - 0.01, 2), (OPEN, 2), (OPEN + 0.01, 0)])
def test_a_color_nearly_the_page_is_open(off: float, opens: int) -> None:
    """Beside the run all is off the page by a share of the contrast, 200 codes."""
    strip = cut(gray(np.full((24, COUNT), 55)), np.array(WHITE), _between(10, 50, 3.0, 0.0))
    strip[:, :10, 0] = strip[:, 50:, 0] = np.rint(255 - 200 * off)
    (run,) = candidates(side_of(strip, SEGMENT), WHITE)
    assert (run.first, run.last, run.contrast, run.opens) == (10, 50, 200.0, opens)


def test_a_page_that_drifts() -> None:
    """Luma from 250 to 255 along the page: thirds' means differ, and pixels lie about the middle."""
    strip = cut(gray(np.full((24, COUNT), 90)), np.array(WHITE), np.full(COUNT, 3.0))
    page = np.repeat(np.arange(250, 256), 10)
    strip[:3, :, 0] = page
    (run,) = candidates(side_of(strip, SEGMENT), (252.0, 128.0, 128.0))
    assert run.drift == pytest.approx(page[:20].mean() - page[40:].mean())
    middle = np.sort(page)[COUNT // 2 - 1]
    assert run.grain == np.sort(np.abs(page - middle))[::-1][COUNT // 5 - 1]


@pytest.mark.parametrize("down", [False, True])
def test_a_wedge_is_a_slanting_run(down: bool) -> None:
    """Depths from 1 to 5 px in a straight line: both ends, and deepest at its corner."""
    deep = np.linspace(1, 5, COUNT)
    deep = deep[::-1] if down else deep
    run = _runs(gray(np.full((24, COUNT), 90)), deep)[0]
    assert (run.first, run.last, run.straight) == (0, COUNT, False)
    assert (run.depth_first, run.depth_last) == pytest.approx((deep[0], deep[-1]), abs=0.05)
    assert run.depth == pytest.approx(5, abs=0.05)


def test_the_share_of_a_wedge_is_of_where_it_has_a_line() -> None:
    """Depths of 0 to 4 px but for 5 deep segments; those less than 0.7 px deep could not have told."""
    deep = np.linspace(0, 4, COUNT)
    deep[30:55:5] = 0
    run = _runs(gray(np.full((24, COUNT), 90)), deep)[0]
    assert not run.straight
    assert (run.told, run.opens) == (np.count_nonzero(deep >= 1), 0)
    could = np.count_nonzero(np.linspace(0, 4, COUNT)[run.first :] > 0.7)
    assert run.share == pytest.approx(run.told / could)


def test_no_candidates_without_a_page() -> None:
    """Two segments that tell are too few, three are not; too faint ones tell nothing."""
    art = gray(np.full((24, COUNT), 90))
    assert STILL == 3
    assert _runs(art, _between(20, 22, 3.0, 0.0)) == []
    assert len(_runs(art, _between(20, 23, 3.0, 0.0))) == 1
    faint = gray(np.full((24, COUNT), 255 - CONTRAST + 1))
    assert _runs(faint, 3.0) == []


@pytest.mark.parametrize(
    ("depth", "contrast", "slope", "score", "tells"),
    [
        (None, 0.0, 0.0, -2.0, False),
        (GROUND, 0.0, 0.0, -0.02, False),
        (3.0, CONTRAST - 0.1, 0.0, -0.02, False),
        (3.0, CONTRAST, 0.0, 1.0, True),
        (3 + AGREE + NOISE / 50 - 0.01, 50.0, 0.0, 1.0, True),
        (3 - AGREE - NOISE / 50 + 0.01, 50.0, 0.0, 1.0, True),
        (3 + AGREE + NOISE / 50 + 0.01, 50.0, 0.0, -1.5, False),
        (3 - AGREE - NOISE / 50 - 0.01, 50.0, 0.0, -1.5, False),
        (9.0, 2 * CONTRAST - 0.1, 0.0, -0.3, False),
        (9.0, 2 * CONTRAST, 0.0, -1.5, False),
        # On a slope of 0.1 the fifth segment's depth is 3.5.
        (3.5 + STAIR + NOISE / 50 - 0.01, 50.0, 0.1, 1.0, True),
        (3.5 + STAIR + NOISE / 50 + 0.01, 50.0, 0.1, -1.5, False),
        (None, 0.0, 0.1, -2.0, False),
        # On a slope of -0.46 it is 0.7, on -0.45 it is 0.75: there page is missed.
        (None, 0.0, -0.46, -0.1, False),
        (None, 0.0, -0.45, -2.0, False),
    ],
)
def test_what_a_segment_says(
    depth: float | None, contrast: float, slope: float, score: float, tells: bool
) -> None:
    """The fifth of eleven segments, of a gap 3 px deep at segment 0."""
    found = Depths([3.0] * 11, [50.0] * 11, [False] * 11, [])
    found.depth[5], found.contrast[5] = depth, contrast
    scores, told = _scores(found, 3.0, slope, 2)
    assert (scores[5], told[5]) == (score, tells)
    near_corner, told = _scores(found, 3.0, slope, 6)
    assert (near_corner[5], told[5]) == (score if score > 0 else -0.02, tells)


@pytest.mark.parametrize(
    ("off", "score"),
    [(-SMEAR[0], 0.3), (-SMEAR[0] - 0.01, -1.5), (SMEAR[1], 0.3), (SMEAR[1] + 0.01, -1.5)],
)
def test_smeared_chroma_says_little(off: float, score: float) -> None:
    """At the border of how far 4:2:0 may take a soft segment's depth, and beyond."""
    found = Depths([3.0] * 9, [50.0] * 9, [True] * 9, [])
    found.depth[4] = 3.0 + off
    assert _scores(found, 3.0, 0.0, 1)[0][4] == score
    found.soft[4] = False
    assert _scores(found, 3.0, 0.0, 1)[0][4] == -1.5


def test_wedges_and_lengths_at_their_borders() -> None:
    """Deepest at an end: 6 % of 100 segments are 6; long enough: SHORTEST of 200 are 9, 3 at least."""
    (run,) = _runs(_art(6), 3.0)
    slant = replace(run, depth_first=3.0, depth_last=1.0, last=50)
    assert [corner_wedge(replace(slant, first=at), 100) for at in (6, 7)] == [True, False]
    other = replace(slant, depth_first=1.0, depth_last=3.0, first=50)
    assert [corner_wedge(replace(other, last=at), 100) for at in (94, 93)] == [True, False]
    assert [corner_wedge(replace(slant, first=at), 20) for at in (3, 4)] == [True, False]


@pytest.mark.parametrize(("count", "told"), [(200, 9), (20, STILL)])
def test_a_gap_is_long_enough(count: int, told: int) -> None:
    """SHORTEST of 200 are 9, 3 at least; and twice as long as deep: 2 segments of 8 px for 8 px, not for 8.1."""
    (run,) = _runs(_art(6), 3.0)
    lines = profile(Image.new("RGB", (8 * count, 60)), "top")
    segments = 8 * count // lines.segment
    least = told if segments == count else round(SHORTEST * segments)
    assert round(SHORTEST * 200) == 9
    assert long_enough(replace(run, told=least), lines)
    assert not long_enough(replace(run, told=least - 1), lines)
    slim = replace(run, told=segments, first=0, last=2 * 8 // lines.segment)
    assert long_enough(replace(slim, depth_first=8.0, depth_last=8.0), lines)
    assert not long_enough(replace(slim, depth_first=8.1, depth_last=8.1), lines)
    further = replace(slim, first=slim.first + 5, last=slim.last + 5)
    assert not long_enough(replace(further, depth_first=8.1, depth_last=8.1), lines)


@pytest.mark.parametrize("deepest", [2.0, 3.5])
@pytest.mark.parametrize("down", [False, True])
def test_a_wedge_is_followed_down(deepest: float, down: bool) -> None:
    """Depth from nothing to its deepest on 80 segments: the deep quarter is led down the same line."""
    art = np.repeat(_art(7, 80)[:1], 24, axis=0)
    deep = np.linspace(0, deepest, 80)
    deep = deep[::-1] if down else deep
    lines = side_of(cut(art, np.array(WHITE), deep), SEGMENT)
    (full,) = _runs(_art(7), 1.0)
    ends = {"first": 0, "last": 20} if down else {"first": 60, "last": 80}
    part = replace(full, **ends, depth_first=deepest, depth_last=deepest, told=20, opens=1)
    run = lean(lines, part)
    slope, base = np.polyfit(np.arange(80), deep, 1)
    assert run.last - run.first > 70
    assert run.depth_first == pytest.approx(base + slope * run.first, abs=0.04)
    assert run.depth_last == pytest.approx(base + slope * (run.last - 1), abs=0.04)
    assert (run.opens, run.page, run.told > 70) == (0, WHITE, True)


def test_a_straight_run_is_not_followed() -> None:
    """No slope: the run itself; nor where it is as long as the side, or lines are few."""
    lines = side_of(cut(_art(8), np.array(WHITE), _between(10, 50, 3.0, 0.0)), SEGMENT)
    (run,) = candidates(lines, WHITE)
    assert lean(lines, run) is run
    deep = np.linspace(0, 3, COUNT)
    wedge = side_of(cut(_art(8), np.array(WHITE), deep), SEGMENT)
    part = replace(run, first=40, last=60, depth_first=2.0, depth_last=3.0)
    assert lean(wedge, part) is not part
    long = replace(part, first=0, last=59)
    assert lean(wedge, long) is long
    few = side_of(cut(_art(8)[:10], np.array(WHITE), deep), SEGMENT)
    assert lean(few, part) is part
