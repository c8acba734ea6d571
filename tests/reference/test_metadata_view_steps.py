"""Single steps of comparing a preview with its picture, against numpy, scikit-image and by hand."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from PIL import Image
from skimage.exposure import match_histograms

from pytest_webdeliverable.measure.metadata import view
from pytest_webdeliverable.measure.metadata.correlation import Grid
from pytest_webdeliverable.measure.metadata.view import ViewMatch


def gray(array):
    return Image.fromarray(np.clip(np.rint(array), 0, 255).astype(np.uint8))


def noise(seed, *shape):
    return np.random.default_rng(seed).integers(0, 256, shape)


# Boxes


@pytest.mark.parametrize(
    ("outer", "inner", "box"),
    [
        ((160, 120), (900, 600), (0, 6.6667, 160, 113.3333)),  # 160 / 900 x 600 = 106.67
        ((160, 120), (600, 900), (40, 0, 120, 120)),
        ((160, 120), (16, 12), (0, 0, 160, 120)),
    ],
)
def test_the_largest_centered_box(outer, inner, box):
    assert view._inner_box(outer, inner) == pytest.approx(box, abs=1e-3)


def test_a_box_is_kept_inside():
    assert view._kept(-0.5, -0.25, 10, 9, (8, 30)) == (0, 0, 8, 9)
    assert view._kept(2, 3, 4, 5, (30, 30)) == (2, 3, 6, 8)
    assert view._kept(2, 3, 40, 50, (30, 31)) == (2, 3, 30, 31)


@pytest.mark.parametrize(
    ("room", "size", "places"),
    [
        (0.0, 100, [0.0]),
        (0.4, 100, [0.2]),
        (0.5, 6, [0.0, 0.5]),
        (10, 60, [0, 5, 10]),  # 10 / 60 x 12 = 2 steps
        (11, 60, [0, 11 / 3, 22 / 3, 11]),  # 2.2, so 3
        (100, 10, [100 * i / 24 for i in range(25)]),  # 120, at most 24
    ],
)
def test_places_of_a_part(room, size, places):
    assert view._steps(room, size) == pytest.approx(places)


def test_parts_of_the_pictures_shape_from_large_to_small():
    """The same shape: 97 % down to 97 % x 0.95^13 = 49.8 %, all inside, each as wide as 3:2."""
    boxes = list(view._parts((150, 100), (900, 600)))
    widths = [round(right - left, 6) for left, _, right, _ in boxes]
    sizes = sorted(set(widths), reverse=True)
    assert sizes == pytest.approx([150 * 0.97 * 0.95**step for step in range(14)], abs=1e-5)
    assert widths == sorted(widths, reverse=True)
    for left, top, right, bottom in boxes:
        assert 0 <= left < right <= 150
        assert 0 <= top < bottom <= 100
        assert (right - left) / (bottom - top) == pytest.approx(1.5)
    first = [box for box in boxes if box[2] - box[0] > 145]
    # 4.5 and 3 px of room: 4.5 / 145.5 x 12 = 0.37, so at both ends
    assert first == [pytest.approx((x, y, x + 145.5, y + 97)) for x, y in product((0, 4.5), (0, 3))]


@pytest.mark.parametrize(
    ("size", "whole"), [((150, 102), False), ((150, 104), True), ((154, 98), True)]
)
def test_a_preview_of_another_shape_is_also_searched_at_full_size(size, whole):
    """3:2 in 150 x 102 fills 98 % of it, in 150 x 104 96 %: 97 % counts as the same shape."""
    first = next(iter(view._parts(size, (900, 600))))
    full = min(size[0], size[1] * 1.5)
    assert (first[2] - first[0] == pytest.approx(full)) == whole


def test_neighbors_are_half_a_step_away():
    found = list(view._near((30.0, 20.0, 90.0, 60.0), (200, 150)))
    expected = []
    for scale, across, down in product((0.975, 1.0, 1.025), (-0.5, 0.0, 0.5), (-0.5, 0.0, 0.5)):
        width, height = 60 * scale, 40 * scale
        x = 60 - width / 2 + across * width / 12
        y = 40 - height / 2 + down * height / 12
        expected.append((x, y, x + width, y + height))
    assert found == [pytest.approx(box) for box in expected]


def test_neighbors_stay_inside():
    for left, top, right, bottom in view._near((60.0, 0.0, 100.0, 50.0), (100, 50)):
        assert 0 <= left < right <= 100
        assert 0 <= top < bottom <= 50
    boxes = list(view._near((60.0, 10.0, 100.0, 50.0), (100, 50)))
    assert boxes[-1] == pytest.approx((59, 9, 100, 50))  # 41 px, at the far corner


@pytest.mark.parametrize(
    ("box", "size", "across", "down"),
    [((40.0, 0.0, 120.0, 120.0), (160, 120), 1, 0), ((0.0, 6.5, 160.0, 113.5), (160, 120), 0, 1)],
)
def test_views_between_bars_are_nudged_along_the_bars_side(box, size, across, down):
    expected = []
    for shift, growth in product((-0.5, 0.0, 0.5), repeat=2):
        left, top = box[0] + across * (shift - growth), box[1] + down * (shift - growth)
        right = box[2] + across * (shift + growth)
        bottom = box[3] + down * (shift + growth)
        expected.append((left, top, right, bottom))
    assert list(view._nudged(box, size)) == [pytest.approx(one) for one in expected]


def test_boxes_in_whole_pixels():
    assert view._whole_pixels((0.2, 0.0, 10.6, 0.3)) == (10, 1)
    assert view._whole_pixels((0.0, 0.2, 0.3, 10.8)) == (1, 11)
    values = noise(1, 12, 20)
    assert (np.asarray(view._cut(gray(values), (3.4, 2.6, 9.5, 7.4))) == values[3:7, 3:10]).all()
    assert view._cut(gray(values), (3.4, 2.6, 3.4, 2.6)).size == (1, 1)


@pytest.mark.parametrize(
    ("left", "right", "bars"),
    [(0, 0, True), (48, 48, True), (49, 0, False), (0, 49, False), (255, 255, False)],
)
@pytest.mark.parametrize("upright", [False, True])
def test_bars_are_dark_on_both_sides(left, right, bars, upright):
    values = np.full((30, 40), 200)
    values[:, :6], values[:, 33:] = left, right
    box = (6.0, 0.0, 33.0, 30.0)
    if upright:
        values, box = values.T, (0.0, 6.0, 30.0, 33.0)
    assert view._has_dark_bars(gray(values), box) == bars


def test_no_bars_are_no_dark_bars():
    assert not view._has_dark_bars(Image.new("L", (40, 30)), (0.0, 0.0, 40.0, 30.0))


# Tones


@pytest.mark.parametrize("seed", range(4))
def test_levels_are_matched_as_scikit_image_does(seed):
    """match_histograms interpolates between levels; to a level or two it is the same map."""
    rng = np.random.default_rng(seed)
    one = rng.normal(120, 40, (64, 64)).clip(0, 255).astype(np.uint8)
    other = (rng.beta(2, 4, (64, 64)) * 255).astype(np.uint8)
    found = np.asarray(view._same_tones(gray(one), gray(other)), float)
    difference = found - match_histograms(one, other)
    assert np.abs(difference).mean() < 1.0
    assert abs(difference.mean()) < 0.6


def test_levels_by_hand():
    """Half 10, half 20 onto half 50, a quarter 90 and a quarter 91: the middle of the upper half."""
    one = gray([[10, 10, 20, 20]])
    assert list(view._same_tones(one, gray([[50, 50, 90, 91]])).tobytes()) == [50, 50, 91, 91]
    assert list(view._same_tones(one, gray([[50, 50, 50, 91]])).tobytes()) == [50, 50, 91, 91]
    assert list(view._same_tones(one, gray([[255, 255, 255, 255]])).tobytes()) == [255] * 4


@pytest.mark.parametrize("seed", range(3))
def test_contrast_and_brightness_are_the_regression(seed):
    rng = np.random.default_rng(seed)
    one = rng.integers(0, 256, (32, 32))
    other = np.clip(np.rint(0.4 * one + 70 + rng.normal(0, 9, one.shape)), 0, 255)
    gain, offset = np.polyfit(one.ravel(), other.ravel(), 1)
    found = np.asarray(view._linear(Grid(gray(one)), Grid(gray(other))), float)
    assert np.abs(found - np.clip(gain * one + offset, 0, 255)).max() <= 0.51


def regional(one, other):
    """The kinder of two ways; 8 x 8 regions of 4 x 4 cells; the largest and the 49th of 64."""
    scale = max(one.std(), 3.0)
    results = []
    for toned in (view._same_tones(gray(other), gray(one)), view._linear(Grid(gray(other)), Grid(gray(one)))):  # fmt: skip
        apart = np.abs(np.asarray(toned, float) - one)
        regions = np.sort(np.floor(apart.reshape(8, 4, 8, 4).mean((1, 3)) + 0.5).ravel())
        results.append((regions[-1] / scale, regions[48] / scale))
    return min(results)


@pytest.mark.parametrize("seed", range(4))
def test_the_difference_by_region(seed):
    rng = np.random.default_rng(seed)
    one = rng.integers(0, 256, (32, 32))
    other = np.clip(one + rng.normal(0, 20, one.shape), 0, 255).round()
    other[8:16, 4:12] = 30 * seed
    found = view._regional(Grid(gray(one)), Grid(gray(other)))
    assert found == pytest.approx(regional(one, other), abs=1.01 / one.std())


def test_flat_pictures_are_divided_by_three_levels():
    one, other = np.full((32, 32), 100), np.full((32, 32), 100)
    one[8:12, 8:12] = 101
    assert view._regional(Grid(gray(one)), Grid(gray(other)))[0] == pytest.approx(1 / 3, abs=0.01)


@pytest.mark.parametrize(("apart", "whole"), [(0, 1.0), (32, 0.85), (64, 0.7), (128, 0.4)])
def test_flat_colors_64_levels_apart_are_at_the_limit(apart, whole):
    """1 - 0.3 x apart / 64; the band that is farthest apart counts."""
    one, other = (Image.new("RGB", (40, 30), (20, 100, level)) for level in (90, 90 + apart))
    assert view._flat(one, other) == pytest.approx(whole)
    assert view._flat(other, one) == pytest.approx(whole)


@pytest.mark.parametrize(("step", "told"), [(6, True), (7, False)])
def test_flat_is_three_levels_of_deviation(step, told):
    """Half 100, half 100 + step: the deviation is half the step."""
    values = np.full((32, 32), 100)
    values[:16] += step
    assert (view._flat(gray(values), gray(values)) is not None) == told


# The verdict


@pytest.mark.parametrize(
    ("match", "same"),
    [
        (ViewMatch(0.70, 0.0, 0.0, 0.0), True),
        (ViewMatch(0.69, 0.0, 0.0, 0.0), False),
        # 1 - 0.9 = 0.1 against 1.7 (1 - part) + 0.005: 0.095 / 1.7 = 0.0559
        (ViewMatch(0.9, 0.943, 0.0, 0.0), True),
        (ViewMatch(0.9, 0.945, 0.0, 0.0), False),
        (ViewMatch(0.9, 0.9, 0.85, 0.0), True),
        (ViewMatch(0.9, 0.9, 0.86, 0.0), False),
        (ViewMatch(0.9, 0.9, 0.86, 0.215), True),  # 4 x 0.215 = 0.86
        (ViewMatch(0.9, 0.9, 0.87, 0.215), False),
        (ViewMatch(0.9, 0.9, 0.4, 0.0), True),
    ],
)
def test_the_contest(match, same):
    assert match.same == same
    assert match.difference == pytest.approx(1 - match.whole)


@pytest.mark.parametrize(("whole", "difference"), [(1.2, 0.0), (-0.5, 1.0), (0.25, 0.75)])
def test_the_difference_runs_from_0_to_1(whole, difference):
    assert ViewMatch(whole, 0.0, 0.0, 0.0).difference == difference


# What is compared with what


def test_a_part_of_the_preview_fits_better_than_all_of_it():
    """A crop to 90 % of blobs fits that part of the preview to a cell."""
    whole = gray(128 + 50 * np.random.default_rng(5).normal(0, 1, (8, 12)))
    whole = whole.resize((360, 240), Image.Resampling.BICUBIC)
    part = whole.crop((18, 12, 342, 228))
    match = view.same_view(part.convert("RGB"), whole.resize((180, 120)).convert("RGB"))
    assert match.whole > 0.5
    assert match.part > 0.98
    assert match.part > match.whole


def test_pairs_of_a_preview_with_bars():
    """As it is, nine views between the bars, and no middle: the shapes of picture and view differ."""
    picture = gray(noise(6, 100, 150))
    canvas = Image.new("L", (160, 120))
    canvas.paste(picture.resize((160, 107)), (0, 6))
    pairs = list(view._pairs(picture, canvas))
    assert [other.size for _, other in pairs[:2]] == [(160, 120), (160, 106)]
    # 4:3 out of 150 x 100 is 133 x 100
    assert [one.size for one, _ in pairs] == [(150, 100)] * 10 + [(134, 100)]
    assert [one.size for one, _ in view._pairs(picture, picture)] == [(150, 100)]
