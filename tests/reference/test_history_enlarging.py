"""Steps of looking for the rhythm of enlarging, against numpy and on rhythms made by hand."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from PIL import Image

from pytest_webdeliverable.measure.history import enlarged
from pytest_webdeliverable.measure.history.spectrum import flattened, powers, relative


def gray(array):
    return Image.fromarray(np.clip(np.rint(array), 0, 255).astype(np.uint8))


def spectrum(along, down, size):
    return powers(flattened(along, size), flattened(down, size))


def test_strength_is_shared_by_columns_and_rows():
    """Geometric mean of a bin and the strongest of three of the rows; 1.5 is asked for in both."""
    along = [4.0, 1.5, 9.0, 16.0, 2.0]
    down = [1.0, 4.0, 1.0, 1.0, 1.6]
    expected = [(4 * 4) ** 0.5, 0.0, (9 * 4) ** 0.5, (16 * 1.6) ** 0.5, (2 * 1.6) ** 0.5]
    assert enlarged._shared(along, down) == pytest.approx(expected)
    assert enlarged._shared([9.0], [1.5]) == [0.0]


@pytest.mark.parametrize("seed", range(3))
def test_the_alternation_is_the_end_over_the_median_before(seed):
    """The strongest of the last 3 bins, over the upper median from the middle to 8 before the end."""
    power = np.random.default_rng(seed).uniform(1, 9, 65)
    power[-3 - seed % 2] = 400.0
    before = np.sort(power[32:57])
    expected = np.sqrt(max(power[62:]) / before[12])
    assert enlarged._alternation(list(power)) == pytest.approx(expected)


@pytest.mark.parametrize(("columns", "rows", "size"), [(200, 130, 128), (256, 255, 128), (3000, 2048, 1024), (128, 128, 128)])  # fmt: skip
def test_spectra_are_as_long_as_both_sides_allow(columns, rows, size):
    along, down = (list(np.random.default_rng(n).uniform(1, 2, n)) for n in (columns, rows))
    found = enlarged._spectra(along, down)
    assert [len(power) for power in found] == [size // 2 + 1] * 2
    assert np.allclose(found, spectrum(along, down, size))


def profile(frequency, strength, seed, length=256):
    """A noisy row of numbers that swings at one frequency, cycles per px."""
    noise = np.random.default_rng(seed).normal(0, 0.05, length)
    return list(5 + noise + strength * np.cos(2 * pi * frequency * np.arange(length)))


def shared(frequency, strength):
    along, down = (profile(frequency, strength, seed) for seed in (1, 2))
    power = spectrum(along, down, 256)
    return along, down, enlarged._shared(*map(relative, power))


@pytest.mark.parametrize("frequency", [24 / 256, 52 / 256, 112 / 256])
def test_a_rhythm_out_of_step_with_blocks_is_found_at_its_frequency(frequency):
    along, down, strengths = shared(frequency, 0.5)
    plain = profile(0.3, 0.0, 5)
    found = enlarged.rhythm([(plain, along), (plain, down)])
    assert found["frequency"] == frequency
    assert found["free"] == pytest.approx(strengths[round(frequency * 256)])
    assert found["free"] > 5
    assert max(found["grid"]) < 3


@pytest.mark.parametrize(
    ("bins", "free"),
    [(20, False),
        (21, True), (22, True), (28, True), (29, False), (32, False), (35, False), (36, True),
     (60, True), (61, False), (67, False), (68, True), (93, False), (92, True), (100, True)],
)  # fmt: skip
def test_what_counts_as_in_step_with_blocks(bins, free):
    """From bin 21 on (0.085 cycles of 256 px), and at least 4 bins beside 32, 64, 96 and 128."""
    strengths = [0.0] * 129
    strengths[bins] = 50.0
    along = profile(0.3, 0.0, 5)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(enlarged, "_shared", lambda *_: strengths)
        found = enlarged.rhythm([(along, along), (along, along)])
    assert (found["free"] == 50.0) == free
    assert found["frequency"] == (bins / 256 if free else 0.0)
    grid = [50.0 if abs(bins - 32 * k) <= 3 else 0.0 for k in (1, 2, 3)]
    assert found["grid"] == grid


def test_the_alternation_is_the_weaker_of_both_directions():
    loud, quiet = profile(0.5, 0.8, 1), profile(0.5, 0.3, 2)
    plain = profile(0.3, 0.0, 5)
    found = enlarged.rhythm([(loud, plain), (quiet, plain)])
    powers_ = spectrum(loud, quiet, 256)
    assert found["alternation"] == pytest.approx(min(map(enlarged._alternation, powers_)))
    assert found["alternation"] > 4.5


@pytest.mark.parametrize(
    ("grid", "alternation", "expected"),
    [
        ([0.0, 10.0, 24.0], 9.0, [9 / 12 / 4.5, 10 / 12 / 5, 24 / 12]),
        ([8.0, 10.0, 24.0], 9.0, [9 / 12 / 4.5, 10 / 12 / 5, 24 / 8 / 12]),
        ([1.0, 10.0, 1.0], 9.0, [2.0, 2.0, 1 / 12]),
        ([6.0, 10.0, 1.0], 9.0, [9 / 3 / 4.5, 10 / 3 / 5, 1 / 6 / 12]),
    ],
)
def test_rhythms_must_stand_out_from_those_of_blocks(grid, alternation, expected):
    """Each over the others' (half, and 1 at least) and its limit: 4.5, 5 and 12."""
    rhythm = {"free": 0.0, "frequency": 0.0, "grid": grid, "alternation": alternation}
    found = enlarged._without_blocks(rhythm)
    assert [score for score, _ in found] == pytest.approx(expected)
    assert [frequency for _, frequency in found] == [0.5, 0.25, 0.375]


