"""Where runs end on sides of short and long segments, and which of two runs of one page color comes first."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from edge_strips import cut, gray, side_of

from pytest_webdeliverable.measure.edges import whole
from pytest_webdeliverable.measure.edges.depths import Depths, depths
from pytest_webdeliverable.measure.edges.pages import CONTRAST
from pytest_webdeliverable.measure.edges.whole import (
    AGREE,
    CORNER,
    NOISE,
    Run,
    _describe,
    _one_step,
    _scores,
    candidates,
)

WHITE = (255.0, 128.0, 128.0)
COUNT = 60
DARK = gray(np.full((24, COUNT), 90))


def _runs(depth: np.ndarray | float, art: np.ndarray = DARK, segment: int = 8) -> list[Run]:
    deep = np.full(art.shape[1], 1.0) * depth
    return candidates(side_of(cut(art, np.array(WHITE), deep), segment), WHITE)


@pytest.mark.parametrize(("segment", "corner"), [(2, 6), (4, 3), (8, 2), (16, 1)])
def test_the_corners_segments_belong_to_the_run_that_reaches_them(
    segment: int, corner: int
) -> None:
    """12 px are 6 segments of 2 px, 3 of 4, 2 of 8 and 1 of 16: what begins right after them begins at 0."""
    assert CORNER == 12
    at = np.arange(COUNT)
    for first, last, ends in (
        (corner, 40, (0, 40)),
        (corner + 1, 40, (corner + 1, 40)),
        (20, COUNT - corner, (20, COUNT)),
        (20, COUNT - corner - 1, (20, COUNT - corner - 1)),
    ):
        (run,) = _runs(3.0 * ((at >= first) & (at < last)), segment=segment)
        assert (run.first, run.last, run.told) == (*ends, last - first)


@pytest.mark.parametrize("corner", [0, 1, 3])
def test_faults_in_the_corners_segments_hardly_count(corner: int) -> None:
    """Twelve segments without page: the neighboring side's gap may hide it in so many at each end."""
    found = Depths([None] * 12, [0.0] * 12, [False] * 12, [])
    scores, _ = _scores(found, 3.0, 0.0, corner)
    assert scores == [-0.02] * corner + [-2.0] * (12 - 2 * corner) + [-0.02] * corner
    # What speaks for the gap a little is heard there as well: chroma smeared by a px.
    soft = Depths([4.0] * 12, [50.0] * 12, [True] * 12, [])
    assert _scores(soft, 3.0, 0.0, corner)[0] == [0.3] * 12


def test_scores_at_their_very_borders() -> None:
    """As far off as is allowed still agrees; a wedge of 0.7 px need not show a line of page."""
    deep = AGREE + NOISE / 50
    assert _scores(Depths([deep], [50.0], [False], []), 0.0, 0.0, 0) == ([1.0], [True])
    assert _scores(Depths([None] * 2, [0.0] * 2, [False] * 2, []), 0.7, 0.1, 0)[0] == [-0.1, -2.0]


@pytest.mark.parametrize(("segment", "corner"), [(4, 3), (8, 2), (16, 1)])
@pytest.mark.parametrize("right", [False, True])
def test_page_in_the_corners_segments_leaves_no_end_open(
    segment: int, corner: int, right: bool
) -> None:
    """The second segment beyond a run is asked whether the page goes on; not where it is a corner's.

    All segments beyond the run show page, to twice the run's depth.
    """
    for beyond, opens in ((corner + 1, 0), (corner + 2, 1)):
        deep = np.full(COUNT, 3.0)
        deep[:beyond] = 6.0
        (run,) = _runs(deep[::-1] if right else deep, segment=segment)
        first, last = (0, COUNT - beyond) if right else (beyond, COUNT)
        assert (run.first, run.last, run.opens) == (first, last, opens)


def test_a_step_beyond_a_run_is_one_all_the_way() -> None:
    """Base 3 px: as deep, and deeper by 1.3 px at most, in all segments, each clear enough to tell."""
    found = Depths([3.0, 3.5, 4.3], [CONTRAST] * 3, [False] * 3, [])
    assert _one_step(found, 3.0, range(3))
    assert _one_step(found, 3.0, range(0))
    for at, depth, contrast in (
        (1, 4.31, CONTRAST),
        (0, 2.99, CONTRAST),
        (2, 3.0, CONTRAST - 0.1),
        (1, None, 0.0),
    ):
        other = Depths(list(found.depth), list(found.contrast), found.soft, [])
        other.depth[at], other.contrast[at] = depth, contrast
        assert not _one_step(other, 3.0, range(3))
        # Left out, it does not matter.
        assert _one_step(other, 3.0, range(at)) == _one_step(other, 3.0, range(at + 1, 3)) is True


@pytest.mark.parametrize("right", [False, True])
@pytest.mark.parametrize(("at", "opens"), [(9, 0), (8, 1), (2, 1), (1, 0), (0, 0)])
def test_all_but_the_next_segment_and_the_corner_is_on_the_stairs(
    at: int, opens: int, right: bool
) -> None:
    """A run from segment 10 on, all beyond it one line deeper but one: next to it, or a corner's."""
    deep = np.full(COUNT, 3.0)
    deep[:10] = 4.0
    deep[at] = 0.0 if at == 9 else 7.0
    (run,) = (run for run in _runs(deep[::-1] if right else deep) if run.straight)
    assert (run.first, run.last) == ((0, 50) if right else (10, COUNT))
    assert run.opens == opens


