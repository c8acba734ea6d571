"""Gray values that the past is told from, in every kind of sample, and the squares chosen of them."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from pytest_webdeliverable.measure.history import mosaic


def values(picture):
    return np.asarray(mosaic.luma(picture), dtype=int)


@pytest.mark.parametrize("mode", ["I;16", "I;16B"])
def test_16_bits_become_8_by_a_share_of_65535(mode):
    """A sample of 257 k is k of 255; without any above 255 the samples are 8-bit values."""
    levels = np.arange(256) * 257
    picture = Image.new(mode, (256, 1))
    picture.putdata(levels.tolist())
    assert np.abs(values(picture)[0] - np.arange(256)).max() <= 1
    assert values(picture)[0, -1] == 255


@pytest.mark.parametrize(
    ("levels", "expected"),
    [
        ([0, 100, 255], [0, 100, 255]),  # 8 bits: up to 255
        ([0, 128 * 257, 256], [0, 128, 1]),  # one sample above 255: of 65535; 256 / 257 is 0.996
        ([0, 100, 270], [0, 0, 1]),  # 270 / 257
        ([0, 0, 0], [0, 0, 0]),
        ([-5, -1, 0], [0, 0, 0]),
        ([0, 1, 1], [0, 255, 255]),  # no more than 1: a share of 1
    ],
)
def test_whole_numbers_are_scaled_by_the_largest_that_they_reach(levels, expected):
    picture = Image.new("I", (3, 1))
    picture.putdata(levels)
    assert np.abs(values(picture)[0] - expected).max() <= 1


@pytest.mark.parametrize(
    ("levels", "expected"),
    [
        ([0.0, 0.5, 1.0], [0, 127, 255]),
        ([0.0, 0.5, 1.01], [0, 0, 1]),  # above 1: code values of 8 bits
        ([0.0, 127.0, 255.0], [0, 127, 255]),
        ([0.0, 32896.0, 255.5], [0, 128, 0]),
        ([0.25, 0.25, 0.25], [63, 63, 63]),
        ([-1.0, -0.5, 0.0], [0, 0, 0]),
        ([-1.0, 0.5, 1.0], [0, 127, 255]),
    ],
)
def test_fractions_are_scaled_by_the_largest_that_they_reach(levels, expected):
    picture = Image.new("F", (3, 1))
    picture.putdata(levels)
    assert np.abs(values(picture)[0] - expected).max() <= 1


def test_colors_become_luma_by_the_weights_of_bt_601():
    """Y = 0.299 R + 0.587 G + 0.114 B (ITU-R BT.601)."""
    rgb = np.random.default_rng(1).integers(0, 256, (5, 7, 3)).astype(np.uint8)
    expected = rgb @ np.array([0.299, 0.587, 0.114])
    assert np.abs(values(Image.fromarray(rgb)) - expected).max() <= 1


def test_gray_of_8_bits_is_taken_as_it_is():
    picture = Image.new("L", (4, 4), 77)
    assert mosaic.luma(picture) is picture


@pytest.mark.parametrize(("step", "told"), [(15, False), (16, True)])
def test_half_a_code_value_of_detail_is_enough(step, told):
    """64 neighbors a row: one step up and one down make 30 / 64 = 0.47, or 32 / 64 = 0.5."""
    row = np.full(64, 40)
    row[20:40] += step
    found = mosaic.choose_squares(Image.fromarray(np.tile(row, (64, 1)).astype(np.uint8)))
    assert bool(found[1]) is told
