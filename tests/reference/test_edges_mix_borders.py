"""Borders of what part-covered lines are told by, each worked by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from edge_strips import cut, gray, side_of

from pytest_webdeliverable.measure.edges import part
from pytest_webdeliverable.measure.edges.part import (
    LEAST,
    MOST,
    Mix,
    _fit,
    _seed,
    _stretch,
    noise_of,
    part_run,
    rival,
    unknown_page,
)

WHITE, GRAY_PAGE = (255.0, 128.0, 128.0), (200.0, 128.0, 128.0)
COUNT = 64

MIXED = side_of(
    cut(
        np.repeat(gray(np.random.default_rng(1).integers(40, 150, (1, COUNT))), 24, axis=0),
        np.array(WHITE),
        np.full(COUNT, 0.5),
    )
)


@pytest.mark.parametrize(
    ("found", "told"),
    [
        ((0, COUNT, 0.5, 0.0, 16.0), True),
        ((0, COUNT, 0.5, 0.0, 15.99), False),
        ((0, COUNT, LEAST, 0.0, 99.0), True),
        ((0, COUNT, LEAST - 0.001, 0.0, 99.0), False),
        ((0, COUNT, MOST, 0.0, 99.0), True),
        ((0, COUNT, MOST + 0.001, 0.0, 99.0), False),
        # In the middle, segment 15, where the stretch is 11 to 19: 15 * 0.006 is 0.09.
        ((11, 20, 0.0399, 0.006, 99.0), False),
        ((11, 20, 0.0401, 0.006, 99.0), True),
    ],
)
def test_which_stretches_are_told(
    monkeypatch: pytest.MonkeyPatch, found: tuple[Any, ...], told: bool
) -> None:
    """A log likelihood of 16; 13 to 97 % of page in the middle, which users are told by the docs."""
    assert (LEAST, MOST) == (0.13, 0.97)
    monkeypatch.setattr(part, "_stretch", lambda _: found)
    run = part_run(MIXED, WHITE, noise_of(MIXED))
    assert (run is not None) == told
    if run:
        first, last, base, slope, score = found
        assert (run.first, run.last, run.speaks) == (first, last, score)
        ends = base + slope * first, base + slope * (last - 1)
        assert (run.share_first, run.share_last) == pytest.approx(ends)


@pytest.mark.parametrize(
    ("share", "power", "found"),
    [
        (0.5, 12.0, True),
        (0.5, 11.99, False),
        (LEAST / 2, 12.0, True),
        (LEAST / 2 - 0.001, 12.0, False),
        (1.3, 12.0, True),
        (1.301, 12.0, False),
    ],
)
def test_where_a_stretch_is_looked_for(
    monkeypatch: pytest.MonkeyPatch, share: float, power: float, found: bool
) -> None:
    """Chi squared 12 of some window, and a share that could be one."""
    monkeypatch.setattr(part, "_seed", lambda _: (share, power))
    mix = Mix([480.0] * COUNT, [800.0] * COUNT, [9.0] * COUNT)
    stretch = _stretch(mix)
    assert stretch[:4] == pytest.approx((0, COUNT, 0.6, 0.0) if found else (0, 0, 0.0, 0.0))
    # s (2 a - s q) / 2n = 0.6 * (960 - 480) / 18 is above the clip of 4.
    assert stretch[4] == (4.0 * COUNT if found else 0.0)


@pytest.mark.parametrize(("length", "found"), [(3, True), (2, False)])
def test_a_stretch_has_three_segments(length: int, found: bool) -> None:
    """The rest speaks against the mix: its offsets point away from the page."""
    along = np.full(COUNT, -40.0)
    along[20 : 20 + length] = 4000.0
    mix = Mix(list(along), [8000.0] * COUNT, [9.0] * COUNT)
    want = (20, 23, 0.5, 0.0, 12.0) if found else (0, 0, 0.0, 0.0, 0.0)
    assert _stretch(mix) == pytest.approx(want)


def test_a_slope_at_both_its_borders() -> None:
    """Two segments, weight w: sum w (x - 1/2)^2 = w / 2.

    Shares 0.25 and 0.375 rise by 0.125: a quarter over both. With w = 3200 that is 0.125 * 40, five
    times its error.
    """
    for weight, slanting in ((3200.0, True), (3199.0, False)):
        mix = Mix([0.25 * weight, 0.375 * weight], [weight] * 2, [1.0] * 2)
        assert _fit(mix, 0, 2) == pytest.approx((0.25, 0.125) if slanting else (0.3125, 0.0))
    mix = Mix([0.25 * 9999, 0.374 * 9999], [9999.0] * 2, [1.0] * 2)
    assert _fit(mix, 0, 2) == pytest.approx((0.312, 0.0))


def test_one_segment_has_a_share_and_no_slope() -> None:
    """Its own; of segments that are page already there is none."""
    mix = Mix([0.0, 40.0, 90.0], [0.0, 100.0, 100.0], [400.0] * 3)
    assert _fit(mix, 1, 2) == (0.4, 0.0)
    assert _fit(mix, 0, 1) == (0.0, 0.0)


def test_a_seed_of_little_or_nothing() -> None:
    """Chi squared is (20 * 0.01)^2 / (20 * 0.02) = 0.1, however small; there is none without a way."""
    assert _seed(Mix([0.01] * 20, [0.02] * 20, [1.0] * 20)) == pytest.approx((0.5, 0.1))
    assert _seed(Mix([0.0] * 20, [0.0] * 20, [4.0] * 20)) == (0.0, 0.0)


@pytest.mark.parametrize(
    ("loud", "want"),
    # Five lines beside the outermost one count whole; the rest by half.
    [
        ({1: 8}, 8),
        ({5: 8}, 8),
        ({6: 8}, 4),
        ({11: 8}, 4),
        ({12: 8}, 4),
        ({15: 8}, 4),
        ({16: 8}, 0),
        ({2: 3, 9: 8}, 4),
    ],
)
def test_who_is_a_rival(monkeypatch: pytest.MonkeyPatch, loud: dict[int, int], want: float) -> None:
    """How loud each line is given, by the number of the line that is asked for."""
    monkeypatch.setattr(part, "steps", lambda _, line, noise: line)
    monkeypatch.setattr(part, "mixes", lambda line, _: line)
    monkeypatch.setattr(part, "_stretch", lambda line: (0, 0, 0.0, 0.0, loud.get(line, 0)))
    assert rival(MIXED, WHITE, []) == want
    # Of 15 lines, the last that three more lie behind is the eleventh.
    few = side_of(np.full((15, COUNT, 3), 90))
    assert rival(few, WHITE, []) == (want if max(loud) <= 11 else 0)


def _contrast(outer: tuple[int, ...], inner: tuple[int, ...], chroma: int = 128) -> list[Any]:
    """Pages that an outermost line of two colors by turns points to, above lines of two others."""
    strip = gray(np.resize(inner, (24, COUNT)))
    strip[0, :, 0] = np.resize(outer, COUNT)
    strip[0, :, 1] = chroma
    return unknown_page(side_of(strip), [4.0] * COUNT)


@pytest.mark.parametrize(
    ("outer", "inner", "page"),
    [
        # Half of the contrast is lost: art 104 and 96, line 152 and 148, so the page is 200.
        ((152, 148), (104, 96), 200),
        # Art of a standard deviation of 3 codes has too little contrast.
        ((151, 149), (103, 97), None),
        # 104 and 96 by turns but for every eighth of 97: a variance of 15.1 is below 16 as well.
        ((152, 148) * 3 + (152, 149), (104, 96) * 3 + (104, 97), None),
        # 13 and 97 % of 100 codes are lost: 100 + 6.5 / 0.13 and 100 + 48.5 / 0.97; 12 and 98 % not.
        ((63, 150), (50, 150), 150),
        ((62, 150), (50, 150), None),
        ((147, 150), (50, 150), 150),
        ((148, 150), (50, 150), None),
        # Pages beyond white and black: 100 + 130 / 0.5 and 100 - 75 / 0.5.
        ((205, 255), (50, 150), 255),
        ((0, 50), (50, 150), 0),
    ],
)
def test_which_unknown_pages_are_told(
    outer: tuple[int, ...], inner: tuple[int, ...], page: float | None
) -> None:
    """From the whole, both halves and all four quarters, which are alike here."""
    want = [] if page is None else [(page, 128.0, 128.0)] * 7
    assert _contrast(outer, inner) == [pytest.approx(one) for one in want]


@pytest.mark.parametrize(("chroma", "page"), [(148, 168), (108, 88), (200, 255), (40, 0)])
def test_the_chroma_of_an_unknown_page(chroma: int, page: float) -> None:
    """Twice as far from the art's as the half covered line's, within 8 bits."""
    assert _contrast((152, 148), (104, 96), chroma) == [pytest.approx((200, page, 128))] * 7


def test_a_part_that_points_to_no_page_hides_no_other() -> None:
    """A first quarter without contrast, or without page, among quarters half covered by 200.

    Art of 120 and 80 by turns becomes 160 and 140; flat art of 100 becomes 150.
    """
    art, outer = np.resize([120, 80], COUNT), np.resize([160, 140], COUNT)
    for first_art, first_outer in (([100], [150]), ([120, 80], [120, 80])):
        art[:16], outer[:16] = np.resize(first_art, 16), np.resize(first_outer, 16)
        strip = gray(np.tile(art, (24, 1)))
        strip[0, :, 0] = outer
        assert unknown_page(side_of(strip), []) == [pytest.approx(GRAY_PAGE)] * 6


def test_unknown_pages_of_parts() -> None:
    """62 segments: the whole, 31 twice, 15 four times; each part has lost its own share of contrast.

    numpy.polyfit of each part's offset on its art: the slope is -share, and where it meets 0 the page.
    """
    count, rng = 62, np.random.default_rng(3)
    art = np.repeat(gray(rng.integers(40, 150, (1, count))), 24, axis=0)
    share = np.linspace(0.2, 0.9, count)
    page = np.stack([np.linspace(180, 240, count), *np.full((2, count), 128.0)], -1)
    outer = np.rint(share[:, None] * page + (1 - share[:, None]) * art[0])
    lines = side_of(np.concatenate([outer[None], art[1:]]))
    want = []
    for length, starts in ((62, [0]), (31, [0, 31]), (15, [0, 15, 30, 45])):
        for start in starts:
            own = slice(start, start + length)
            luma, off = art[0, own, 0], outer[own, 0] - art[0, own, 0]
            slope = np.polyfit(luma, off, 1)[0]
            if LEAST <= -slope <= MOST:
                want.append([np.clip(np.mean(luma - off / slope), 0, 255), 128, 128])
    assert len(want) >= 5
    assert np.array(unknown_page(lines, [4.0] * count)) == pytest.approx(np.array(want))
