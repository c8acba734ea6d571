"""What is asked before a run counts: each question by itself, its helpers' answers given."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from edge_strips import cut, gray, side_of
from PIL import Image

from pytest_webdeliverable.measure.edges import gaps
from pytest_webdeliverable.measure.edges.depths import depths
from pytest_webdeliverable.measure.edges.gaps import _explained, _part_runs, _whole
from pytest_webdeliverable.measure.edges.lean import SURE, _depth_points
from pytest_webdeliverable.measure.edges.pages import (
    CONTRAST,
    NEAR_CHROMA,
    NEAR_LUMA,
    near_lines,
    page_colors,
)
from pytest_webdeliverable.measure.edges.part import FLOOR, noise_of, part_run
from pytest_webdeliverable.measure.edges.repeats import BETWEEN
from pytest_webdeliverable.measure.edges.weigh import LONG, LOUDER
from pytest_webdeliverable.measure.edges.whole import candidates

WHITE = (255.0, 128.0, 128.0)
COUNT = 100
PICTURE = Image.new("RGB", (800, 600))


def _art(low: int = 60, high: int = 150) -> np.ndarray:
    return np.repeat(gray(np.random.default_rng(1).integers(low, high, (1, COUNT))), 24, axis=0)


LINES = side_of(cut(_art(), np.array(WHITE), np.full(COUNT, 3.0)), 8)
RUN = candidates(LINES, WHITE)[0]
MIXED = side_of(cut(_art(), np.array(WHITE), np.full(COUNT, 0.5)), 8)


@pytest.mark.parametrize(
    ("change", "answers", "explained"),
    [
        # Art of one drawn color: a panel or a frame's corner explains it.
        ({"spread": gaps.DRAWN_ART - 0.1}, {"follows_art"}, True),
        ({"spread": gaps.DRAWN_ART - 0.1}, {"turns_inward"}, True),
        ({"spread": gaps.DRAWN_ART - 0.1}, set(), False),
        ({"spread": gaps.DRAWN_ART}, {"follows_art", "turns_inward"}, False),
        # Flat art with bands: a page of no plain white or black is one stripe more.
        ({"spread": gaps.FLAT_ART - 0.1, "banded": True, "luma": 128}, set(), True),
        ({"spread": gaps.FLAT_ART - 0.1, "banded": False, "luma": 128}, set(), False),
        ({"spread": gaps.FLAT_ART, "banded": True, "luma": 128}, set(), False),
        ({"spread": 5.0, "banded": True, "luma": gaps.BLACK_PAGE}, set(), False),
        ({"spread": 5.0, "banded": True, "luma": gaps.BLACK_PAGE + 1}, set(), True),
        ({"spread": 5.0, "banded": True, "luma": gaps.WHITE_PAGE - 1}, set(), True),
        ({"spread": 5.0, "banded": True, "luma": gaps.WHITE_PAGE}, set(), False),
        # Stripes are looked for beside flat art, short runs, and ground.
        ({"spread": gaps.FLAT_ART - 0.1}, {"repeats"}, True),
        ({"spread": gaps.FLAT_ART}, {"repeats"}, False),
        ({"spread": 20.0, "told": round(LONG * COUNT)}, {"repeats"}, False),
        ({"spread": 20.0, "told": round(LONG * COUNT) - 1}, {"repeats"}, True),
        ({"spread": 20.0, "told": round(LONG * COUNT) - 1}, set(), False),
        ({"spread": 20.0, "ground": BETWEEN}, {"repeats"}, True),
        ({"spread": 20.0, "ground": BETWEEN - 0.01}, {"repeats"}, False),
        ({"spread": 20.0, "told": 9, "banded": True, "luma": 128}, set(), False),
    ],
)
def test_what_explains_a_run(
    monkeypatch: pytest.MonkeyPatch, change: dict[str, Any], answers: set[str], explained: bool
) -> None:
    """Each question's border, with given answers of those who look at the picture."""
    for name in ("follows_art", "turns_inward", "repeats"):
        monkeypatch.setattr(gaps, name, lambda *_, name=name: name in answers)
    change = dict(change)
    page = (float(change.pop("luma", 255)), 128.0, 128.0)
    assert _explained(PICTURE, LINES, replace(RUN, page=page, **change)) == explained


