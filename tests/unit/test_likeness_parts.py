"""The arithmetic of small pictures, held against numpy and against results known by hand."""

from __future__ import annotations

import random

import numpy as np
import pytest

from pytest_webdeliverable.likeness.differ import differ, displacement, mean_difference
from pytest_webdeliverable.likeness.original import solve
from pytest_webdeliverable.likeness.resample import WHOLE, centered, resample
from pytest_webdeliverable.likeness.signature import Plane


def plane(array):
    return Plane(rows=[list(map(float, row)) for row in array])


def test_resampling_to_whole_cells_is_their_mean():
    values = np.arange(48.0).reshape(6, 8)
    found = np.array(resample(plane(values), WHOLE, 4, 3).rows)
    assert np.allclose(found, values.reshape(3, 2, 4, 2).mean((1, 3)))


def test_resampling_keeps_the_mean_of_the_part():
    values = np.random.default_rng(3).random((10, 12))
    found = np.array(resample(plane(values), (0.25, 0.2, 0.75, 0.9), 5, 4).rows)
    assert found.mean() == pytest.approx(values[2:9, 3:9].mean())


@pytest.mark.parametrize(
    ("shape", "target", "box"),
    [(2.0, 1.0, (0.25, 0, 0.75, 1)), (1.0, 2.0, (0, 0.25, 1, 0.75)), (1.5, 1.5, (0, 0, 1, 1))],
)
def test_the_centered_part_has_the_target_shape(shape, target, box):
    assert centered(shape, target) == pytest.approx(box)


def test_a_displacement_is_measured():
    x, y = np.meshgrid(np.arange(40.0), np.arange(30.0))
    wave = lambda u, v: 100 + 40 * np.sin(u / 4) + 30 * np.cos(v / 3)  # noqa: E731
    one, other = plane(wave(x - 0.3, y + 0.2)), plane(wave(x, y))
    assert displacement(one, other, mean_difference(one, other)) == pytest.approx(
        (0.3, -0.2), abs=0.03
    )


def test_a_level_is_left_out():
    values = np.random.default_rng(1).random((20, 20)) * 50
    found = differ(plane(values + 7), plane(values), level=7.0)
    assert found.worst == 0.0


def test_one_changed_spot_is_found_where_it_is():
    values = np.full((20, 40), 100.0)
    changed = values.copy()
    changed[5:7, 30:32] = 160
    found = differ(plane(changed), plane(values), level=0.0)
    assert found.worst > 50
    assert found.at == pytest.approx((30.5 / 40, 5.5 / 20), abs=0.06)


def test_linear_equations_are_numpys():
    rnd = random.Random(4)
    rows = [[rnd.uniform(-1, 1) for _ in range(7)] for _ in range(6)]
    matrix = np.array(rows)
    assert np.allclose(solve(rows), np.linalg.solve(matrix[:, :6], matrix[:, 6]))


def test_dependent_equations_have_no_solution():
    assert solve([[1.0, 1.0, 2.0], [2.0, 2.0, 4.0]]) is None
