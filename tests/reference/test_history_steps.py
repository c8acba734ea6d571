"""Single steps of telling a picture's past, against numpy and sums done by hand."""

from __future__ import annotations

from itertools import pairwise
from math import cos, log, pi

import numpy as np
import pytest
from photographs import as_jpeg, photograph
from PIL import Image

from pytest_webdeliverable.measure import history
from pytest_webdeliverable.measure.history import cropped, mosaic, phases, resaved, spectrum


def gray(array):
    return Image.fromarray(np.asarray(array, np.uint8))


def noise(seed, *shape):
    return np.random.default_rng(seed).integers(0, 256, shape)


# Spectra


@pytest.mark.parametrize(("length", "size"), [(64, 64), (90, 64), (131, 128)])
def test_a_flattened_profile_is_numpys(length, size):
    profile = np.random.default_rng(length).uniform(5, 9, length)
    profile[length // 2] = 90.0  # beyond the cut
    start = (length - size) // 2
    cut = profile[start : start + size]
    mean = np.convolve(np.pad(cut, 4, mode="edge"), np.ones(9) / 9, mode="valid")
    relative = (cut - mean) / (mean + 1e-3)
    # median / 0.6745: standard deviations of a normal deviate; the upper of two middles
    most = 4 / 0.6745 * np.sort(np.abs(relative))[size // 2]
    expected = np.clip(relative, -most, most) * np.hanning(size)
    assert spectrum.flattened(list(profile), size) == pytest.approx(list(expected), abs=1e-7)


@pytest.mark.parametrize("length", [33, 64, 65, 100, 129])
def test_a_spectrum_is_divided_by_the_median_of_its_band(length):
    values = np.random.default_rng(length).uniform(1, 50, length)
    bands = max(1, length // 32)
    ends = [*(32 * band for band in range(bands)), length]
    expected = [
        np.sqrt(part / np.sort(part)[len(part) // 2])
        for part in (values[a:b] for a, b in pairwise(ends))
    ]
    assert spectrum.relative(list(values)) == pytest.approx(list(np.concatenate(expected)))


def test_a_flat_spectrum_and_a_flat_profile_are_zero():
    assert spectrum.relative([0.0] * 40) == [0.0] * 40
    assert spectrum.flattened([7.0] * 70, 64) == [0.0] * 64


# Rhythm inside blocks


@pytest.mark.parametrize("inside", [6, 7])
@pytest.mark.parametrize("length", [64, 71, 72, 8])
def test_block_means_are_numpys(length, inside):
    profile = np.random.default_rng(length).uniform(2, 6, length)
    blocks = profile[: length // 8 * 8].reshape(-1, 8)[:, :inside]
    relative = blocks / (blocks.mean(1, keepdims=True) + 1e-3)
    means, error = phases.block_means(list(profile), inside)
    assert means == pytest.approx(list(relative.mean(0)))
    assert error == pytest.approx(np.sqrt(relative.var(0).mean() / len(blocks)))


@pytest.mark.parametrize(("frequency", "dimensions"), [(0.5, 1), (0.25, 2), (0.375, 2)])
@pytest.mark.parametrize("count", [6, 7])
def test_waves_are_orthonormal_and_span_those_of_the_frequency(count, frequency, dimensions):
    waves = np.array(phases._waves(count, frequency))
    assert waves.shape == (dimensions, count)
    assert np.allclose(waves @ waves.T, np.eye(dimensions))
    assert np.allclose(waves.sum(1), 0)
    shown = np.cos(2 * pi * frequency * np.arange(count) + 0.7 * (dimensions - 1))
    shown -= shown.mean()
    assert np.allclose(waves.T @ (waves @ shown), shown)
    # root mean square of what lies in the span
    assert phases._amplitude(list(3 * shown + 11), frequency) == pytest.approx(3 * shown.std())


def excess(means, error, frequency):
    count = len(means)
    at = 2 * pi * frequency * np.arange(count)
    basis = np.stack([np.cos(at), np.sin(at)])[: 1 if frequency == 0.5 else 2].T
    basis = basis - basis.mean(0)
    fitted = basis @ np.linalg.lstsq(basis, means, rcond=None)[0]
    size = np.sqrt((fitted**2).mean())
    return min(size / phases.LEAST_SHARE, size / np.hypot(error, 0.006) / 1.5)


@pytest.mark.parametrize("frequency", [0.5, 0.25, 0.375])
@pytest.mark.parametrize("alone", [False, True])
def test_the_excess_is_a_rhythm_beyond_its_limits(frequency, alone):
    """First differences for every second pixel, second differences for the others."""
    rng = np.random.default_rng(8)
    ours, theirs = ((list(rng.uniform(3, 5, 160)), list(rng.uniform(3, 5, 160))) for _ in range(2))
    which, inside = (0, 7) if frequency == 0.5 else (1, 6)
    means, error = phases.block_means(ours[which], inside)
    if alone:
        others, more = phases.block_means(theirs[which], inside)
        means, error = np.subtract(means, others), np.hypot(error, more)
    found = phases._excess(ours, theirs if alone else None, frequency)
    assert found == pytest.approx(excess(np.array(means), error, frequency))


def test_a_rhythm_that_compression_makes_alone_does_not_count():
    """Profiles handed in: one that alternates by a fifth, and what compression makes alone."""
    lively = [5.0, 4.0] * 80
    plain = [4.5] * 160
    shown, picture = [(lively, plain)] * 2, gray(noise(1, 100, 200))
    seen = []

    def profiles(again):
        seen.append(again.size)
        return [(plain, plain)] * 2

    score, frequency = phases.in_step(picture, shown, 90, profiles, (0.5, 0.25))
    assert frequency == 0.5
    means, error = phases.block_means(lively, 7)
    assert score == pytest.approx(excess(np.array(means), error, 0.5))
    assert seen == [(194, 97)]  # 0.97 of 200 x 100
    again = phases.in_step(picture, shown, 90, lambda _: shown, (0.5, 0.25))
    assert again == (0.0, 0.5)
    assert phases.in_step(picture, [(plain, plain)] * 2, 90, profiles, (0.5,)) == (0.0, 0.0)
    # a rhythm of columns that the rows do not share
    assert phases.in_step(picture, [shown[0], (plain, plain)], 90, profiles, (0.5,)) == (0.0, 0.0)


# The squares that are looked at


@pytest.mark.parametrize(("width", "height"), [(300, 260), (256, 128), (130, 129)])
def test_detail_of_squares_is_numpys(width, height):
    values = noise(3, height, width) // np.linspace(1, 9, width).astype(int)
    found = mosaic.detail_squares(gray(values), 128)
    expected = []
    columns, rows = width // 128, height // 128
    area = values[: rows * 128, : columns * 128]
    moved = np.abs(area - np.roll(area, 1, axis=1))  # the first column is compared with the last
    for y in range(rows):
        for x in range(columns):
            part = moved[y * 128 : (y + 1) * 128, x * 128 : (x + 1) * 128]
            expected.append((part.mean(), x * 128, y * 128))
    expected.sort(key=lambda square: -square[0])
    assert np.allclose(found, expected, rtol=1e-5)


@pytest.mark.parametrize(
    ("width", "height", "side", "number"),
    [(127, 63, 64, 0), (64, 64, 64, 1), (255, 256, 64, 12), (384, 128, 64, 12), (256, 256, 128, 4),
     (512, 128, 128, 4), (640, 640, 128, 16)],
)  # fmt: skip
def test_squares_by_hand(width, height, side, number):
    """Four squares of 128 px or more, else of 64; at most as many as fill 512 x 512 px."""
    found = mosaic.choose_squares(gray(noise(1, height, width)))
    assert (found[0], len(found[1])) == (side, number)


def test_equal_squares_are_taken_from_the_top_row_by_row():
    rows = np.tile([[0, 9], [0, 9]], (128, 128))
    assert [(x, y) for _, x, y in mosaic.detail_squares(gray(rows), 128)] == [
        (0, 0), (128, 0), (0, 128), (128, 128)]  # fmt: skip


@pytest.mark.parametrize(("step", "told"), [(0, False), (1, True)])
def test_a_plain_square_says_nothing(step, told):
    """Every second pixel one brighter: a mean difference of 1; half a code value is asked for."""
    found = mosaic.choose_squares(gray(np.tile([40, 40 + step], (64, 32))))
    assert bool(found[1]) == told


@pytest.mark.parametrize(
    ("number", "across", "down"), [(1, 1, 1), (2, 1, 2), (3, 1, 3), (4, 2, 2), (5, 2, 2), (7, 2, 3), (8, 2, 4), (9, 3, 3), (15, 3, 5), (16, 4, 4)]
)  # fmt: skip
def test_squares_are_put_side_by_side(number, across, down):
    values = noise(2, 64, 16 * 9)
    corners = [(16 * ((5 * i) % 9), 16 * (i % 3)) for i in range(number)]
    sheet = np.asarray(mosaic.mosaic(gray(values), 16, corners))
    assert sheet.shape == (down * 16, across * 16)
    for i, (x, y) in enumerate(corners[: across * down]):
        top, left = i // across * 16, i % across * 16
        assert (sheet[top : top + 16, left : left + 16] == values[y : y + 16, x : x + 16]).all()


@pytest.mark.parametrize(
    ("size", "start", "kept"),
    [((2048, 2048), (0, 0), (2048, 2048)), ((2079, 2048), (0, 0), (2079, 2048)),
     ((2080, 2048), (16, 0), (2048, 2048)), ((2100, 2112), (16, 32), (2048, 2048))],
)  # fmt: skip
def test_the_middle_begins_on_the_grid(size, start, kept):
    """Half of what is too much, down to a multiple of 16: 2080 - 2048 = 32, half 16."""
    picture = Image.new("RGB", size)
    picture.putpixel(start, (255, 0, 0))
    found = history._middle(picture)
    assert found.size == kept
    assert found.getpixel((0, 0)) == (255, 0, 0)


# Saved again


@pytest.mark.parametrize(("before", "at", "after"), [(9, 3, 4), (2, 2, 2), (0, 5, 1), (1, 0, 1)])
def test_a_dip_is_the_logarithm_below_the_geometric_mean(before, at, after):
    """9, 3, 4: log(sqrt(36) / 3) = log 2; nothing counts below a thousandth."""
    before, at, after = (max(value, 1e-3) for value in (before, at, after))
    assert resaved.dip(before, at, after) == pytest.approx(log((before * after) ** 0.5 / at))


def test_a_dip_by_hand():
    assert resaved.dip(9, 3, 4) == pytest.approx(log(2))
    assert resaved.dip(1, 0, 1) == pytest.approx(log(1000))


def test_the_plain_share_is_numpys():
    values = noise(5, 40, 60) // 60
    plain = np.abs(values - np.roll(values, 1, axis=1)) <= 1
    assert resaved.plain_share(gray(values)) == pytest.approx(plain.mean())


def test_candidates_lie_apart():
    """By depth: 60; 61 and 62 are too near; 75, 63, 50; the fifth is not looked at."""
    dips = dict.fromkeys(range(40, 80), 0.0) | {60: 9, 61: 8, 62: 7, 75: 6, 63: 5, 50: 4, 70: 3}
    assert resaved._candidates(dips) == [60, 75, 63, 50]


def test_squares_are_moved_by_half_a_block_where_there_is_room():
    values = noise(6, 80, 96)
    found = resaved._moved(gray(values), 64, [(0, 0), (32, 0), (0, 16), (30, 14)], 100)
    starts = [(4, 4), (32, 4), (4, 16), (32, 16)]
    expected = np.block([
        [values[y : y + 64, x : x + 64] for x, y in starts[:2]],
        [values[y : y + 64, x : x + 64] for x, y in starts[2:]],
    ])  # fmt: skip
    assert np.abs(np.asarray(found, int) - expected).mean() < 1.5  # quality 100


@pytest.mark.parametrize("first", [50, 70])
def test_the_score_is_the_dip_beyond_the_moved_pictures(first):
    """Farid 2009: the change at each quality, two steps to each side; here done anew with numpy."""
    picture = as_jpeg(as_jpeg(photograph(384, 256).convert("L"), first), 90)

    def change(sheet, quality):
        again = as_jpeg(sheet, quality)
        return ((np.asarray(sheet, float) - np.asarray(again, float)) ** 2).mean()

    def dip(sheet, quality):
        before, at, after = (change(sheet, quality + step) for step in (-2, 0, 2))
        return log((before * after) ** 0.5 / at)

    side, corners = mosaic.choose_squares(picture)
    found = resaved.resaved(picture, side, corners, 90)
    assert found["first-quality"] == first
    sheet = mosaic.mosaic(picture, side, corners[:4])
    moved = as_jpeg(mosaic.mosaic(picture, side, [
        (min(x + 4, 384 - side), min(y + 4, 256 - side)) for x, y in corners[:4]]), 90)  # fmt: skip
    assert found["score"] >= round(dip(sheet, first) - dip(moved, first), 4) - 1e-4
    assert found["score"] <= dip(sheet, first) * 2


def test_the_margin_to_the_last_quality():
    """Looked for from 40 on, up to 5 below the last: 45 leaves one candidate, 44 none."""
    picture = photograph(256, 256).convert("L")
    side, corners = mosaic.choose_squares(picture)
    assert resaved.resaved(picture, side, corners, 44)["undecided"]
    assert resaved.resaved(picture, side, corners, 44.6)["undecided"] is None


# Cut out of a JPEG


def test_the_mirror_image_of_a_shift():
    """By hand, x + 8 y: (3, 5) to (5, 3), (0, 1) to (0, 7), (4, 4) to itself."""
    pairs = {3 + 40: 5 + 24, 8: 56, 1: 7, 4 + 32: 4 + 32, 4: 4, 32: 32, 0: 0}
    assert {shift: cropped._mirror(shift) for shift in pairs} == pairs


@pytest.mark.parametrize("period", cropped.PERIODS)
def test_tables_turn_a_sum_into_its_cosine(period):
    """Half of a block's sum s: the coefficient is s / 4 - 1024, folded by the period."""
    low, high, wave = cropped._tables(period)
    for half in range(0, 8161, 7):
        folded = min(255, low[half % 256] + high[half // 256])
        if half % 32 == 0:  # one flat tone: 64 equal samples, half their sum
            assert wave[folded] == 128
        else:
            expected = cos(2 * pi * (half / 4 - 1024) / period)
            assert (wave[folded] - 128) / 127 == pytest.approx(expected, abs=0.0045)


@pytest.mark.parametrize("period", [3, 10, 16])
def test_the_own_period_counts_every_block_at_the_corner(period):
    values = noise(7, 72, 80)
    values[:8, :8] = 90
    sums = values[:64, :72].reshape(8, 8, 9, 8).sum((1, 3)) // 2
    expected = abs(np.cos(2 * pi * (sums / 4 - 1024) / period).mean())
    found = cropped.own_period(cropped.block_sums(gray(values)), period)
    assert found == pytest.approx(expected, abs=1e-6)


def test_the_strongest_shift_stands_out_against_its_mirror_image():
    """Gaps of all 30 pairs are 0.02 or, at (3, 5), 0.5: the spread is 0.02 / 0.6745."""
    strengths = [0.0] * 64
    for shift in range(1, 64):
        strengths[shift] = 0.02 if shift < cropped._mirror(shift) else 0.0
    strengths[3 + 40] = 0.52
    score, at = cropped._strongest(strengths, 0.1)
    against = strengths[cropped._mirror(3 + 40)]
    assert at == 3 + 40
    assert score == pytest.approx((0.52 - against) / (0.02 / 0.6745 + 1e-4))


@pytest.mark.parametrize("own", [0.0, 0.3])
def test_a_shift_that_is_its_own_mirror_image_is_held_against_the_files_grid(own):
    strengths = [0.01] * 64
    strengths[0], strengths[4] = 0.2, 0.9
    score, at = cropped._strongest(strengths, own)
    assert at == 4
    assert score == pytest.approx((0.9 - 0.01 - max(own, 0.2)) / 1e-4)


def test_the_least_number_of_blocks():
    """256 blocks of 8 x 8 are 16,384 px: one square of 128 px, or four of 64."""
    picture = photograph(256, 256).convert("L")
    corners = [(0, 0), (64, 0), (0, 64), (64, 64)]
    assert cropped.cropped(picture, 128, corners[:1])["undecided"] is None
    assert cropped.cropped(picture, 64, corners)["undecided"] is None
    assert cropped.cropped(picture, 64, corners[:3])["undecided"]