def test_where_a_run_is_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two lines below a depth of 3.7 px is line 5; a corner's line goes on below line 3."""
    asked: list[tuple[Any, ...]] = []
    for name in ("follows_art", "turns_inward"):
        monkeypatch.setattr(gaps, name, lambda *given: asked.append(given[1:]))
    monkeypatch.setattr(gaps, "repeats", lambda *_: False)
    run = replace(RUN, spread=0.0, first=7, last=60, depth_first=3.7, depth_last=3.7)
    _explained(PICTURE, LINES, run)
    assert asked == [(7, 60, 5, WHITE), (7, 60, 3, WHITE)]


def test_what_counts_as_a_whole_run(monkeypatch: pytest.MonkeyPatch) -> None:
    """Long enough, weighed, not explained: all three."""
    for name, answer in (("long_enough", False), ("whole_counts", False), ("_explained", True)):
        monkeypatch.setattr(gaps, "_explained", lambda *_: False)
        assert _whole(PICTURE, LINES, WHITE) == RUN
        monkeypatch.setattr(gaps, name, lambda *_, answer=answer: answer)
        assert _whole(PICTURE, LINES, WHITE) is None
        monkeypatch.undo()


@pytest.mark.parametrize(("louder", "told"), [(LOUDER + 0.01, True), (LOUDER - 0.01, False)])
def test_a_mix_is_louder_than_its_rivals(
    monkeypatch: pytest.MonkeyPatch, louder: float, told: bool
) -> None:
    """LOUDER times what any inner line says, just more and just less."""
    run = part_run(MIXED, WHITE, noise_of(MIXED))
    assert run is not None
    monkeypatch.setattr(gaps, "rival", lambda *_: run.speaks / louder)
    monkeypatch.setattr(gaps, "unknown_page", lambda *_: [])
    assert _part_runs(MIXED, []) == ([run] if told else [])