@pytest.mark.parametrize(("line", "banded"), [(5, False), (6, True), (12, True), (13, False)])
def test_bands_count_from_the_second_line_of_art(line: int, banded: bool) -> None:
    """Three lines of page, one that may be mixed; a step between lines 5 and 6 is the first that counts.

    Eight lines are looked at, 5 to 12.
    """
    art = DARK.copy()
    art[line:, :, 0] = 150
    (run,) = _runs(3.0, art)
    assert run.banded == banded


def test_a_wedge_that_is_nowhere_a_line_deep() -> None:
    """Expected at 0.5 px: none of the segments had to tell, and those that do are no fault."""
    lines = side_of(cut(DARK, np.array(WHITE), np.full(COUNT, 1.0)), 8)
    found = depths(lines, WHITE)
    run = _describe(lines, WHITE, found, inside=[30, 31, 32], ends=(30, 40), line=(0.5, 0.001))
    assert (run.told, run.grain, run.drift, run.share >= 1) == (3, 0.0, 0.0, True)


def test_stairs_are_one_wedge() -> None:
    """Art turned unsmoothed: 1, 2, 3 and 4 lines of page, 15 segments each. The wedge comes first."""
    turned, even = _runs(np.arange(COUNT) // 15 + 1.0)
    assert (turned.straight, even.straight) == (False, True)
    assert (turned.first, turned.last, turned.told) == (0, COUNT, COUNT)
    # The middles of the stairs rise by 1 px in 15 segments.
    assert turned.depth_last - turned.depth_first == pytest.approx(3.7, abs=0.3)
    assert even.told == 15


@pytest.mark.parametrize("down", [False, True])
def test_a_wedge_away_from_the_corners_is_none(down: bool) -> None:
    """A slope over segments 20 to 49 alone: a shape of the art, of which only one depth is told."""
    deep = np.zeros(COUNT)
    deep[20:50] = np.linspace(1, 5, 30)
    assert all(run.straight for run in _runs(deep[::-1] if down else deep))


@pytest.mark.parametrize(
    ("even", "turned", "opens", "first"),
    [
        (100.0, 100.0, (0, 0), "even"),
        (100.0, 116.0, (0, 0), "even"),
        (100.0, 116.5, (0, 0), "turned"),
        (0.0, 4.0, (0, 0), "even"),
        (0.0, 4.1, (0, 0), "turned"),
        # An open end of the even run asks for half as much.
        (100.0, 108.0, (1, 0), "even"),
        (100.0, 108.5, (1, 0), "turned"),
        (100.0, 108.5, (1, 1), "even"),
        (100.0, 108.5, (0, 1), "even"),
        (100.0, 108.5, (2, 1), "turned"),
        (0.0, 2.1, (1, 0), "turned"),
        # Only one of them was found, or none.
        (None, 9.0, (0, 0), "turned"),
        (9.0, None, (0, 0), "even"),
        (None, None, (0, 0), ""),
    ],
)
def test_a_wedge_explains_clearly_more_than_one_depth(
    monkeypatch: pytest.MonkeyPatch,
    even: float | None,
    turned: float | None,
    opens: tuple[int, int],
    first: str,
) -> None:
    """Segments explained by a wedge whose slack is wider: an eighth and 4 more, or half of that.

    A wedge that comes first is followed by the even run, which may be the truth after all.
    """
    flat = replace(_runs(3.0)[0], opens=opens[0])
    slant = replace(flat, depth_first=5.0, depth_last=0.5, opens=opens[1])

    def given(*args: Any) -> tuple[float, Run] | None:
        total, run = (turned, slant) if args[4] else (even, flat)
        return None if total is None else (total, run)

    monkeypatch.setattr(whole, "_run", given)
    found = _runs(np.linspace(0.2, 5, COUNT))
    if first == "turned":
        assert found == ([slant] if even is None else [slant, flat])
    else:
        assert found == ([flat] if first else [])


def test_two_segments_of_a_run_are_too_few() -> None:
    """Three segments tell, of which two agree: no run. With the third, one."""
    at = np.arange(COUNT)
    deep = np.where((at == 20) | (at == 21), 3.0, 0.0)
    assert _runs(np.where(at == 40, 7.0, deep)) == []
    (run,) = _runs(np.where(at == 22, 3.0, deep))
    assert (run.first, run.last, run.told) == (20, 23, 3)


def test_the_facts_of_ends_that_are_no_segments() -> None:
    """A last segment of 1 px: the page lines end at the side's end, and so does what drifts."""
    lines = side_of(cut(DARK, np.array(WHITE), np.full(COUNT, 2.0)), 8)
    pixels = lines.pixels.crop((0, 0, 473, 24))
    pixels.paste((250, 250, 250), (400, 0, 473, 2))
    lines = replace(lines, length=473, pixels=pixels)
    (run,) = candidates(lines, WHITE)
    # The last third of 473 px is 157 px, of which the last 73 are darker by 5.
    assert run.drift == pytest.approx(5 * 73 / 157)
    assert depths(lines, WHITE).depth == [2.0] * COUNT
