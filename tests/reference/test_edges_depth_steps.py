"""Depths and what they agree on, each step written down once more in numpy and compared on random sides."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from edge_strips import cut, gray, side_of

from pytest_webdeliverable.measure.edges import depths as module
from pytest_webdeliverable.measure.edges.color import sharpness
from pytest_webdeliverable.measure.edges.depths import (
    DEEPEST,
    FLATTEST,
    GROUND,
    SHALLOW,
    STEEPEST,
    Depths,
    common_depth,
    depths,
    line_of_depths,
)
from pytest_webdeliverable.measure.edges.pages import CONTRAST

WHITE = (255.0, 128.0, 128.0)


def _once_more(codes: np.ndarray, near: np.ndarray, page: np.ndarray) -> list[tuple[float, float]]:
    """Depth (nan for art) and contrast of each segment by the words of ``depths``, weights as in sums of codes."""
    weights, last = np.array([1, 0.25, 0.25]), len(codes) - 1
    found = []
    for color, shows in zip(codes.swapaxes(0, 1), near.T, strict=True):
        line = int(np.argmin(shows)) if not shows.all() else last
        if line == 0 or line >= last:
            found.append((GROUND if line else np.nan, 0.0))
            continue
        while line < last - 1 and sharpness(page, color[line], color[line + 2]) <= module.RINGING:
            line += 1
        way, made = color[line + 1] - page, color[line] - page
        share = np.clip((weights * way) @ made / ((weights * way) @ way), 0, 1) if way.any() else 1
        off = np.abs(way)
        found.append((line + 1 - share, off[0] + off[1:].max() / 2))
    return found


@pytest.mark.parametrize("height", [24, 10, 4])
@pytest.mark.parametrize("seed", range(6))
def test_depths_of_random_strips_by_numpy(seed: int, height: int) -> None:
    """Colored art that rings and fades under a page, and page again in spots: 300 segments each."""
    rng = np.random.default_rng(seed)
    page = np.array((220.0, 120.0, 135.0))
    art = np.repeat(rng.integers([20, 60, 60], [210, 200, 200], (1, 300, 3)), height, axis=0)
    deep = rng.integers(0, height + 3, 300) + rng.choice([0, 0, 0.5, 0.8, 0.9, 0.95], 300)
    strip = cut(art.astype(float), page, deep)
    fade = rng.random((height, 300, 1)) < 0.3
    strip = strip + fade * rng.uniform(0, 0.3, (height, 300, 1)) * (page - strip)
    strip[rng.random((height, 300)) < 0.1] = page
    lines = side_of(strip)
    found = depths(lines, tuple(page))
    near = np.array([list(row) for row in found.near]) != 0
    want = np.array(_once_more(np.asarray(lines.means).astype(float), near, page))
    got = [np.nan if depth is None else depth for depth in found.depth]
    assert got == pytest.approx(list(want[:, 0]), nan_ok=True)
    assert found.contrast == pytest.approx(list(want[:, 1]))
    assert len(set(got)) > 20 or height == 4


def test_art_of_exactly_the_page_color_leaves_no_mix() -> None:
    """One line of art in page, two lines in: no way from page to art, so that the depth is 1, faint."""
    strip = gray(np.full((24, 4), 255))
    strip[1] = (90, 128, 128)
    found = depths(side_of(strip), WHITE)
    assert (found.depth, found.contrast) == ([1.0] * 4, [0.0] * 4)


@pytest.mark.parametrize("seed", range(8))
def test_the_common_depth_by_numpy(seed: int) -> None:
    """A histogram in quarters of a px, three of them together; the depths within 0.4 px of the fullest.

    50 sides of 1 to 30 segments each, contrast from too faint to past 40 codes, where it says no more.
    """
    rng = np.random.default_rng(seed)
    for count in rng.integers(1, 31, 50):
        depth = rng.choice([rng.uniform(0.5, 3), rng.uniform(0.5, 11)], count)
        depth = depth + rng.normal(0, 0.5, count)
        contrast, soft = rng.uniform(4, 70, count), rng.random(count) < 0.4
        found = Depths(list(map(float, depth)), list(map(float, contrast)), list(soft), [])
        counts = (contrast >= CONTRAST) & (depth <= DEEPEST)
        if not counts.any():
            assert common_depth(found) is None
            continue
        quarter = np.rint(depth * 4).astype(int) + 20
        weight = np.minimum(1, contrast / 40) * np.where(soft, module.SOFT, 1) * counts
        single = np.bincount(quarter, weight, 90)
        full = (np.roll(single, 1) + single + np.roll(single, -1))[quarter] * counts
        # Where several are as full (one segment alone fills three), the one whose depth comes first.
        fullest = quarter[np.flatnonzero(full > full.max() - 1e-9)[0]] - 20
        near = (contrast >= CONTRAST) & (np.abs(depth - fullest / 4) <= 0.4)
        assert common_depth(found) == pytest.approx(np.median(depth[near]))


def _line(depth: np.ndarray, segment: int, corner: int) -> tuple[float, float] | None:
    """Of the lines through any two of some points, moved by the stairs' half height: the one with most.

    Then numpy's least squares through the points within the slack.
    """
    at = np.arange(len(depth))
    at = at[(at >= corner) & (at < len(depth) - corner) & ~np.isnan(depth)]
    picks = at[:: max(1, len(at) // 9)]
    best, most = None, 0
    for one, other in itertools.combinations(picks, 2):
        slope = (depth[other] - depth[one]) / (other - one)
        if not FLATTEST <= abs(slope) / segment <= STEEPEST:
            continue
        for shift in (-0.45, 0.0, 0.45):
            base = depth[one] + shift - slope * one
            if min(base, base + slope * len(depth)) <= SHALLOW:
                agree = np.abs(depth[at] - base - slope * at) <= module.STAIR
                if agree.sum() > most:
                    best, most = agree, agree.sum()
    if best is None:
        return None
    slope, base = np.polyfit(at[best], depth[at][best], 1)
    return base, slope


@pytest.mark.parametrize("segment", [2, 4, 8])
@pytest.mark.parametrize("seed", range(12))
def test_the_line_of_scattered_depths_by_numpy(seed: int, segment: int) -> None:
    """Stairs and scatter about a slope, other depths among them, gaps between them: the same line."""
    rng = np.random.default_rng(seed)
    count, corner = int(rng.integers(14, 120)), -(-12 // segment)
    rise = rng.choice([0.0005, 0.002, 0.006, 0.01]) * segment * rng.choice([-1, 1])
    depth = rng.uniform(0, 3) + rise * (np.arange(count) - (count if rise < 0 else 0))
    depth = np.rint(depth) if seed % 2 else depth + rng.normal(0, 0.3, count)
    others = rng.random(count) < 0.3
    depth[others] = rng.uniform(1, 9, others.sum())
    depth[rng.random(count) < 0.1] = np.nan
    contrast = np.where(np.isnan(depth), 0.0, 60.0)
    given_depth = [None if np.isnan(one) else float(one) for one in depth]
    got = line_of_depths(Depths(given_depth, list(contrast), [False] * count, []), segment, corner)
    want = _line(depth, segment, corner)
    told = np.count_nonzero(~np.isnan(depth[corner : count - corner]))
    assert got == (pytest.approx(want, abs=1e-6) if want and told >= 8 else None)
