"""The correlation from histograms is the one of the textbook."""

import numpy as np
import pytest
from PIL import Image

from pytest_webdeliverable.measure.metadata.correlation import Grid, correlation, grid


@pytest.mark.parametrize("seed", range(5))
def test_one_band_agrees_with_numpy(seed):
    rng = np.random.default_rng(seed)
    one = rng.integers(0, 256, (20, 30), dtype=np.uint8)
    other = (one // 2 + rng.integers(0, 100, (20, 30))).astype(np.uint8)
    found = correlation(Grid(Image.fromarray(one)), Grid(Image.fromarray(other)))
    assert found == pytest.approx(np.corrcoef(one.ravel(), other.ravel())[0, 1], abs=1e-9)
    assert Grid(Image.fromarray(one)).deviation == pytest.approx(one.std(), abs=1e-9)


def test_bands_have_their_own_means():
    rng = np.random.default_rng(9)
    one = rng.integers(0, 200, (8, 8, 3), dtype=np.uint8)
    shifted = one + np.array([5, 20, 50], dtype=np.uint8)
    found = correlation(Grid(Image.fromarray(one)), Grid(Image.fromarray(shifted)))
    assert found == pytest.approx(1)
    inverted = Grid(Image.fromarray(255 - one))
    assert correlation(Grid(Image.fromarray(one)), inverted) == pytest.approx(-1)


def test_no_contrast_is_no_correlation():
    flat = Grid(Image.new("L", (4, 4), 7))
    assert correlation(flat, flat) == 0


def test_a_grid_averages_the_box():
    image = Image.new("L", (40, 10))
    image.paste(200, (20, 0, 40, 10))
    assert set(grid(image, 4, (20, 0, 40, 10)).image.tobytes()) == {200}
    assert grid(image, 2).image.tobytes() == bytes([0, 200, 0, 200])
