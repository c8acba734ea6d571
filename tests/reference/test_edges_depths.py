"""How deep a page color reaches: known cuts, brute-force sums and numpy's own least squares."""

from __future__ import annotations

import numpy as np
import pytest
from edge_strips import cut, gray, side_of
from hypothesis import given
from hypothesis import strategies as st

from pytest_webdeliverable.measure.edges import depths as module
from pytest_webdeliverable.measure.edges.color import LUMA_TELLS
from pytest_webdeliverable.measure.edges.depths import (
    DEEPEST,
    FLATTEST,
    GROUND,
    SHALLOW,
    STEEPEST,
    Depths,
    best_span,
    common_depth,
    depths,
    line_of_depths,
)
from pytest_webdeliverable.measure.edges.pages import CONTRAST

WHITE = (255.0, 128.0, 128.0)


def _found(depth: list[float | None], contrast: float | list[float] = 60.0) -> Depths:
    """Depths without a strip: what the two agreements work on."""
    each = [contrast] * len(depth) if isinstance(contrast, float) else contrast
    return Depths(list(depth), each, [False] * len(depth), [])


@pytest.mark.parametrize("depth", [1.0, 1.2, 1.5, 2.0, 2.75, 3.4, 6.0, 8.85])
@pytest.mark.parametrize("art", [40, 120, 200])
def test_a_cut_of_known_depth(depth: float, art: int) -> None:
    """The depth that the strip was covered to, to the rounding of a mixed line's code."""
    strip = cut(gray(np.full((24, 12), art)), np.array(WHITE), np.full(12, depth))
    found = depths(side_of(strip), WHITE)
    # Half a code of the mixed line is 0.5 / (255 - art) px.
    assert found.depth == pytest.approx([depth] * 12, abs=0.5 / (255 - art) + 1e-9)
    assert found.contrast == [255 - art] * 12
    assert found.soft == [False] * 12


def test_each_segment_has_its_own_depth() -> None:
    """Random depths and random flat art, one of each per segment.

    A line of which no more than RINGING is art counts as page: such depths are not drawn.
    """
    rng = np.random.default_rng(5)
    art = np.repeat(gray(rng.integers(20, 180, (1, 40))), 24, axis=0)
    deep = rng.integers(1, 12, 40) + rng.uniform(0, 0.98 - module.RINGING, 40)
    found = depths(side_of(cut(art, np.array(WHITE), deep)), WHITE)
    assert found.depth == pytest.approx(list(deep), abs=0.01)
    assert found.contrast == list(255 - art[0, :, 0])


def test_the_mixed_line_is_weighed_by_luma_four_times_chroma() -> None:
    """By hand: page (200,128,128), art (100,168,128), mixed (150,128,128).

    Along the way from page to art: (-50 * -100 + 0) over (100**2 + 0.25 * 40**2) = 5000 / 10400, so
    that the page keeps 1 - 0.4808 of the second line. Contrast: 100 + 40 / 2.
    """
    strip = np.full((24, 4, 3), (100.0, 168.0, 128.0))
    strip[0], strip[1] = (200, 128, 128), (150, 128, 128)
    found = depths(side_of(strip), (200.0, 128.0, 128.0))
    assert found.depth == pytest.approx([2 - 5000 / 10400] * 4)
    assert found.contrast == [120.0] * 4


@pytest.mark.parametrize(("step", "soft"), [(LUMA_TELLS, False), (LUMA_TELLS - 1, True)])
def test_a_depth_told_by_chroma_is_soft(step: float, soft: bool) -> None:
    """Soft just below the codes of luma from which luma alone can tell, not at them."""
    strip = np.full((24, 6, 3), (120.0 - step, 60.0, 190.0))
    strip[:2] = (120, 128, 128)
    assert depths(side_of(strip), (120.0, 128.0, 128.0)).soft == [soft] * 6


