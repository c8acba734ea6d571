"""Steps of counting flashes: colors against colour-science, places followed one by one in plain Python."""

from __future__ import annotations

import warnings
from itertools import pairwise

import numpy as np
import pytest
from PIL import Image

from pytest_webdeliverable.measure import flash
from pytest_webdeliverable.measure.flash import Film, count_flashes
from pytest_webdeliverable.measure.flash_area import NO_FLASH, Tally, _sliding_sum

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    colour = pytest.importorskip("colour")

RGB_TO_XYZ = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
)
"""IEC 61966-2-1, four digits as printed there."""


def linear(codes):
    values = np.asarray(codes) / 255
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def chromaticity(light):
    x, y, z = np.moveaxis(light @ RGB_TO_XYZ.T, -1, 0)
    return np.stack([4 * x, 9 * y], -1) / (x + 15 * y + 3 * z)[..., None]


def values(picture):
    return np.asarray(picture, float)


def test_red_and_white_are_where_the_standard_has_them() -> None:
    """IEC 61966-2-1: red at x 0.64, y 0.33; white at 0.3127, 0.3290; CIE 1976 u', v' to 4 digits."""
    for found, xy in ((flash._RED_UV, (0.64, 0.33)), (flash._WHITE_UV, (0.3127, 0.3290))):
        assert found == pytest.approx(tuple(colour.xy_to_Luv_uv(xy)), abs=6e-5)


def test_the_chroma_of_random_colors() -> None:
    codes = np.random.default_rng(1).integers(0, 256, (16, 16, 3)).astype(np.uint8)
    codes[0] = np.random.default_rng(2).integers(0, 12, (16, 3))
    found = flash._chroma(Image.fromarray(codes))
    light = linear(codes)
    total = light.sum(-1)
    black = total < 0.02
    with np.errstate(invalid="ignore"):
        expected = np.where(black[..., None], flash._WHITE_UV, chromaticity(light))
        share = light[..., 0] / total
    assert np.abs(values(found.u) - expected[..., 0]).max() < 2e-4
    assert np.abs(values(found.v) - expected[..., 1]).max() < 2e-4
    far = ((expected - flash._RED_UV) ** 2).sum(-1)
    assert np.abs(values(found.far) - far).max() < 2e-4
    assert (values(found.red) == ((share >= 0.8) & ~black)).all()
    assert black.any()


@pytest.mark.parametrize(
    ("color", "red"),
    [
        ((255, 0, 0), True),
        ((255, 137, 0), False),  # linear G 0.2502: 1 / 1.25 is 0.79988
        ((255, 136, 0), True),  # 0.2462
        ((255, 0, 137), False),
        ((255, 0, 136), True),
        ((39, 0, 0), True),  # linear 0.0203: the darkest red that is not black
        ((38, 0, 0), False),  # 0.0194
    ],
)
def test_a_saturated_red_by_hand(color: tuple[int, int, int], red: bool) -> None:
    assert bool(values(flash._saturated(Image.new("RGB", (1, 1), color)))[0, 0]) == red


def followed_red(colors, times):
    """One place, in and out of saturated red, more than 0.2 apart in u'v' (WCAG 2.2)."""
    light = linear(colors)
    black = light.sum(-1) < 0.02
    with np.errstate(invalid="ignore"):
        uv = np.where(black[:, None], flash._WHITE_UV, chromaticity(light))
        red = (light[:, 0] >= 0.8 * light.sum(-1)) & ~black
    far = np.hypot(*(uv - flash._RED_UV).T)
    last, inside, changes = 0, red[0], []
    for now in range(1, len(colors)):
        if red[now] != inside:
            if np.hypot(*(uv[now] - uv[last])) > 0.2:
                changes.append(times[now])
                last, inside = now, red[now]
        elif (far[now] < far[last]) if inside else (far[now] > far[last]):
            last = now
    return changes


@pytest.mark.parametrize("seed", range(16))
def test_red_flashes_are_those_of_a_place_followed_by_hand(seed: int) -> None:
    rng = np.random.default_rng(seed)
    palette = [(255, 0, 0), (255, 64, 0), (255, 110, 0), (255, 255, 255), (0, 0, 0), (0, 0, 255),
               (200, 30, 30), (90, 0, 0), (255, 200, 120), (0, 255, 0), (255, 130, 90)]  # fmt: skip
    colors = [palette[at] for at in rng.integers(0, len(palette), 24)]
    times = [int(value) for value in np.cumsum([0, *rng.integers(20, 300, 23)])]
    changes = followed_red(colors, times)
    most = max(sum(start <= at < start + 1000 for at in changes) for start in changes)
    film = Film(
        frames=[Image.new("RGB", (2, 1), color) for color in colors],
        milliseconds=[later - start for start, later in pairwise([*times, times[-1] + 50])],
        endless=False, cell=(200.0, 100.0), least=21_824,
    )  # fmt: skip
    _, red = count_flashes(film)
    assert red["flashes_per_second"] == (most / 2 if most > 1 else 0)


