"""The computations behind `history`, held against ITU-T T.81 and numpy."""

from __future__ import annotations

import random
from math import pi, sqrt

import numpy as np
import pytest
from photographs import as_jpeg, photograph
from PIL import Image

from pytest_webdeliverable.measure.history.cropped import (
    BLOCK,
    LEVEL_SHIFT,
    PERIODS,
    block_sums,
    periodicity,
)
from pytest_webdeliverable.measure.history.enlarged import column_profiles
from pytest_webdeliverable.measure.history.resaved import change, saved
from pytest_webdeliverable.measure.history.spectrum import powers, transform


def t81_first_coefficient(block):
    """ITU-T T.81 A.3.3, S(v, u) for u = v = 0: 1/4 C(0) C(0) sum s(y, x), samples less 128 (A.3.1)."""
    return 0.25 * (1 / sqrt(2)) ** 2 * sum(value - 128 for row in block for value in row)


def test_the_first_coefficient_is_an_eighth_of_the_block_sum_less_the_level_shift():
    rnd = random.Random(1)
    block = [[rnd.randrange(256) for _ in range(8)] for _ in range(8)]
    total = sum(map(sum, block))
    assert total / 8 - LEVEL_SHIFT == pytest.approx(t81_first_coefficient(block))


def test_block_sums_are_the_sums_of_all_64_shifts():
    rnd = random.Random(2)
    sheet = Image.frombytes("L", (64, 48), rnd.randbytes(64 * 48))
    low, high = (np.asarray(plane, dtype=int) for plane in block_sums(sheet))
    pixels = np.asarray(sheet, dtype=int)
    across, down = 64 // BLOCK - 1, 48 // BLOCK - 1
    for y in range(8):
        for x in range(8):
            part = pixels[y : y + down * 8, x : x + across * 8]
            sums = part.reshape(down, 8, across, 8).sum((1, 3)) // 2
            field = np.s_[y * down : (y + 1) * down, x * across : (x + 1) * across]
            assert (high[field] * 256 + low[field] == sums).all()


def test_periodicity_is_the_mean_cosine_of_the_coefficients():
    gray = photograph(320, 240).convert("L")
    pixels = np.asarray(gray, dtype=int)[:240, :320]
    across, down = 320 // 8 - 1, 240 // 8 - 1
    for period in (3, 10, 16):
        measured = periodicity(block_sums(gray), period)
        sums = pixels[2 : 2 + down * 8, 5 : 5 + across * 8].reshape(down, 8, across, 8).sum((1, 3))
        waves = np.cos(2 * pi * (sums / 8 - 1024) / period) * (sums % 64 > 1)
        assert measured[2 * 8 + 5] == pytest.approx(waves.mean(), abs=0.01)


def test_the_periods_are_the_first_steps_of_t81_for_quality_95_to_50():
    # ITU-T T.81 table K.1 begins with 16; scaling of its quality as libjpeg does: 200 - 2 Q percent
    steps = {(16 * (200 - 2 * quality) + 50) // 100 for quality in range(50, 95)}
    assert all(any(step % period == 0 for period in PERIODS if period > 1) for step in steps)
    assert {step for step in steps if step <= 11} <= set(PERIODS)


def test_a_jpegs_own_grid_shows_its_step():
    # quality 70: the first step is (16 x 60 + 50) // 100 = 10
    gray = as_jpeg(photograph(320, 240).convert("L"), 70)
    assert periodicity(block_sums(gray), 10)[0] > 0.5


@pytest.mark.parametrize("size", [1, 2, 64, 256])
def test_the_transform_is_numpys(size):
    rnd = random.Random(size)
    values = [complex(rnd.random(), rnd.random()) for _ in range(size)]
    assert np.allclose(transform(values), np.fft.fft(values))


def test_two_real_spectra_come_from_one_transform():
    rnd = random.Random(5)
    one, other = ([rnd.random() for _ in range(128)] for _ in range(2))
    for mine, values in zip(powers(one, other), (one, other), strict=True):
        assert np.allclose(mine, np.abs(np.fft.rfft(values)) ** 2)


def test_column_profiles_are_mean_magnitudes_of_differences():
    gray = photograph(200, 160).convert("L")
    pixels = np.asarray(gray, dtype=int)
    first, second = column_profiles(gray)
    assert np.allclose(first, np.abs(np.diff(pixels, axis=1)).mean(0))
    assert np.allclose(second, np.abs(np.diff(pixels, 2, axis=1)).mean(0))


def test_change_is_the_mean_squared_difference_when_saved():
    gray = photograph(128, 128).convert("L")
    pixels, again = (np.asarray(p, dtype=float) for p in (gray, saved(gray, 60)))
    assert change(gray, 60) == pytest.approx(((pixels - again) ** 2).mean())


def test_doubling_about_the_centers_alternates_first_and_not_second_differences():
    # linear interpolation at -1/4 and +1/4 of the old pixels, by hand
    old = np.random.default_rng(1).random(4000)
    new = np.empty(2 * old.size)
    new[0::2] = 0.75 * old + 0.25 * np.roll(old, 1)
    new[1::2] = 0.75 * old + 0.25 * np.roll(old, -1)
    first = np.abs(np.diff(new))
    second = np.abs(np.diff(new, 2))
    ratio = first[1::2].mean() / first[0::2].mean()
    assert ratio > 1.5
    assert second[0::2].mean() / second[1::2].mean() == pytest.approx(1.0, abs=0.02)
