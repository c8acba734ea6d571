"""What is concluded from two signatures, on signatures made by hand, with the sums beside them."""

from __future__ import annotations

import numpy as np
import pytest
from small_pictures import art, by_hand, plane

from pytest_webdeliverable.likeness import compare_original, original, same, same_picture

# The same picture, all of it


@pytest.mark.parametrize(
    ("off", "score"), [(2, 0.8), (4, 0.6667), (8, 0.5), (-8, 0.5), (16, 0.3333)]
)
def test_a_lighter_copy_scores_by_its_mean(off, score):
    """8 code values are the limit, and 0.5 its score: 1 / (1 + off / 8)."""
    found = same_picture(by_hand(art() + off), by_hand(art()))
    assert found["score"] == pytest.approx(score, abs=0.001)
    assert found["same"] == (abs(off) < 8)
    assert found["color shift"] == pytest.approx([off, 0, 0], abs=0.1)


@pytest.mark.parametrize("channel", ["cb", "cr"])
def test_a_tinted_copy_scores_by_its_color(channel):
    copy, piece = by_hand(art(), **{channel: 146}), by_hand(art(), **{channel: 140})
    found = same_picture(copy, piece)
    assert found["score"] == pytest.approx(1 / (1 + 6 / 8), abs=1e-4)
    assert found["color shift"][1 if channel == "cb" else 2] == 6


@pytest.mark.parametrize(("off", "gray"), [(3, True), (4, False), (-3, True), (-4, False)])
@pytest.mark.parametrize("channel", ["cb", "cr"])
def test_gray_is_three_code_values_from_neutral(channel, off, gray):
    colors = np.full((12, 16), 128)
    colors[3, 4] += off
    copy = by_hand(art(), **{channel: colors})
    assert same_picture(copy, by_hand(art(), cb=150))["gray"] == gray


def test_a_gray_piece_has_no_color_to_lose():
    assert not same_picture(by_hand(art()), by_hand(art()))["gray"]
    assert not same_picture(by_hand(art(), cb=150), by_hand(art()))["gray"]


def test_colors_of_a_gray_copy_do_not_count():
    found = same_picture(by_hand(art()), by_hand(art(), cb=170))
    assert found["gray"]
    assert found["score"] == 1.0
    assert found["same"]


@pytest.mark.parametrize(("cb", "limit"), [(False, 1.6), (True, 0.55)])
def test_a_spot_scores_by_its_limit(cb, limit):
    """4 x 4 cells of 768 off by 10, so 0.21 in the mean; 2 are allowed: 7.79 beyond, / 2 / limit."""
    paper, spot = np.full((24, 32), 120), np.full((24, 32), 120)
    spot[10:14, 12:16] += 10
    if cb:
        copy, piece = by_hand(paper, cb=spot[::2, ::2]), by_hand(paper, cb=paper[::2, ::2])
    else:
        copy, piece = by_hand(spot), by_hand(paper)
    found = same_picture(copy, piece)
    # 2 x 2 cells of color, 4 x 4 of lightness: in both a whole window lies beyond.
    assert found["score"] == pytest.approx(1 / (1 + (8 - 160 / 768) / 2 / limit), abs=1e-4)
    assert not found["same"]
    assert found["at"] == pytest.approx([0.42, 0.45], abs=0.06)


def test_a_copy_moved_by_half_a_cell_is_the_same():
    """Linear interpolation by half a cell is the mean of two neighbors."""
    fine = art(3, 24, 33)
    moved, still = (fine[:, 1:] + fine[:, :-1]) / 2, fine[:, :-1]
    found = same_picture(by_hand(moved), by_hand(still))
    assert found["same"]
    plain = same.differ(plane(np.rint(moved)), plane(np.rint(still)), level=0.0)
    settled = same._settled(plane(np.rint(moved)), plane(np.rint(still)), 0.0)
    assert settled.worst <= plain.worst
    if settled.shift != (0.0, 0.0):
        # the picture lies half a cell to the left
        assert settled.shift == pytest.approx((-0.5, 0.0), abs=0.1)


def test_a_displacement_beyond_a_cell_is_not_allowed_for():
    x = np.arange(40.0)
    ramp = np.tile(128 + 60 * np.sin(x / 6), (20, 1)) + 30 * np.cos(np.arange(20.0) / 4)[:, None]
    far = np.tile(128 + 60 * np.sin((x - 2.5) / 6), (20, 1))
    far = far + 30 * np.cos(np.arange(20.0) / 4)[:, None]
    assert same._settled(plane(far), plane(ramp), 0.0).shift == (0.0, 0.0)


