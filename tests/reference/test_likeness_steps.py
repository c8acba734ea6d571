"""Single steps of comparing two small pictures, against numpy, scipy and sums done by hand.

Whole pictures leave room to both sides of a verdict, so a wrong half or a shifted row would not show.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from pytest_webdeliverable.likeness import differ, original, resample
from pytest_webdeliverable.likeness.signature import Plane

RNG = np.random.default_rng


def plane(array):
    return Plane(rows=[[float(value) for value in row] for row in np.atleast_2d(array)])


def smooth(seed, height=14, width=19):
    """Random art without hard edges, 0..255, the kind that slopes can be taken of."""
    return ndimage.gaussian_filter(RNG(seed).uniform(0, 255, (height, width)), 1.2)


# Resampling: the share of each cell is the length it has in common with the target cell.


def overlaps(cells, low, high, target):
    edges = np.linspace(low * cells, high * cells, target + 1)
    left, right = edges[:-1, None], edges[1:, None]
    cell = np.arange(cells)
    shared = np.clip(np.minimum(right, cell + 1) - np.maximum(left, cell), 0, None)
    return shared / shared.sum(1, keepdims=True)


@pytest.mark.parametrize("seed", range(8))
def test_resampling_is_the_area_average(seed):
    rng = RNG(seed)
    height, width, down, across = rng.integers(1, 20, 4)
    left, top = rng.uniform(0, 0.5, 2)
    right, bottom = rng.uniform(0.55, 1.0, 2)
    values = rng.uniform(0, 255, (height, width))
    expected = overlaps(height, top, bottom, down) @ values @ overlaps(width, left, right, across).T
    found = resample.resample(plane(values), (left, top, right, bottom), across, down)
    assert np.allclose(found.rows, expected)


def test_a_part_beyond_the_edge_repeats_what_is_inside():
    """By hand: cells 10 and 20; the part from -1 to 1 takes a cell that is not there, and 10, 20."""
    found = resample.resample(plane([[10, 20]]), (-1.0, 0.0, 1.0, 1.0), 4, 1)
    assert found.rows == [[10, 10, 10, 20]]
    found = resample.resample(plane([[10, 20]]), (0.5, 0.0, 1.5, 1.0), 2, 1)
    assert found.rows == [[20, 20]]


def test_the_whole_at_its_own_size_is_left_as_it_is():
    one = plane(smooth(1))
    assert resample.resample(one, resample.WHOLE, one.width, one.height) is one
    assert resample.resample(one, resample.WHOLE, one.width, 3).height == 3


@pytest.mark.parametrize("cells", [3, 7, 48, 96])
def test_cells_that_lie_alike_are_taken_as_they_are(cells):
    """Rounding of 1/3 and the like may not add a neighbor of weight nearly nothing."""
    for first, weights in resample._shares(cells, 0.0, 1.0, cells):
        assert weights == [1.0], first


# Differences, slopes and contrast


@pytest.mark.parametrize("seed", range(4))
def test_the_mean_difference_and_the_detail_are_numpys(seed):
    one, other = smooth(seed), smooth(seed + 50)
    assert differ.mean_difference(plane(one), plane(other)) == pytest.approx((one - other).mean())
    assert differ.detail(plane(one)) == pytest.approx(np.abs(np.diff(one, axis=1)).mean())


def test_planes_of_two_sizes_have_a_mean_difference():
    assert differ.mean_difference(plane([[3, 5], [4, 8]]), plane([[1, 2, 6]])) == pytest.approx(2.0)


def test_slopes_are_numpys_also_at_the_edges():
    """numpy.gradient: central differences, one-sided ones at the edges."""
    values = smooth(3)
    down, across = np.gradient(values)
    height, width = values.shape
    found = [[differ._slope(plane(values), x, y) for x in range(width)] for y in range(height)]
    assert np.allclose(found, np.stack([across, down], -1))


def test_contrast_is_the_range_of_the_three_by_three_cells():
    values = smooth(4)
    expected = ndimage.maximum_filter(values, 3) - ndimage.minimum_filter(values, 3)
    height, width = values.shape
    found = [[differ._contrast(plane(values), x, y) for x in range(width)] for y in range(height)]
    assert np.allclose(found, expected)


@pytest.mark.parametrize("seed", range(4))
def test_the_displacement_is_the_least_squares_solution(seed):
    """Lucas and Kanade 1981: the shift that best explains the differences by the slopes."""
    one, other = smooth(seed), smooth(seed) + RNG(seed).normal(0, 3, (14, 19))
    down, across = np.gradient(other)
    inner = np.s_[1 : -1 : differ.EVERY_ROW, 1:-1]
    level = 1.7
    slopes = np.stack([across[inner].ravel(), down[inner].ravel()], 1)
    best, *_ = np.linalg.lstsq(slopes, (one - other - level)[inner].ravel(), rcond=None)
    assert differ.displacement(plane(one), plane(other), level) == pytest.approx(-best)


@pytest.mark.parametrize(
    "along", [[[0, 9, 2, 7, 4, 0]] * 6, np.transpose([[0, 9, 2, 7, 4, 0]] * 6)]
)
def test_stripes_leave_the_displacement_along_them_open(along):
    """With slopes in one direction only the equations have no single solution."""
    assert differ.displacement(plane(np.add(along, 1.0)), plane(along), 0.0) == (0.0, 0.0)


@pytest.mark.parametrize(
    ("noise", "expected"),
    [(0.1, differ.LEAST_ALLOWED), (1.3, None), (30.0, differ.MOST_ALLOWED)],
)
def test_the_allowance_follows_nine_tenths_of_the_cells(noise, expected):
    one = smooth(6)
    other = one + RNG(6).normal(0, noise, one.shape)
    usual = np.quantile(np.abs(one - other - 0.4), 0.9, method="lower")
    found = differ.allowance(plane(one), plane(other), 0.4)
    assert found == pytest.approx(2 * usual if expected is None else expected)


def expected_worst(one, other, level, shift):
    """The definition in the docstring, as whole arrays."""
    allowed = np.clip(2 * np.quantile(np.abs(one - other - level), 0.9, method="lower"), 2, 6)
    difference = one - other - level
    down, across = np.gradient(other)
    contrast = ndimage.maximum_filter(other, 3) - ndimage.minimum_filter(other, 3)
    counted = np.abs(difference) > allowed
    difference = difference + shift[0] * across + shift[1] * down
    rest = np.clip(np.abs(difference) - allowed - 0.3 * contrast, 0, None) * counted
    squares = np.pad(rest**2, 1)
    together = squares[:-1, :-1] + squares[1:, :-1] + squares[:-1, 1:] + squares[1:, 1:]
    y, x = np.unravel_index(together.argmax(), together.shape)
    return np.sqrt(together.max() / 4), (x, y)


@pytest.mark.parametrize("shift", [(0.0, 0.0), (0.4, 0.0), (0.0, -0.6), (-0.3, 0.8)])
@pytest.mark.parametrize("seed", range(3))
def test_the_worst_difference_is_that_of_whole_arrays(seed, shift):
    other = smooth(seed)
    one = other + RNG(seed).normal(0, 1, other.shape) + 2.5
    one[3:6, 7:9] += 60
    one[0, 0] -= 35
    one[-1, -1] -= 90
    found = differ.differ(plane(one), plane(other), level=2.5, shift=shift)
    worst, (x, y) = expected_worst(one, other, 2.5, shift)
    assert found.worst == pytest.approx(worst)
    # The window reaches from (x - 1, y - 1) to (x, y); the place is a cell in it.
    height, width = other.shape
    assert found.at[0] * width - 0.5 == pytest.approx(x - 0.5, abs=0.5001)
    assert found.at[1] * height - 0.5 == pytest.approx(y - 0.5, abs=0.5001)
    assert (found.level, found.shift) == (2.5, shift)


@pytest.mark.parametrize("seed", range(3))
def test_steps_of_flat_tones_are_displaced_by_their_edges(seed):
    """Many slopes are 0 one way or both; of 15 rows the last inner one counts too."""
    other = np.rint(smooth(seed, 15) / 40) * 40
    one = other + RNG(seed).normal(0, 3, other.shape)
    down, across = np.gradient(other)
    inner = np.s_[1 : -1 : differ.EVERY_ROW, 1:-1]
    slopes = np.stack([across[inner].ravel(), down[inner].ravel()], 1)
    best, *_ = np.linalg.lstsq(slopes, (one - other)[inner].ravel(), rcond=None)
    assert differ.displacement(plane(one), plane(other), 0.0) == pytest.approx(-best)


def test_half_a_code_value_beyond_by_hand():
    """2.5 off on plain paper, 2 allowed: 0.5 in one of four cells, root mean square 0.25."""
    changed = np.full((4, 6), 100.0)
    changed[1, 2] = 102.5
    found = differ.differ(plane(changed), plane(np.full((4, 6), 100.0)), level=0.0)
    assert found.worst == pytest.approx(0.25)


@pytest.mark.parametrize("seed", range(20))
def test_scattered_cells_are_taken_together(seed):
    """A quarter of the cells lie beyond, so that every pattern of four neighbors occurs."""
    rng = RNG(seed)
    other = np.full((9, 12), 100.0)
    one = other + (rng.uniform(0, 1, other.shape) < 0.25) * rng.uniform(10, 90, other.shape)
    found = differ.differ(plane(one), plane(other), level=0.0)
    assert found.worst == pytest.approx(expected_worst(one, other, 0.0, (0.0, 0.0))[0])


def test_a_displacement_of_strong_art_of_the_usual_size():
    other = ndimage.gaussian_filter(RNG(5).uniform(0, 255, (72, 96)), 1.5) * 3
    down, across = np.gradient(other)
    moved = plane(other - 0.4 * across + 0.3 * down)
    assert differ.displacement(moved, plane(other), 0.0) == pytest.approx((0.4, -0.3))


@pytest.mark.parametrize(("x", "y"), [(0, 0), (5, 0), (0, 3), (4, 2)])
def test_one_cell_by_hand(x, y):
    """41 off on plain paper, 2 allowed: 39 beyond in one of four cells, root mean square 19.5."""
    values = np.full((4, 6), 100.0)
    changed = values.copy()
    changed[y, x] = 141
    found = differ.differ(plane(changed), plane(values), level=0.0)
    assert found.worst == pytest.approx(19.5)
    assert found.allowed == 2.0
    assert found.at == pytest.approx(((x + 0.5) / 6, (y + 0.5) / 4))


# A copy beside its original


def test_one_step_of_the_fit_is_the_least_squares_solution():
    """Moves of the four edges, contrast and level: six unknowns over the inner cells."""
    other, noise = smooth(9, 12, 16), RNG(9).normal(0, 1, (12, 16))
    height, width = other.shape
    down, across = np.gradient(other)
    v, u = np.meshgrid(
        (np.arange(height) + 0.5) / height, (np.arange(width) + 0.5) / width, indexing="ij"
    )
    terms = [(1 - u) * across * width, u * across * width, (1 - v) * down * height,
             v * down * height, other, np.ones_like(other)]  # fmt: skip
    moves = np.array([0.02, -0.03, 0.01, -0.015, 0.9, 12.0])
    mine = sum(move * term for move, term in zip(moves, terms, strict=True)) + noise
    inner = np.s_[1:-1, 1:-1]
    matrix = np.stack([term[inner].ravel() for term in terms], 1)
    best, *_ = np.linalg.lstsq(matrix, mine[inner].ravel(), rcond=None)
    found = original._step(plane(mine), plane(other))
    assert found == pytest.approx([*(best[:4] / best[4]), best[4]])


def test_a_step_moves_no_edge_by_more_than_a_tenth():
    other = smooth(9, 12, 16)
    far = other + 0.5 * np.gradient(other)[1] * 16
    left, right, *_ = original._step(plane(far), plane(other))
    assert (left, right) == (0.1, 0.1)
    near = original._step(plane(other - 0.5 * np.gradient(other)[1] * 16), plane(other))
    assert near[:2] == (-0.1, -0.1)


@pytest.mark.parametrize(("tone", "told"), [(0.15, False), (0.25, True), (4.5, True), (5.5, False)])
def test_a_contrast_beyond_five_times_is_no_fit(tone, told):
    other = smooth(2)
    assert (original._step(plane(tone * other), plane(other)) is not None) == told


def test_a_level_decides_nothing_in_a_step():
    other = smooth(2)
    assert original._step(plane(0.7 * other + 31), plane(other)) == pytest.approx(
        (0, 0, 0, 0, 0.7), abs=1e-9
    )


def test_equations_need_their_rows_exchanged():
    """By hand: 0 x + 2 y = 4, 3 x + y = 5: x = 1, y = 2."""
    assert original.solve([[0.0, 2.0, 4.0], [3.0, 1.0, 5.0]]) == pytest.approx([1.0, 2.0])
