"""Part-covered outermost lines: each step against numpy, and exact mixes with random art."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from edge_strips import cut, gray, seen, side_of

from pytest_webdeliverable.measure.edges.part import (
    CHROMA_LINE,
    CLIP,
    FLOOR,
    INNER,
    LEAST,
    MOST,
    RIVALS,
    WEIGHTS,
    Mix,
    _fit,
    _seed,
    _smooth,
    _speak,
    mixes,
    noise_of,
    part_run,
    restless,
    rival,
    steps,
    unknown_page,
)

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.edges.profile import Profile

RNG = np.random.default_rng
WHITE = (255.0, 128.0, 128.0)
COUNT = 60


def _art(seed: int, wander: float = 3.0, count: int = COUNT) -> np.ndarray:
    """Art whose lines are alike and whose segments differ: base per segment plus a little noise."""
    rng = RNG(seed)
    base = gray(rng.integers(40, 150, (1, count)))
    base[..., 1:] = rng.integers(90, 170, (1, count, 2))
    return np.rint(base + rng.normal(0, wander, (24, count, 3)))


def _mixed(art: np.ndarray, share: np.ndarray | float, page: tuple[float, ...]) -> Profile:
    return side_of(cut(art, np.array(page), np.full(art.shape[1], 1.0) * share))


def _window(values: np.ndarray, reach: int) -> np.ndarray:
    """A running mean by numpy.convolve; at the ends over what there is."""
    kernel = np.ones(2 * reach + 1)
    full = np.convolve(values, kernel)[reach:-reach]
    return full / np.convolve(np.ones(len(values)), kernel)[reach:-reach]


@pytest.mark.parametrize("reach", [1, 2, 3])
@pytest.mark.parametrize("size", [4, 9, 40])
def test_smoothing_is_a_running_mean(reach: int, size: int) -> None:
    """numpy.convolve of the values over numpy.convolve of ones: shrinking ends."""
    values = RNG(size + reach).normal(0, 50, size)
    assert _smooth(list(values), reach) == pytest.approx(list(_window(values, reach)))


@pytest.mark.parametrize("line", [0, 1, 5])
def test_a_line_is_compared_with_where_the_next_ones_lead(line: int) -> None:
    """expected = next + smoothed (next - third) / 2; off = line - expected, band by band."""
    strip = _art(2, 12)
    found = steps(side_of(strip), line, [1.0] * COUNT)
    codes = np.clip(strip, 0, 255)
    for band in range(3):
        here, one, three = (codes[at, :, band] for at in (line, line + 1, line + 3))
        lead = one + _window((one - three) / 2, 3)
        assert found.expected[band] == pytest.approx(list(lead))
        assert found.off[band] == pytest.approx(list(here - lead))
    assert found.noise == [1.0] * COUNT


@pytest.mark.parametrize("lines", [24, 5])
def test_noise_is_the_variance_between_inner_lines(lines: int) -> None:
    """Mean squared difference of lines 1..INNER and their next, weighted, smoothed, on a floor."""
    strip = np.clip(_art(3, 9)[:lines], 0, 255)
    last = min(INNER + 1, lines - 1)
    change = np.diff(strip, axis=0)[1:last] ** 2 @ np.array(WEIGHTS)
    want = FLOOR**2 + _window(change.mean(0), 2)
    assert noise_of(side_of(strip)) == pytest.approx(list(want))


def test_mixes_are_weighted_products() -> None:
    """Offset times way and way squared, by numpy; on an exact mix their quotient is the share."""
    art = np.repeat(_art(4, 0)[:1], 24, axis=0)
    found = steps(_mixed(art, 0.4, WHITE), 0, [2.0] * COUNT)
    mix = mixes(found, WHITE)
    way = np.array(WHITE)[:, None] - np.array(found.expected)
    along = np.array(WEIGHTS) @ (way * np.array(found.off))
    squared = np.array(WEIGHTS) @ way**2
    assert mix.along == pytest.approx(list(along))
    assert mix.squared == pytest.approx(list(squared))
    assert mix.noise == [2.0] * COUNT
    # Half a code of rounding on a way of 105 codes and more.
    assert along / squared == pytest.approx(np.full(COUNT, 0.4), abs=0.006)


def test_the_seed_is_the_loudest_window() -> None:
    """All windows by numpy: chi squared of the shares' weighted mean, largest first."""
    rng = RNG(5)
    size = 50
    squared, noise = rng.uniform(100, 4000, size), rng.uniform(2, 30, size)
    share = np.where((np.arange(size) >= 12) & (np.arange(size) < 24), 0.6, 0.0)
    along = share * squared + rng.normal(0, 20, size)
    best = (0.0, 0.0)
    for parts in (1, 3, 8, 14):
        length = max(4, size // parts)
        for first in range(0, size - length + 1, max(1, length // 2)):
            own = slice(first, first + length)
            above, below = (along / noise)[own].sum(), (squared / noise)[own].sum()
            if above > 0:
                best = max(best, (above**2 / below, above / below))
    power, found = best
    got = _seed(Mix(list(along), list(squared), list(noise)))
    assert got == pytest.approx((found, power))
    assert 0.3 < found < 0.61


def test_the_seed_of_nothing() -> None:
    """Offsets that all point away from the page speak for no share."""
    assert _seed(Mix([-50.0] * 20, [100.0] * 20, [4.0] * 20)) == (0.0, 0.0)


def test_what_segments_speak_is_a_clipped_log_likelihood() -> None:
    """(|off|^2 - |off - share * way|^2) / (2 noise) = (2 s along - s^2 squared) / (2 noise)."""
    along, squared, noise = [10.0, 10.0, 900.0, -900.0], [40.0] * 4, [8.0] * 4
    # (2 * 0.5 * 10 - 0.25 * 40) / 16 = 0; at 0.25: (5 - 2.5) / 16; the last two are clipped.
    shares = [0.5, 0.25, 0.5, 0.5]
    assert _speak(Mix(along, squared, noise), shares) == [0.0, 2.5 / 16, CLIP, -CLIP]
    assert _speak(Mix(along, squared, noise), [0.0] * 4) == [-0.05] * 4


@pytest.mark.parametrize("slope", [0.012, -0.012])
def test_the_fit_is_weighted_least_squares(slope: float) -> None:
    """numpy.polyfit with the square roots of the weights, on a clear slope."""
    rng = RNG(6)
    at = np.arange(50)
    squared, noise = rng.uniform(500, 9000, 50), rng.uniform(2, 9, 50)
    along = (0.5 + slope * (at - 25) + rng.normal(0, 0.02, 50)) * squared
    want = np.polyfit(at[5:45], (along / squared)[5:45], 1, w=np.sqrt(squared / noise)[5:45])
    got = _fit(Mix(list(along), list(squared), list(noise)), 5, 45)
    assert got == pytest.approx((want[1], want[0]))


@pytest.mark.parametrize(
    ("rise", "weight", "slanting"),
    # 20 segments: the sum of (at - 9.5)^2 is 665, so that the slope's chi is rise/20 * sqrt(665 w).
    [(0.26, 400.0, True), (0.24, 400.0, False), (0.30, 190.0, True), (0.30, 140.0, False)],
)
def test_a_fitted_slope_must_be_clear(rise: float, weight: float, slanting: bool) -> None:
    """A quarter of a line over the stretch, and five times its own uncertainty; else the mean.

    rise 0.30: 0.015 * sqrt(665 * 190) = 5.33 is above 5, 0.015 * sqrt(665 * 140) = 4.58 is not.
    """
    shares = 0.5 + rise / 20 * (np.arange(20) - 9.5)
    mix = Mix(list(shares * weight), [weight] * 20, [1.0] * 20)
    base, slope = _fit(mix, 0, 20)
    assert (base, slope) == pytest.approx((shares[0], rise / 20) if slanting else (0.5, 0.0))


def test_a_fit_without_weight() -> None:
    """Segments that are page already cannot tell a share."""
    assert _fit(Mix([0.0] * 9, [0.0] * 9, [1.0] * 9), 0, 9) == (0.0, 0.0)


@pytest.mark.parametrize("page", [WHITE, (0.0, 128.0, 128.0), (200.0, 90.0, 160.0)])
@pytest.mark.parametrize("share", [0.25, 0.5, 0.9])
def test_an_exact_mix_is_told(page: tuple[float, ...], share: float) -> None:
    """Share, art, line and CIEDE2000 are those the strip was made of."""
    art = _art(7, 2)
    lines = _mixed(art, share, page)
    run = part_run(lines, (page[0], page[1], page[2]), noise_of(lines))
    assert run is not None
    assert (run.first, run.last, run.straight) == (0, COUNT, True)
    assert run.share_first == pytest.approx(share, abs=0.03)
    inner = np.stack([art[1, :, 0], art[CHROMA_LINE, :, 1], art[CHROMA_LINE, :, 2]], -1)
    assert run.art == pytest.approx(tuple(inner.mean(0)))
    outer = np.rint(share * np.array(page) + (1 - share) * art[0])
    assert run.line == pytest.approx(tuple(outer.mean(0)), abs=0.1)
    told = inner[:: COUNT // 12]
    each = [seen(own, own + run.share_first * (np.array(page) - own)) for own in told]
    assert run.seen == pytest.approx(np.mean(each), rel=0.02)
    assert run.agree > 0.9
    assert run.told > 0.9
    assert run.page == page


def test_a_mix_ends_where_it_was_cut() -> None:
    """Half of the side covered: the stretch is that half, within a segment or two."""
    share = np.where((np.arange(COUNT) >= 18) & (np.arange(COUNT) < 50), 0.5, 0.0)
    lines = _mixed(_art(8, 1), share, WHITE)
    run = part_run(lines, WHITE, noise_of(lines))
    assert run is not None
    assert (run.first, run.last) == pytest.approx((18, 50), abs=2)


def test_a_slanting_mix_has_two_shares() -> None:
    """Covered from 0.2 to 0.9 in a straight line: both ends' shares."""
    lines = _mixed(_art(9, 1), np.linspace(0.2, 0.9, COUNT), WHITE)
    run = part_run(lines, WHITE, noise_of(lines))
    assert run is not None
    assert not run.straight
    assert (run.share_first, run.share_last) == pytest.approx((0.2, 0.9), abs=0.03)


@pytest.mark.parametrize(("share", "told"), [(0.02, False), (0.16, True), (0.94, True), (1, False)])
def test_shares_looked_for(share: float, told: bool) -> None:
    """Between LEAST and MOST of a line; a whole line is not a part."""
    assert 0.02 < LEAST < 0.16 < 0.94 < MOST < 1
    lines = _mixed(_art(10, 0.4), share, WHITE)
    assert (part_run(lines, WHITE, noise_of(lines)) is not None) == told


def test_a_mix_needs_lines_and_art_that_differs() -> None:
    """Too few lines, or no mix at all: nothing is told."""
    lines = _mixed(_art(11, 1), 0.5, WHITE)
    assert part_run(
        side_of(cut(_art(11, 1)[: INNER + 5], np.array(WHITE), np.full(COUNT, 0.5))),
        WHITE,
        noise_of(lines),
    )
    few = side_of(cut(_art(11, 1)[: INNER + 4], np.array(WHITE), np.full(COUNT, 0.5)))
    assert part_run(few, WHITE, noise_of(few)) is None
    assert not restless(few)
    assert restless(lines)
    plain = _mixed(_art(12, 3), 0.0, WHITE)
    assert part_run(plain, WHITE, noise_of(plain)) is None


@pytest.mark.parametrize("line", [3, 9, RIVALS + 3])
def test_a_rival_is_a_mixed_line_further_in(line: int) -> None:
    """The same mix painted on an inner line: whole as loud near the side, half further in, then none.

    The last line looked at is led by lines up to three further in.
    """
    art = _art(13, 1)
    strip = art.copy()
    strip[line] = 0.5 * np.array(WHITE) + 0.5 * art[line]
    lines = side_of(strip)
    outer = _mixed(art, 0.5, WHITE)
    noise = noise_of(outer)
    run = part_run(outer, WHITE, noise)
    assert run is not None
    share = rival(lines, WHITE, noise) / run.speaks
    assert share == pytest.approx({3: 1.0, 9: 0.5, RIVALS + 3: 0.0}[line], abs=0.15)


def test_an_unknown_page_is_told_by_the_loss_of_contrast() -> None:
    """off = share * page - share * art: its slope on the art is -share, its zero is the page.

    numpy.polyfit over the whole and each half and quarter that the strip is made of.
    """
    page = (190.0, 100.0, 150.0)
    lines = _mixed(_art(14, 0), 0.5, page)
    found = steps(lines, 0, [1.0] * COUNT)
    want = []
    for parts in (1, 2, 4):
        for part in np.split(np.arange(COUNT), parts):
            slope, _ = np.polyfit(
                np.array(found.expected[0])[part], np.array(found.off[0])[part], 1
            )
            both = zip(found.expected, found.off, strict=True)
            want.append([np.mean(np.array(e)[part] - np.array(o)[part] / slope) for e, o in both])
    got = unknown_page(lines, noise_of(lines))
    assert np.array(got) == pytest.approx(np.array(want))
    assert got[0] == pytest.approx(page, abs=2)


def test_no_unknown_page_without_contrast_or_loss() -> None:
    """Flat art has no contrast to lose (16 codes squared), and art that goes on loses none."""
    flat = np.full((24, COUNT, 3), 100.0)
    assert unknown_page(_mixed(flat, 0.5, WHITE), [1.0] * COUNT) == []
    assert unknown_page(side_of(_art(15, 0)), [1.0] * COUNT) == []


def test_still_strips_are_not_restless() -> None:
    """Art that goes on to the side; the same with its outermost line half covered on a quarter."""
    art = _art(16, 2)
    assert not restless(side_of(np.repeat(art[:1], 24, axis=0)))
    share = np.where(np.arange(COUNT) < 15, 0.5, 0.0)
    assert restless(_mixed(art, share, WHITE))
