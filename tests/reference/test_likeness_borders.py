"""Which part of a piece is compared, and what is concluded: borders and choices, by hand.

Where a conclusion is asked for, the measuring below it is replaced by numbers that are given.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage
from small_pictures import art, by_hand, plane

from pytest_webdeliverable.likeness import (
    differ,
    same,
)


def sized(width, height):
    return {"size": [width, height]}


# Whole, middle or elsewhere


@pytest.mark.parametrize(
    ("copy", "piece", "whole"),
    [
        ((1019, 1000), (2000, 2000), True),  # 1.9 % wider
        ((1021, 1000), (2000, 2000), False),
        ((981, 1000), (2000, 2000), True),
        ((979, 1000), (2000, 2000), False),
        ((10, 11), (2000, 2000), True),  # a pixel of rounding
        ((10, 12), (2000, 2000), False),
        ((400, 300), (1600, 1200), True),
        ((1624, 1200), (1600, 1200), True),  # 1.5 %
        ((1640, 1200), (1600, 1200), False),  # 2.5 %
    ],
)
def test_shapes_within_two_percent_or_a_pixel_are_compared_whole(monkeypatch, copy, piece, whole):
    boxes = []

    def compared(_, __, box):
        boxes.append(box)
        return {"same": True, "score": 1.0}

    monkeypatch.setattr(same, "compare_part", compared)
    same.same_picture(sized(*copy), sized(*piece))
    assert len(boxes) == 1
    assert (boxes[0] == (0.0, 0.0, 1.0, 1.0)) is whole
    if not whole:
        # the largest part of the copy's shape around the center
        left, top, right, bottom = boxes[0]
        shape = (right - left) * piece[0] / ((bottom - top) * piece[1])
        assert shape == pytest.approx(copy[0] / copy[1])
        assert (left + right, top + bottom) == pytest.approx((1, 1))
        assert max(right - left, bottom - top) == 1


@pytest.mark.parametrize(
    ("middle", "elsewhere", "chosen"),
    [
        ((True, 0.6), (True, 0.9), "middle"),  # enough: nothing else is tried
        ((False, 0.3), (True, 0.9), "elsewhere"),
        ((False, 0.4), (False, 0.3), "middle"),
        ((False, 0.3), (False, 0.4), "elsewhere"),
    ],
)
def test_the_better_of_middle_and_elsewhere(monkeypatch, middle, elsewhere, chosen):
    there = (0.0, 0.0, 0.5, 1.0)
    told = {
        box: {"same": found[0], "score": found[1], "crop": name}
        for box, found, name in (((0.25, 0.0, 0.75, 1.0), middle, "middle"), (there, elsewhere, "elsewhere"))
    }  # fmt: skip
    monkeypatch.setattr(same, "compare_part", lambda _, __, box: told[box])
    monkeypatch.setattr(same, "_likeliest", lambda *_: there)
    assert same.same_picture(sized(100, 100), sized(200, 100))["crop"] == chosen


def test_a_declared_part_is_the_only_one(monkeypatch):
    monkeypatch.setattr(same, "compare_part", lambda _, __, box: box)
    part = (0.1, 0.2, 0.3, 0.4)
    assert same.same_picture(sized(100, 100), sized(100, 100), part) == part


# Differences that a displacement explains


@pytest.mark.parametrize(
    ("plain", "shift", "moved", "chosen"),
    [
        (0.0, (0.5, 0.0), 9.0, "plain"),  # no difference: nothing to explain
        (5.0, (0.5, -0.5), 3.0, "moved"),
        (5.0, (0.5, -0.5), 7.0, "plain"),
        (5.0, (1.0, -1.0), 3.0, "moved"),
        (5.0, (1.01, 0.0), 3.0, "plain"),  # beyond a cell
        (5.0, (0.0, -1.01), 3.0, "plain"),
        (100.0, (0.5, 0.0), 3.0, "moved"),
        (150.0, (0.5, 0.0), 3.0, "plain"),  # hopeless
    ],
)
def test_what_a_displacement_explains(monkeypatch, plain, shift, moved, chosen):
    def told(_, __, *, level, shift=None):
        assert level == 2.5
        return differ.Difference(
            worst=plain if shift is None else moved, allowed=2.0, at=(0, 0), level=level,
            shift=shift or (0.0, 0.0),
        )  # fmt: skip

    monkeypatch.setattr(same, "differ", told)
    monkeypatch.setattr(same, "displacement", lambda *_: shift)
    found = same._settled(plane([[0]]), plane([[0]]), 2.5)
    assert found.worst == (plain if chosen == "plain" else moved)
    assert found.shift == (shift if chosen == "moved" else (0.0, 0.0))


def test_the_numbers_of_a_comparison_are_rounded(monkeypatch):
    """Grid 20 x 10: a shift of a third of a cell is 1/60 of the width and 1/30 of the height.

    The excess is that of lightness, 3 / 2 / 1.6, since colors lie within what is allowed.
    """
    told = differ.Difference(worst=3.0, allowed=2.0, at=(1 / 3, 2 / 3), level=0.0, shift=(1 / 3, -1 / 3))  # fmt: skip
    monkeypatch.setattr(same, "_settled", lambda *_: told)
    one = by_hand(art(0, 10, 20))
    found = same.compare_part(one, one, (0.0, 0.0, 1.0, 1.0))
    assert found["score"] == round(1 / (1 + 3 / 2 / 1.6), 4)
    assert found["shift"] == [0.0167, -0.0333]
    assert found["at"] == [0.333, 0.667]
    assert found["same"] is True
    part = same.compare_part(one, one, (1 / 3, 0.0, 1.0, 2 / 3))
    assert part["crop"] == [0.3333, 0.0, 1.0, 0.6667]


def test_mean_colors_of_a_comparison_have_two_decimals():
    """One cell of 80 of chroma is off by 10, and one of 320 of lightness: 0.125 and 0.03125."""
    luma, cb = np.full((16, 20), 120), np.full((8, 10), 140)
    brighter, tinted = luma.copy(), cb.copy()
    brighter[3, 3] += 10
    tinted[4, 4] += 11
    found = same.same_picture(by_hand(brighter, cb=tinted), by_hand(luma, cb=cb))
    assert found["color shift"] == [0.03, 0.14, 0.0]  # 11 / 80 = 0.1375


# Allowances


@pytest.mark.parametrize(
    ("off", "allowed"), [(0.5, 2.0), (1.0, 2.0), (1.5, 3.0), (2.99, 5.98), (3.0, 6.0), (9.0, 6.0)]
)
def test_what_a_cell_may_differ(off, allowed):
    """Twice what nine tenths of the cells stay below; 2 at least, 6 at most."""
    one = np.zeros(21)
    one[2:] = off  # 19 of 21 cells; that of nine tenths is the 18th of 0 .. 20
    assert differ.allowance(plane(one), plane(np.zeros(21)), 0.0) == pytest.approx(allowed)
    one[:4] = 0.0  # 17 cells: still among them
    assert differ.allowance(plane(one), plane(np.zeros(21)), 0.0) == pytest.approx(allowed)
    one[:19] = 0.0  # 2 cells
    assert differ.allowance(plane(one), plane(np.zeros(21)), 0.0) == 2.0


@pytest.mark.parametrize(
    ("rows", "detail"),
    [([[5, 5, 5]], 0), ([[1, 4], [9, 2]], 5), ([[7]], 0), ([[1, 4]], 3), ([[3], [9]], 0)],
)
def test_detail_by_hand(rows, detail):
    """Neighbors along rows: |4 - 1| and |2 - 9|, so 5 in the mean; one cell has no neighbor."""
    assert differ.detail(plane(rows)) == detail


def test_the_displacement_looks_at_inner_cells_only():
    """Edges have slopes of one side: what lies there, wild or not, says nothing."""
    y, x = np.mgrid[:9, :11]
    still = 100 + 3.0 * x + 4.0 * np.sin(y) + x * y / 3
    down, across = np.gradient(still)
    moved = still - 0.25 * across + 0.5 * down
    wild = moved.copy()
    wild[0], wild[-1], wild[:, 0], wild[:, -1] = 255, 0, 255, 0
    expected = pytest.approx((0.25, -0.5))
    assert differ.displacement(plane(moved), plane(still), 0.0) == expected
    assert differ.displacement(plane(wild), plane(still), 0.0) == expected
    every_second = moved.copy()
    every_second[2::2] = 0  # rows 1, 3, 5, 7 are looked at
    assert differ.displacement(plane(every_second), plane(still), 0.0) == expected


@pytest.mark.parametrize(
    ("rows", "slope"),
    [([[5]], (0, 0)), ([[5], [7]], (0, 2)), ([[5, 8]], (3, 0)), ([[5, 8, 9]], (3, 0))],
)
def test_a_plane_of_one_row_or_column_has_no_slope_across_it(rows, slope):
    assert differ._slope(plane(rows), 0, 0) == slope


@pytest.mark.parametrize(("height", "width"), [(1, 1), (2, 9), (9, 2), (1, 9)])
def test_planes_without_inner_cells_are_not_displaced(height, width):
    one = plane(
        ndimage.gaussian_filter(np.random.default_rng(1).uniform(0, 255, (height, width)), 1)
    )
    assert differ.displacement(one, one, 5.0) == (0.0, 0.0)
