"""What a user of ``edge-gap`` is promised in numbers, whatever the program calls them.

How plainly a gap must be seen, how long a faint one must be, and which corners are a designer's own.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from edge_strips import seen

from pytest_webdeliverable.measure.ciede2000 import delta_e
from pytest_webdeliverable.measure.edges.nick import Nick
from pytest_webdeliverable.measure.edges.part import PartRun
from pytest_webdeliverable.measure.edges.weigh import nick_counts, part_counts, whole_counts
from pytest_webdeliverable.measure.edges.whole import Run

COUNT = 1000
"""Segments of the side: one of them is a thousandth."""
WHITE, ART = (255.0, 128.0, 128.0), (120.0, 128.0, 128.0)

# Neither plain nor short of anything: each condition but the one asked is far from its border.
RUN = Run(
    first=0, last=COUNT, depth_first=3.0, depth_last=3.0, page=WHITE, art=ART, told=900, share=1.0,
    contrast=135.0, spread=20.0, sharp=0.8, lasting=1.0, banded=False, back=0.0, ground=0.0, opens=0,
    grain=0.0, drift=0.0, seen=seen(WHITE, ART),
)  # fmt: skip
PART = PartRun(
    first=20, last=950, share_first=0.5, share_last=0.5, page=WHITE, speaks=500.0, agree=1.0, told=1.0,
    art=ART, line=(187.0, 128.0, 128.0), seen=20.0,
)  # fmt: skip


@pytest.mark.parametrize(("told", "least"), [(900, 4.0), (300, 4.0), (299, 5.0), (120, 5.0)])
def test_what_one_cannot_see_is_no_gap(told: int, least: float) -> None:
    """CIEDE2000 4 along three tenths of a side or more, 5 on a shorter stretch."""
    assert whole_counts(replace(RUN, told=told, seen=least), COUNT)
    assert not whole_counts(replace(RUN, told=told, seen=least - 0.01), COUNT)


def test_a_short_gap_must_be_plainer() -> None:
    """Below 12 % of a side, where an end as sharp as this one is not enough."""
    assert whole_counts(replace(RUN, told=120), COUNT)
    assert not whole_counts(replace(RUN, told=119), COUNT)


def test_a_fade_is_no_gap() -> None:
    """The contrast right after the edge must be most of what there is a dozen lines further in."""
    assert whole_counts(replace(RUN, lasting=0.6), COUNT)
    assert not whole_counts(replace(RUN, lasting=0.59), COUNT)


@pytest.mark.parametrize(
    ("share", "length", "least"),
    [(0.3, 85, 4.0), (0.3, 500, 4.0), (0.29, 500, 5.0), (0.29, 900, 5.0)],
)
def test_the_faintest_part_covered_line(share: float, length: int, least: float) -> None:
    """From 30 % of page on it is seen from CIEDE2000 4 on, along 8.5 % of the side.

    A fainter one must show 5, and run along half of it.
    """
    run = replace(PART, share_first=share, share_last=share, last=20 + length, seen=least)
    assert part_counts(run, COUNT)
    assert not part_counts(replace(run, seen=least - 0.01), COUNT)
    shortest = 500 if share < 0.3 else 85
    assert part_counts(replace(run, last=20 + shortest), COUNT)
    assert not part_counts(replace(run, last=19 + shortest), COUNT)


def _nick(page: int, art: int, shape: str = "square", legs: float = 4.0) -> Nick:
    return Nick(("top", "left"), legs, legs, shape, 0.15, (page,) * 3, (art,) * 3, 99.0)


def _is_fault(nick: Nick, *others: Nick) -> bool:
    return nick_counts(nick, [nick, *others])


@pytest.mark.parametrize(
    ("page", "least"), [(255, 8), (232, 8), (231, 15), (128, 15), (35, 15), (34, 8), (0, 8)]
)
def test_how_plainly_a_corner_is_seen(page: int, least: int) -> None:
    """White and black, what most pages are, from CIEDE2000 8 on; grays in between from 15 on."""
    step = -1 if page > 120 else 1
    grays = [page + step * off for off in range(120)]
    first = next(art for art in grays if delta_e((page,) * 3, (art,) * 3) >= least)
    for art, counts in ((first, True), (first - step, False)):
        assert _is_fault(_nick(page, art)) is counts


@pytest.mark.parametrize(
    ("page", "legs", "misfit", "least"),
    [
        # A color, which corners of art show often, in a few px and in more.
        ((171, 130, 130), 4.0, 0.15, 30),
        ((171, 130, 130), 4.9, 0.15, 30),
        ((171, 130, 130), 5.0, 0.15, 15),
        # 40 codes between its channels are as good as gray; in a dark one they may be the art's.
        ((170, 130, 130), 4.0, 0.15, 15),
        ((0, 0, 40), 4.0, 0.15, 8),
        ((0, 0, 41), 4.0, 0.15, 30),
        # A cut so clean that chance does not make it need only be seen.
        ((171, 130, 130), 2.5, 0.08, 6),
        ((128, 128, 128), 2.5, 0.08, 6),
        ((128, 128, 128), 2.4, 0.08, 15),
        ((128, 128, 128), 2.5, 0.085, 15),
    ],
)
def test_how_plainly_a_colored_or_clean_corner_is_seen(
    page: tuple[int, int, int], legs: float, misfit: float, least: int
) -> None:
    """From CIEDE2000 30 on in a few px, from 15 on in more, from 6 on where the cut is clean."""
    goal = 0 if sum(page) > 200 else 255
    walk = [tuple(round(own + (goal - own) * at / 1024) for own in page) for at in range(1024)]
    at = next(at for at, art in enumerate(walk) if delta_e(page, art) >= least)
    for art, counts in ((walk[at], True), (walk[at - 1], False)):
        nick = Nick(("top", "left"), legs, legs, "square", misfit, page, art, 99.0)
        assert _is_fault(nick) is counts


@pytest.mark.parametrize(("misfit", "fault"), [(0.2, True), (0.21, False)])
def test_how_well_a_corner_fits_a_shape(misfit: float, fault: bool) -> None:
    """A fifth of its px may be off a square, triangle or rounding."""
    assert _is_fault(replace(_nick(255, 120), misfit=misfit)) is fault


@pytest.mark.parametrize(("legs", "fault"), [(12.5, True), (12.6, False)])
def test_a_large_rounding_is_a_shape_of_the_art(legs: float, fault: bool) -> None:
    """From 12.5 px on, even one alone."""
    assert _is_fault(_nick(255, 120, "round", legs)) is fault


@pytest.mark.parametrize(
    ("legs", "other", "fault"),
    [(3.5, 3.5, False), (3.4, 3.4, True), (6.0, 7.5, False), (6.0, 7.6, True), (6.0, 4.4, True)],
)
def test_corners_cut_alike_are_one_design(legs: float, other: float, fault: bool) -> None:
    """From 3.5 px on, and up to 1.5 px unlike."""
    nick, beside = _nick(255, 120, "triangle", legs), _nick(255, 120, "round", other)
    assert _is_fault(nick, beside) is fault


@pytest.mark.parametrize(("alpha", "fault"), [(199, True), (200, False)])
def test_a_corner_one_can_see_through(alpha: int, fault: bool) -> None:
    """Below an alpha of 200 of 255 it counts whatever its shape and color."""
    nick = replace(_nick(255, 255), page=(255, 255, 255, alpha), misfit=0.5)
    assert _is_fault(nick) is fault