def test_art_and_ground_have_no_depth() -> None:
    """No page on the outermost line: None. Page on all lines: GROUND. Neither has a contrast."""
    strip = gray(np.full((24, 3), 90))
    strip[:, 1] = WHITE
    strip[:2, 2] = WHITE
    found = depths(side_of(strip), WHITE)
    assert found.depth == [None, GROUND, 2.0]
    assert found.contrast == [0.0, 0.0, 165.0]
    assert found.soft == [False, False, False]
    assert [row[1] != 0 for row in found.near] == [True] * 24
    assert [row[2] != 0 for row in found.near] == [True, True] + [False] * 22


@pytest.mark.parametrize(("ring", "depth"), [(0.12, 3.0), (0.14, 3.0 - 0.14)])
def test_a_ringing_page_line_is_page(ring: float, depth: float) -> None:
    """The third of three page lines is off by a share of the contrast (200 codes), up to RINGING."""
    assert 0.12 < module.RINGING < 0.14
    strip = gray(np.full((24, 5), 55))
    strip[:2] = WHITE
    strip[2, :, 0] = 255 - 200 * ring
    assert depths(side_of(strip), WHITE).depth == pytest.approx([depth] * 5)


def test_contrast_tells_from_its_border_on() -> None:
    """A segment tells at CONTRAST, not below it."""
    found = _found([1.0, 1.0], [CONTRAST, CONTRAST - 0.01])
    assert [found.tells(at) for at in (0, 1)] == [True, False]


@given(st.lists(st.integers(-20, 20), max_size=24))
def test_the_best_span_is_the_maximum_subarray(scores: list[int]) -> None:
    """Every stretch summed by numpy: none has more, and the one named has just that sum."""
    first, last, total = best_span([float(score) for score in scores])
    sums = np.concatenate([[0], np.cumsum(scores)])
    most = max(
        (sums[j] - sums[i] for i in range(len(scores)) for j in range(i + 1, len(scores) + 1)),
        default=0,
    )
    assert total == max(0, most)
    assert sums[last] - sums[first] == total


def test_the_best_span_by_hand() -> None:
    """-1, 2, -1, 3, -9, 4: 2 - 1 + 3 = 4 comes first and is not beaten by the equal 4 at the end."""
    assert best_span([-1, 2, -1, 3, -9, 4]) == (1, 4, 4.0)
    assert best_span([-1.0, -2.0]) == (0, 0, 0.0)
    assert best_span([]) == (0, 0, 0.0)
    # What sums to nothing is left out.
    assert best_span([0.0, 1.0]) == (1, 2, 1.0)
    assert best_span([1.0, -1.0, 2.0, 0.0]) == (2, 3, 2.0)


def test_the_common_depth_is_the_median_of_the_fullest_quarter() -> None:
    """By hand: six about 2 px against four about 5 px; the median of 1.9 .. 2.2 is 2.05."""
    near_two = [1.9, 2.0, 2.05, 2.05, 2.1, 2.2]
    assert common_depth(_found([*near_two, 5.0, 5.0, 5.1, 5.1, None])) == pytest.approx(2.05)


def test_the_common_depth_counts_by_contrast() -> None:
    """Three at 40 codes (weight 1) outweigh five at 20 (1/2); from 40 codes on more says no more."""
    depth: list[float | None] = [2.0] * 3 + [5.0] * 5
    assert common_depth(_found(depth, [40.0] * 3 + [20.0] * 5)) == 2.0
    assert common_depth(_found(depth, [400.0] * 3 + [40.0] * 5)) == 5.0


def test_the_common_depth_trusts_chroma_less() -> None:
    """Three told by luma weigh 3, eleven told by chroma 11 * SOFT, less than 3."""
    assert 11 * module.SOFT < 3 < 13 * module.SOFT
    for many, depth in ((11, 2.0), (13, 5.0)):
        found = _found([2.0] * 3 + [5.0] * many)
        found.soft[3:] = [True] * many
        assert common_depth(found) == depth