def test_means_of_columns_leave_out_the_last_rows():
    values = np.random.default_rng(1).integers(0, 256, (47, 20))
    assert enlarged._row_of_means(gray(values)) == pytest.approx(
        list(values[:32].mean(0)), rel=1e-5
    )


def test_profiles_are_those_of_columns_and_of_rows():
    values = np.random.default_rng(2).integers(0, 32, (64, 48))
    across, down = enlarged.profiles(gray(values))
    assert np.allclose(across[0], np.abs(np.diff(values, axis=1)).mean(0))
    assert np.allclose(down[0], np.abs(np.diff(values, axis=0)).mean(1))
    assert np.allclose(across[1], np.abs(np.diff(values, 2, axis=1)).mean(0))
    assert np.allclose(down[1], np.abs(np.diff(values, 2, axis=0)).mean(1))


def striped(period, swing, size=256, seed=3):
    """Noise with stripes both ways."""
    noise = np.random.default_rng(seed).normal(0, 12, (size, size))
    wave = swing * np.cos(2 * pi * np.arange(size) / period)
    return gray(128 + noise + wave + wave[:, None])


@pytest.mark.parametrize(("period", "repeats"), [(4, True), (5.5, True), (8, False), (16, False)])
def test_art_repeats_every_six_pixels_and_finer(period, repeats):
    """From 0.17 cycles per px on."""
    assert enlarged.art_repeats(striped(period, 40)) == repeats


@pytest.mark.parametrize(("side", "told"), [(127, False), (128, True)])
def test_repetition_needs_128_pixels(side, told):
    assert enlarged.art_repeats(striped(4, 40, side)) == told


@pytest.mark.parametrize(("swing", "repeats"), [(0, False), (30, True)])
def test_lightness_that_repeats_at_the_rhythms_distance(swing, repeats):
    art = striped(256 / 60, swing)
    assert enlarged._repeats_at(art, 60 / 256, 1.0) == repeats
    assert enlarged._repeats_at(art, 62 / 256, 1.0) == repeats  # two bins beside it
    assert not enlarged._repeats_at(art, 66 / 256, 1.0)
    strength = min(max(one[58:63]) for one in enlarged._lightness(art))
    # A fifth of the rhythm itself, which is 5.5 times its score.
    assert not enlarged._repeats_at(art, 60 / 256, 1.01 * strength / 0.2 / 5.5)
    assert enlarged._repeats_at(art, 60 / 256, 0.99 * strength / 0.2 / 5.5) == repeats


@pytest.mark.parametrize(("width", "height", "told"), [(129, 400, False), (130, 130, True)])
def test_the_least_size(width, height, told):
    noise = np.random.default_rng(4).integers(0, 256, (height, width))
    found = enlarged.enlarged(gray(noise), blocks="none", quality=None)
    assert (found["undecided"] is None) == told


@pytest.mark.parametrize(("step", "told"), [(1, False), (3, True)])
def test_the_least_detail(step, told):
    """A step every 16 px bends twice: 2 of 16 second differences of ``step``, an eighth of it."""
    stairs = np.arange(256) // 16 * step
    found = enlarged.enlarged(gray(stairs + stairs[:, None]), blocks="other", quality=None)
    assert ("too little fine detail" not in (found["undecided"] or "")) == told


def test_the_middle_of_a_large_picture_is_cut_on_the_blocks():
    """1700 - 1600 = 100, half 50, down to 48; a picture of up to 1600 px is taken whole."""
    noise = np.random.default_rng(6).integers(0, 256, (1618, 1700))
    seen = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(enlarged, "profiles", lambda middle: seen.append(middle) or [([0.0], [0.0])])
        enlarged.enlarged(gray(noise), blocks="none", quality=None)
    assert (np.asarray(seen[0]) == noise[8:1608, 48:1648]).all()


@pytest.mark.parametrize(
    ("blocks", "quality", "rhythm", "score", "factor"),
    [
        ("other", None, (8.25, 1 / 3), 1.5, 1.5),  # 8.25 / 5.5; 1 / (1 - 1/3)
        ("other", None, (5.5, 1 / 3), 1.0, None),
        ("none", None, (1.1, 1 / 3), 2.0, 2.0),  # the alternation, 9 / 4.5
        ("own", 90, (1.1, 1 / 3), 3.0, 1.33),  # in step, at 1/4
        ("own", None, (1.1, 1 / 3), 0.2, None),
        ("other", 90, (1.1, 1 / 3), 0.2, None),
    ],
)
def test_the_strongest_rhythm_decides(monkeypatch, blocks, quality, rhythm, score, factor):
    free, frequency = rhythm
    told = {"free": free, "frequency": frequency, "grid": [0.0] * 3, "alternation": 9.0}
    monkeypatch.setattr(enlarged, "rhythm", lambda _: told)
    monkeypatch.setattr(enlarged, "in_step", lambda *_: (3.0, 0.25))
    monkeypatch.setattr(enlarged, "_repeats_at", lambda *_: False)
    noise = gray(np.random.default_rng(6).integers(0, 256, (200, 200)))
    found = enlarged.enlarged(noise, blocks=blocks, quality=quality)
    assert found["score"] == pytest.approx(score)
    assert found["factor"] == factor
    assert found["found"] == (score > 1)
    assert found["threshold"] == 1.0