# Which part


@pytest.mark.parametrize(
    ("copy", "piece", "within"),
    [
        ((400, 300), (1600, 1200), True),
        ((400, 299), (1600, 1200), True),
        ((400, 301), (1600, 1200), True),
        ((400, 298), (1600, 1200), False),  # 400 / 1600 x 1200 = 300, or 397.3 for 298: off by 2.7
        ((40, 29), (1600, 1200), False),  # 29 / 1200 x 1600 = 38.7: off by 1.3
        ((40, 31), (1600, 1200), True),
        ((5, 3), (1600, 1200), True),  # 3 / 1200 x 1600 = 4: off by 1
    ],
)
def test_a_pixel_of_rounding_by_hand(copy, piece, within):
    scale = min(copy[0] / piece[0], copy[1] / piece[1])
    off = max(abs(piece[i] * scale - copy[i]) for i in (0, 1))
    assert same._within_a_pixel(copy, piece) == (off <= 1)
    if copy != (400, 299):
        assert same._within_a_pixel(copy, piece) == within


@pytest.mark.parametrize(
    ("copy", "piece", "box", "grid"),
    [
        ((96, 72), (96, 72), (0.0, 0.0, 1.0, 1.0), (96, 72)),  # cells that lie alike
        ((96, 72), (96, 64), (0.0, 0.0, 1.0, 1.0), (48, 32)),  # half of the fewer
        ((96, 72), (96, 72), (0.25, 0.0, 0.75, 0.5), (24, 18)),
        ((96, 72), (96, 72), (0.5, 0.25, 1.0, 0.75), (24, 18)),
        ((20, 72), (96, 72), (0.25, 0.0, 0.75, 1.0), (10, 36)),
        ((3, 2), (96, 72), (0.0, 0.0, 0.01, 0.01), (1, 1)),
    ],
)
def test_the_cells_that_both_are_averaged_into(copy, piece, box, grid):
    assert same.common_grid(copy, piece, box) == grid


@pytest.mark.parametrize(("cells", "told"), [(5, False), (6, True)])
def test_a_part_below_six_cells_says_too_little(cells, told):
    found = same_picture(by_hand(art(0, cells, 20)), by_hand(art(0, cells, 20)))
    assert found["same"] == told
    assert (found["undecided"] is None) == told
    upright = same_picture(by_hand(art(0, 20, cells)), by_hand(art(0, 20, cells)))
    assert upright["same"] == told


@pytest.mark.parametrize("place", [0, 8, 16, 24, 32])
@pytest.mark.parametrize("upright", [False, True])
def test_the_likeliest_part_is_where_the_copy_was_cut(place, upright):
    """A quarter of the longer side, at each of 33 places; the copy holds the piece's own cells."""
    wide = art(5, 24, 64) + np.linspace(0, 40, 64)
    at = place * 48 // 32
    piece, copy = wide, wide[:, at : at + 16]
    middle = (0.375, 0.0, 0.625, 1.0)
    if upright:
        piece, copy, middle = piece.T, copy.T, (0.0, 0.375, 1.0, 0.625)
    found = same._likeliest(by_hand(copy), by_hand(piece), middle)
    expected = (at / 64, 0.0, at / 64 + 0.25, 1.0)
    expected = (expected[1], expected[0], expected[3], expected[2]) if upright else expected
    assert found == pytest.approx(expected)


def test_the_distance_is_the_sum_of_magnitudes_without_the_mean():
    one, other = art(1), art(2)
    expected = np.abs(one - other - (one - other).mean()).sum()
    assert same._distance(plane(one), plane(other)) == pytest.approx(expected)


def test_a_copy_of_a_declared_part_states_part_and_shift():
    wide = art(7, 24, 64)
    found = same_picture(by_hand(wide[:, 16:48]), by_hand(wide), (0.25, 0.0, 0.75, 1.0))
    assert found["crop"] == [0.25, 0.0, 0.75, 1.0]
    assert found["shift"] == [0.0, 0.0]
    assert found["score"] == 1.0


# A copy beside its original