def test_the_common_depth_leaves_out_what_is_faint_or_deep() -> None:
    """At the border of CONTRAST and of DEEPEST a depth counts, beyond it does not."""
    assert common_depth(_found([3.0], [CONTRAST])) == 3.0
    assert common_depth(_found([3.0], [CONTRAST - 0.01])) is None
    assert common_depth(_found([DEEPEST])) == DEEPEST
    assert common_depth(_found([DEEPEST + 0.01])) is None
    assert common_depth(_found([None, None])) is None


@pytest.mark.parametrize("segment", [2, 8])
@pytest.mark.parametrize("rise", [2 * FLATTEST, 0.004, 0.9 * STEEPEST])
@pytest.mark.parametrize("down", [False, True])
def test_the_line_of_depths_is_the_least_squares_line(
    segment: int, rise: float, down: bool
) -> None:
    """numpy.polyfit through the same points, noise within the stairs' slack and all."""
    count = 80
    at = np.arange(count)
    depth = 0.4 + rise * segment * at + np.random.default_rng(3).uniform(-0.05, 0.05, count)
    depth = depth[::-1] if down else depth
    line = line_of_depths(_found(list(depth)), segment, 2)
    slope, base = np.polyfit(at[2:-2], depth[2:-2], 1)
    assert line == pytest.approx((base, slope), abs=1e-9)


def test_the_line_of_depths_ignores_what_is_off_it() -> None:
    """An exact line with every fifth segment far off: still the exact line."""
    depth: list[float | None] = [0.5 + 0.03 * at for at in range(60)]
    depth[7::5] = [14.0] * len(depth[7::5])
    depth[9::10] = [None] * len(depth[9::10])
    assert line_of_depths(_found(depth), 8, 2) == pytest.approx((0.5, 0.03))


@pytest.mark.parametrize(
    ("rise", "told"),
    [
        (0.9 * FLATTEST, False),
        (1.1 * FLATTEST, True),
        (0.99 * STEEPEST, True),
        (1.01 * STEEPEST, False),
    ],
)
def test_the_line_of_depths_is_neither_flat_nor_steep(rise: float, told: bool) -> None:
    """Just within and beyond the slopes that a slip of the hand leaves, on an exact line."""
    line = line_of_depths(_found([0.2 + rise * 8 * at for at in range(40)]), 8, 0)
    assert (line is not None) == told


@pytest.mark.parametrize(
    ("degrees", "told"), [(0.022, False), (0.024, True), (0.59, True), (0.62, False), (-0.59, True)]
)
def test_the_turns_that_a_slip_of_the_hand_leaves(degrees: float, told: bool) -> None:
    """From about 0.02 degrees, which no eye sees, to 0.6: the depth grows by the tangent of the angle."""
    rise = np.tan(np.radians(degrees)) * 8
    depth = rise * np.arange(60) - min(0, 60 * rise) + 0.2
    assert (line_of_depths(_found(list(map(float, depth))), 8, 0) is not None) == told


@pytest.mark.parametrize(("base", "told"), [(SHALLOW - 0.05, True), (1.9, True), (2.0, False)])
def test_the_line_of_depths_begins_near_the_side(base: float, told: bool) -> None:
    """A wedge starts 1.5 px deep at most; picked lines may lie 0.45 px (stairs) below the points."""
    line = line_of_depths(_found([base + 0.05 * at for at in range(60)]), 8, 0)
    assert (line is not None) == told


def test_the_line_of_depths_needs_eight_points() -> None:
    """Seven points tell nothing; corners and faint segments are no points."""
    depth = [0.2 + 0.05 * at for at in range(12)]
    assert line_of_depths(_found(depth), 8, 2) is not None
    assert line_of_depths(_found(depth[:11]), 8, 2) is None
    faint = [60.0] * 4 + [CONTRAST - 0.01] + [60.0] * 7
    assert line_of_depths(_found(depth, faint), 8, 2) is None