@pytest.mark.parametrize("name", ["follows_art", "turns_inward"])
def test_a_mix_on_drawn_art_may_be_a_border(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """Only beside art of one color are panels and frames asked for."""
    flat = side_of(cut(_art(100, 101), np.array(WHITE), np.full(COUNT, 0.5)), 8)
    assert len(_part_runs(flat, [])) == 1
    monkeypatch.setattr(gaps, name, lambda *_: True)
    assert _part_runs(flat, []) == []
    assert len(_part_runs(MIXED, [])) == 1


@pytest.mark.parametrize(("change", "known"), [(14, True), (15, False)])
def test_depths_below_a_line_are_told_where_they_are_sure(change: int, known: bool) -> None:
    """By hand: page 200, art 150, every other line ``change`` codes lighter, outermost half covered.

    Variance 2**2 + change**2 over a way of 50 codes squared: sqrt(200) / 50 is 0.283, sqrt(229) / 50 is
    0.303. Lines 1 and 3 are alike, so that 150 is expected.
    """
    assert (FLOOR, SURE) == (2.0, 0.3)
    luma = np.full((24, COUNT), 150)
    luma[2::2] += change
    luma[0] = 175
    page = (200.0, 128.0, 128.0)
    run = replace(RUN, page=page)
    want = pytest.approx([0.5] * COUNT) if known else [None] * COUNT
    assert _depth_points(side_of(gray(luma), 8), run) == want


def test_a_depth_exactly_as_sure_as_needed() -> None:
    """By hand: neighbors from line 1 to 7 differ by 25, 25, 8, 2, 2, 2; mean of squares 221, and 2**2.

    The square root of 225 over the way of 50 codes is 0.3; half a code less of way is too little.
    """
    luma = np.full((24, COUNT), 150)
    luma[2], luma[4], luma[5], luma[6], luma[7] = 175, 158, 160, 158, 160
    luma[0] = 175
    strip = gray(luma)
    want = pytest.approx([0.5] * COUNT)
    assert _depth_points(side_of(strip, 8), replace(RUN, page=(200.0, 128.0, 128.0))) == want
    less = _depth_points(side_of(strip, 8), replace(RUN, page=(199.5, 128.0, 128.0)))
    assert less == [None] * COUNT


def test_no_depth_where_the_art_is_of_the_page_color() -> None:
    """Page 200 over art of 200: a darker outermost line says nothing of its depth."""
    luma = np.full((24, COUNT), 200)
    luma[0] = 100
    run = replace(RUN, page=(200.0, 128.0, 128.0))
    assert _depth_points(side_of(gray(luma), 8), run) == [None] * COUNT


def test_whole_lines_and_faint_ones_among_the_depths() -> None:
    """Depths of whole lines are those of ``depths``; ground and what is too faint to tell is None."""
    strip = cut(_art(), np.array(WHITE), np.full(COUNT, 3.0))
    strip[:, 4] = WHITE
    strip[3:, 5, 0] = 255 - CONTRAST + 1
    lines = side_of(strip, 8)
    points = _depth_points(lines, RUN)
    assert points[4:6] == [None, None]
    assert points[6:] == depths(lines, WHITE).depth[6:] == [3.0] * (COUNT - 6)


@pytest.mark.parametrize(
    ("off", "near"),
    [
        ((0, 0, 0), True),
        ((NEAR_LUMA, 0, 0), True),
        ((-NEAR_LUMA, 0, 0), True),
        ((NEAR_LUMA + 1, 0, 0), False),
        ((-NEAR_LUMA - 1, 0, 0), False),
        ((0, NEAR_CHROMA, 0), True),
        ((0, -NEAR_CHROMA, NEAR_CHROMA), True),
        ((0, NEAR_CHROMA + 1, 0), False),
        ((0, 0, -NEAR_CHROMA - 1), False),
    ],
)
def test_what_is_near_a_page_color(off: tuple[int, int, int], near: bool) -> None:
    """Mid-gray page on art without chroma, off by the tolerances and by one more."""
    strip = gray(np.full((24, 9), 40))
    strip[:3] = np.array((120, 128, 128)) + off
    shown = near_lines(side_of(strip), (120.0, 128.0, 128.0))
    assert [bool(row[4]) for row in shown] == [near] * 3 + [False] * 21


@pytest.mark.parametrize("page", [(255.0, 128.0, 128.0), (0.0, 128.0, 128.0), (190.0, 90.0, 160.0)])
def test_the_page_color_of_a_cut_side(page: tuple[float, float, float]) -> None:
    """The color that a side was cut to, alone; none where nothing was cut."""
    whole = side_of(cut(_art(), np.array(page), np.full(COUNT, 4.0)), 8)
    assert page_colors(whole) == [page]
    assert page_colors(side_of(_art(), 8)) == []


def test_two_page_colors_the_longer_first() -> None:
    """40 segments of white and 60 of black."""
    strip = cut(_art(), np.array(WHITE), np.full(COUNT, 4.0))
    strip[:4, 40:] = (0, 128, 128)
    assert page_colors(side_of(strip, 8)) == [(0.0, 128.0, 128.0), WHITE]


@pytest.mark.parametrize("page", [WHITE, (0.0, 128.0, 128.0)])
def test_white_and_black_are_always_asked_for(
    monkeypatch: pytest.MonkeyPatch, page: tuple[float, float, float]
) -> None:
    """Neutral white and black, the ends of luma, without a color that the line itself points to."""
    monkeypatch.setattr(gaps, "unknown_page", lambda *_: [])
    lines = side_of(cut(_art(), np.array(page), np.full(COUNT, 0.5)), 8)
    (run,) = _part_runs(lines, [])
    assert run.page == page
    assert run.share_first == pytest.approx(0.5, abs=0.02)