# Areas and seconds


def test_no_more_than_one_field_counts() -> None:
    """WCAG 2.2: 341 x 256 CSS px are a field of 10 degrees: 87,296 px."""
    frames = [Image.new("RGB", (500, 400), color) for color in ("black", "white")]
    general, _ = count_flashes(Film(frames=frames, milliseconds=[100, 100], endless=True))
    assert general["area"] == 87_296


@pytest.mark.parametrize(
    ("size", "cell", "area"),
    [((60, 60), (10.0, 8.0), 34 * 32 * 80), ((3, 3), (341.0, 256.0), 87_296), ((2, 2), (900.0, 700.0), 630_000)],
)  # fmt: skip
def test_a_field_in_coarser_cells(size, cell, area) -> None:
    """341 / 10 is 34 cells, 256 / 8 is 32; a cell larger than the field is a field of its own."""
    frames = [Image.new("RGB", size, color) for color in ("black", "white")]
    film = Film(frames=frames, milliseconds=[100, 100], endless=True, cell=cell)
    assert count_flashes(film)[0]["area"] == area


@pytest.mark.parametrize(("later", "counts"), [(999, True), (1000, False)])
def test_a_second_is_a_thousand_milliseconds_without_its_end(later: int, counts: bool) -> None:
    tally = Tally((1.0, 1.0), 1.0, (3, 2))
    tally.add(Image.new("L", (3, 2), 1), 50)
    tally.add(Image.new("L", (3, 2), 1), 50 + later)
    expected = {"flashes_per_second": 1.0, "area": 6, "at": 0.05}
    assert tally.facts(10_000) == (expected if counts else NO_FLASH)


def test_the_worst_second_begins_within_the_animation() -> None:
    """At 2.5 s of one that lasts 2 s: half a second after it began anew."""
    tally = Tally((1.0, 1.0), 1.0, (1, 1))
    for now in (2500, 2600):
        tally.add(Image.new("L", (1, 1), 1), now)
    assert tally.facts(2000)["at"] == 0.5


def test_the_larger_area_counts_among_equal_rates() -> None:
    tally = Tally((2.0, 3.0), 6.0, (4, 1))
    few, many = (Image.frombytes("L", (4, 1), bytes(row)) for row in ((1, 0, 0, 0), (0, 1, 1, 1)))
    for now, mask in ((0, few), (100, few), (1500, many), (1600, many), (3000, few), (3100, few)):
        tally.add(mask, now)
    assert tally.facts(9000) == {"flashes_per_second": 1.0, "area": 18, "at": 1.5}


@pytest.mark.parametrize(("axis", "length"), [(0, 1), (0, 5), (0, 7), (1, 3), (1, 6)])
def test_sliding_sums_are_numpys(axis: int, length: int) -> None:
    numbers = np.random.default_rng(length).integers(0, 9, (6, 7)).astype(np.float32)
    found = values(_sliding_sum(Image.fromarray(numbers), length, axis))
    side = 1 - axis
    padded = np.pad(numbers, [(0, 6), (0, 7)])
    windows = np.lib.stride_tricks.sliding_window_view(padded, length, side).sum(-1)
    assert (found == windows[:6, :7]).all()


def test_two_frames_may_flash_and_one_may_not() -> None:
    frame = Image.new("RGB", (400, 300))
    assert count_flashes(Film(frames=[frame], milliseconds=[9], endless=True)) == (NO_FLASH,) * 2
    both = Film(frames=[frame, Image.new("RGB", frame.size, "red")], milliseconds=[90] * 2, endless=True)  # fmt: skip
    assert all(facts["flashes_per_second"] > 5 for facts in count_flashes(both))


@pytest.mark.parametrize(("color", "which"), [((255, 0, 0), 1), ((0, 0, 0), 0)])
def test_the_first_change_counts(color: tuple[int, int, int], which: int) -> None:
    """There and back again, once: one flash."""
    frames = [Image.new("RGB", (400, 300), one) for one in (color, (255, 255, 255), color)]
    found = count_flashes(Film(frames=frames, milliseconds=[100] * 3, endless=False))[which]
    assert (found["flashes_per_second"], found["at"]) == (1.0, 0.1)
