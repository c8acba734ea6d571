"""A picture reduced to its signature, and pairs found among many signatures."""

from __future__ import annotations

import base64
import zlib
from itertools import product

import numpy as np
import pytest
from PIL import Image

from pytest_webdeliverable.likeness import nearly
from pytest_webdeliverable.likeness.signature import chroma_grid, coarse, pack, planes
from pytest_webdeliverable.measure import likeness


@pytest.mark.parametrize(
    ("size", "grid"),
    [((1600, 1200), (96, 72)), ((50, 20), (50, 20)), ((3000, 2), (96, 1)), ((2, 3000), (1, 96)), ((2, 96), (2, 96)),
     ((97, 194), (48, 96)), ((96, 96), (96, 96))],
)  # fmt: skip
def test_the_grid_by_hand(size, grid):
    assert likeness._grid(*size) == grid
    assert chroma_grid(grid) == (-(-grid[0] // 2), -(-grid[1] // 2))


@pytest.mark.parametrize(("width", "height"), [(16, 8), (12, 20), (5, 3), (9, 7)])
def test_the_coarse_picture_is_the_area_average(width, height):
    values = np.random.default_rng(width).integers(0, 256, (height, width)).astype(np.uint8)

    def overlaps(cells):
        edge, cell = np.arange(8)[:, None] * cells / 8, np.arange(cells)
        shared = np.minimum(edge + cells / 8, cell + 1) - np.maximum(edge, cell)
        return np.clip(shared, 0, None) / (cells / 8)

    expected = overlaps(height) @ values @ overlaps(width).T
    found = np.asarray(likeness._coarse(Image.fromarray(values)))
    assert np.abs(found - expected).max() <= 0.6  # fixed point, then rounded


def test_the_planes_of_a_signature_are_jfifs():
    """JFIF 1.02: Y = 0.299 R + 0.587 G + 0.114 B, Cb and Cr centered at 128, to a code value."""
    pixels = np.random.default_rng(1).integers(0, 256, (6, 10, 3)).astype(np.uint8)
    red, green, blue = pixels.astype(float).transpose(2, 0, 1)
    y = 0.299 * red + 0.587 * green + 0.114 * blue
    cb, cr = 128 + (blue - y) / 1.772, 128 + (red - y) / 1.402
    halves = [band.reshape(3, 2, 5, 2).mean((1, 3)) for band in (cb, cr)]
    found = planes(likeness.signature(Image.fromarray(pixels)))
    for one, expected in zip(found, (y, *halves), strict=True):
        assert np.abs(np.array([list(row) for row in one.rows]) - expected).max() <= 1.5


def test_half_see_through_ink_is_half_paper():
    found = planes(likeness.signature(Image.new("RGBA", (8, 8), (0, 0, 0, 128))))
    assert found[0].rows[3][3] == pytest.approx(127, abs=1)


@pytest.mark.parametrize(("mode", "told"), [("CMYK", "cmyk"), ("RGB", "rgb"), ("L", "rgb")])
def test_the_mode_of_a_signature(mode, told):
    assert likeness.signature(Image.new(mode, (8, 8)))["mode"] == told


def test_a_coarse_picture_of_another_length_is_a_value_error():
    sound = likeness.signature(Image.new("RGB", (40, 30), "teal"))
    assert len(coarse(sound)) == 3 * 8 * 8
    short = base64.b64encode(bytes(191)).decode()
    with pytest.raises(ValueError, match="cells it states"):
        coarse({**sound, "coarse": short})
    with pytest.raises(ValueError, match=r"."):  # no sign of base 64 (RFC 4648)
        coarse({**sound, "coarse": "!" + sound["coarse"]})


def test_a_packed_plane_is_zlib_in_base_64():
    assert zlib.decompress(base64.b64decode(pack(b"abc" * 100))) == b"abc" * 100


# Pairs among many


def test_candidates_are_all_pairs_of_neighboring_means():
    """Buckets of 9 code values: no pair within 9 of each other is missed, none comes twice."""
    means = np.random.default_rng(2).integers(0, 60, (40, 3))
    at_sight = [b"".join(bytes([int(value)] * 64) for value in row) for row in means]
    found = list(nearly._candidates(at_sight))
    assert len(found) == len(set(found))
    assert all(i < j for i, j in found)
    near = {
        (i, j)
        for i, j in product(range(40), repeat=2)
        if i < j and np.abs(means[i] - means[j]).max() <= 9
    }
    assert near <= set(found)
    far = {(i, j) for i, j in found if np.abs(means[i] - means[j]).max() >= 18}
    assert not far


@pytest.mark.parametrize(("off", "agree"), [(9, True), (10, False), (-9, True), (-10, False)])
def test_coarse_cells_agree_up_to_nine(off, agree):
    one = bytearray([100] * 192)
    one[77] += off
    assert nearly._agree(bytes(one), bytes([100] * 192)) == agree


def test_a_group_of_three_is_two_pairs():
    picture = likeness.signature(Image.linear_gradient("L"))
    found = nearly.near_duplicates([(name, picture) for name in "abc"])
    assert found == ([("a", "b"), ("a", "c")], True)


@pytest.mark.parametrize("limit", ["MOST_CLOSE", "MOST_COARSE"])
def test_beyond_the_limit_the_answer_is_incomplete(monkeypatch, limit):
    picture = likeness.signature(Image.linear_gradient("L"))
    monkeypatch.setattr(nearly, limit, 1)
    found = nearly.near_duplicates([(name, picture) for name in "abc"])
    assert found == ([("a", "b")], False)


def test_the_root_of_a_group_is_followed_to_its_end():
    group = [0, 0, 1, 2, 4]
    assert [nearly._root(group, index) for index in range(5)] == [0, 0, 0, 0, 4]