def test_the_contrast_and_the_color_of_a_copy_are_told():
    """Halved contrast and Cb up by 7, at the same place."""
    whole = art(4, 30, 40) * 1.0
    found = compare_original(by_hand(whole * 0.8 + 20, cb=137), by_hand(whole, cb=130))
    assert found["tone"] == pytest.approx(0.8, abs=0.01)
    luma = (np.rint(whole * 0.8 + 20) - np.rint(whole)).mean()
    assert found["color change"] == pytest.approx([luma, 7.0, 0.0], abs=0.02)
    assert found["crop"] == pytest.approx([0, 0, 1, 1], abs=0.004)
    assert found["same"]
    assert not found["cropped"]
    assert not found["shifted"]
    assert found["undecided"] is None
    assert found["color undecided"] is None


def test_a_spot_beside_the_original_scores_by_sixteen_code_values():
    """Halves of two grays, told by hand: placement undecided, tone 1, so only the spot differs."""
    paper, spot = np.full((24, 32), 120), np.full((24, 32), 120)
    spot[10:14, 12:16] += 18
    found = compare_original(by_hand(spot), by_hand(paper))
    assert found["undecided"]
    # mean off: 18 x 16 / 768 = 0.375; the spot is 17.625 off, 2 allowed, over 16
    assert found["score"] == pytest.approx(1 / (1 + 15.625 / 16), abs=1e-3)
    assert found["same"]
    assert found["color change"][0] == pytest.approx(0.38, abs=0.006)
    spot[10:14, 12:16] += 2
    # 20 x 752 / 768 = 19.58, less 2: beyond 16
    assert not compare_original(by_hand(spot), by_hand(paper))["same"]


@pytest.mark.parametrize(
    ("box", "cropped", "shifted"),
    [
        ((0.0, 0.0, 1.0, 1.0), False, False),
        ((0.0, 0.0, 0.989, 1.0), True, False),
        ((0.0, 0.0, 0.991, 1.0), False, False),
        ((0.0, 0.011, 1.0, 1.0), True, False),
        ((0.0, 0.0, 1.0, 0.989), True, False),
        ((0.011, 0.0, 1.0, 1.0), True, False),
        ((0.0, 0.009, 1.0, 1.0), False, False),
        ((0.011, 0.0, 1.011, 1.0), False, True),
        ((0.009, 0.0, 1.009, 1.0), False, False),
        ((0.0, -0.011, 1.0, 0.989), False, True),
        ((0.0, -0.03, 1.0, 0.99), False, True),
        ((-0.03, 0.0, 1.03, 1.0), False, False),
    ],
)
def test_a_hundredth_of_a_side_is_cut_or_moved(monkeypatch, box, cropped, shifted):
    monkeypatch.setattr(original, "_fit", lambda *_: (box, 1.0))
    found = compare_original(by_hand(art()), by_hand(art()))
    assert (found["cropped"], found["shifted"]) == (cropped, shifted)
    assert found["crop"] == [round(part, 4) for part in box]


def test_a_fit_that_cuts_two_fifths_away_is_given_up(monkeypatch):
    steps = iter([(0.1, -0.1, 0.0, 0.0, 1.1)] * 6)
    monkeypatch.setattr(original, "_step", lambda *_: next(steps))
    # 0.8, 0.64, 0.512: the third is below 0.6
    assert original._fit(plane(art()), plane(art())) == ((0.0, 0.0, 1.0, 1.0), 1.0)
    assert len(list(steps)) == 3


def test_a_fit_keeps_what_its_steps_add_up_to(monkeypatch):
    steps = iter(
        [(0.1, 0.0, 0.0, -0.1, 1.1)] + [(0.0, -0.1, 0.1, 0.0, 1.2)] + [(0,) * 4 + (0.9,)] * 4
    )
    monkeypatch.setattr(original, "_step", lambda *_: next(steps))
    # across: 0.1 .. 1, then 0.9 wide, right edge in by 0.09; down: 0 .. 0.9, top down by 0.09
    box, tone = original._fit(plane(art()), plane(art()))
    assert box == pytest.approx((0.1, 0.09, 0.91, 0.9))
    assert tone == 0.9


@pytest.mark.parametrize(
    ("width", "height", "cells"), [(96, 72, (32, 24)), (96, 6, (32, 4)), (8, 96, (4, 32))]
)
def test_the_fit_looks_at_32_cells(monkeypatch, width, height, cells):
    seen = []
    monkeypatch.setattr(original, "_step", lambda mine, _: seen.append(mine))
    original._fit(plane(art(0, height, width)), plane(art(0, 20, 20)))
    assert [(one.width, one.height) for one in seen] == [cells]
