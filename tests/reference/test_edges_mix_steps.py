"""Part-covered lines over many random strips: every fact is what numpy computes anew."""

from __future__ import annotations

from dataclasses import asdict

import edge_mixes
import numpy as np
import pytest
from edge_strips import cut, gray, side_of

from pytest_webdeliverable.measure.edges.part import (
    Mix,
    _fit,
    _seed,
    _speak,
    _stretch,
    mixes,
    noise_of,
    part_run,
    rival,
    steps,
)

RNG = np.random.default_rng
WHITE, BLACK, GREEN = (255.0, 128.0, 128.0), (0.0, 128.0, 128.0), (150.0, 90.0, 100.0)
PAGES = pytest.mark.parametrize("page", [WHITE, BLACK, GREEN], ids=["white", "black", "green"])


def strip(seed: int, kind: str, page: tuple[float, ...]) -> np.ndarray:
    """Random art whose outermost line is covered in part: all along, on a stretch, slanting, not."""
    rng = RNG(seed)
    count, lines = int(rng.integers(30, 91)), int(rng.integers(11, 25))
    art = gray(rng.integers(30, 220, (1, count)))
    art[..., 1:] = rng.integers(90, 170, (1, count, 2))
    art = art + rng.normal(0, rng.uniform(1, 9), (lines, count, 3))
    # A segment of the page's own color tells nothing.
    art[:, rng.integers(0, count, 2)] = page
    at, share = np.arange(count), rng.uniform(0.1, 1.0)
    first, last = sorted(rng.integers(0, count, 2))
    depth = {
        "all": np.full(count, share),
        "stretch": np.where((at >= first) & (at < max(last, first + 8)), share, 0.0),
        "slanting": np.linspace(-0.2, 1.1, count)[:: rng.choice([-1, 1])] * share,
        "ragged": share * rng.uniform(0.2, 1.8, count),
        "none": np.zeros(count),
    }[kind]
    return cut(art, np.array(page), np.clip(depth, 0, 1))


@PAGES
@pytest.mark.parametrize("kind", ["all", "stretch", "slanting", "ragged", "none"])
@pytest.mark.parametrize("seed", range(6))
def test_every_fact_of_a_part_covered_line(
    seed: int, kind: str, page: tuple[float, float, float]
) -> None:
    """Ends, shares, likelihood, agreement, what is told, colors and CIEDE2000."""
    lines = side_of(strip(seed, kind, page))
    codes = edge_mixes.codes_of(lines)
    noise = edge_mixes.noise_of(codes)
    assert noise_of(lines) == pytest.approx(list(noise))
    want = edge_mixes.part_run(codes, page, noise)
    got = part_run(lines, page, list(noise))
    if want is None:
        assert got is None
        return
    assert got is not None
    found = asdict(got)
    for name in ("page", "art", "line"):
        assert found.pop(name) == pytest.approx(want.pop(name))
    assert found == pytest.approx(want)


@PAGES
@pytest.mark.parametrize("kind", ["all", "stretch", "none"])
@pytest.mark.parametrize("inner", [1, 4, 6, 12])
def test_how_loud_the_lines_further_in_are(
    kind: str, inner: int, page: tuple[float, float, float]
) -> None:
    """The mix painted on a line further in, above random art: as loud as numpy finds it."""
    mixed = strip(inner, kind, page)
    lines = np.concatenate([mixed[2 : 2 + inner], mixed])
    side = side_of(lines)
    codes = edge_mixes.codes_of(side)
    noise = edge_mixes.noise_of(codes)
    assert rival(side, page, list(noise)) == pytest.approx(edge_mixes.rival(codes, page, noise))


@pytest.mark.parametrize("line", [0, 2, 7])
def test_products_of_a_line(line: int) -> None:
    """Offset times way and way squared over three bands, for a line further in as well."""
    side = side_of(strip(3, "ragged", GREEN))
    codes = edge_mixes.codes_of(side)
    found = steps(side, line, [3.0] * side.count)
    want = edge_mixes.Mixed(codes, line, GREEN, np.full(side.count, 3.0))
    got = mixes(found, GREEN)
    assert got.along == pytest.approx(list(want.along))
    assert got.squared == pytest.approx(list(want.squared))
    assert np.array(found.off) == pytest.approx(want.off)


def products(seed: int, size: int) -> tuple[edge_mixes.Products, Mix]:
    """A stretch with some share of page, or a slanting one, among segments that say nothing."""
    rng = RNG(seed)
    squared, noise = rng.uniform(50, 9000, size), rng.uniform(4, 80, size)
    squared[rng.integers(0, size)] = 0.0
    at = np.arange(size)
    length = int(rng.choice([size, max(3, size // 3), max(3, size // 8), max(3, size // 14)]))
    first = int(rng.integers(0, size - length + 1))
    share = rng.uniform(0.03, 1.5) + rng.choice([0, 0, 1, -1]) * (at - first) / length
    share = np.where((at >= first) & (at < first + length), share, 0.0)
    along = squared * share + np.sqrt(squared * noise) * rng.normal(0, 0.5, size)
    mix = Mix(list(along), list(squared), list(noise))
    return edge_mixes.Products(along, squared, noise), mix


SIZES = pytest.mark.parametrize("size", [5, 13, 40, 57, 112, 400])


@SIZES
@pytest.mark.parametrize("seed", range(12))
def test_the_loudest_window_and_the_best_stretch(size: int, seed: int) -> None:
    """Whole, thirds, eighths, fourteenths; three times best stretch and weighted least squares."""
    want, mix = products(seed + 100 * size, size)
    assert _seed(mix) == pytest.approx(edge_mixes.seed(want.along, want.squared, want.noise))
    assert _stretch(mix) == pytest.approx(edge_mixes.stretch(want))


@SIZES
@pytest.mark.parametrize("seed", range(4))
def test_likelihood_and_fit_of_a_stretch(size: int, seed: int) -> None:
    """Shares between none and all, and a weighted line through all but both ends."""
    want, mix = products(seed + 100 * size, size)
    shares = np.clip(RNG(seed).uniform(-0.3, 1.2, size), 0, 1)
    assert _speak(mix, list(shares)) == pytest.approx(list(edge_mixes.speak(want, shares)))
    assert _fit(mix, 1, size - 1) == pytest.approx(edge_mixes.fit(want, 1, size - 1), abs=1e-9)
