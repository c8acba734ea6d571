"""Sliding sums and the tally of changes, held against plain loops."""

from __future__ import annotations

import random

import numpy as np
import pytest
from PIL import Image

from pytest_webdeliverable.measure import flash_area
from pytest_webdeliverable.measure.flash import Film, count_flashes
from pytest_webdeliverable.measure.flash_area import Tally


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("length", [1, 2, 3, 5, 8, 13])
def test_sliding_sums_are_sums_of_neighbors(axis, length):
    values = np.random.default_rng(length).integers(0, 9, (13, 13)).astype(np.float32)
    found = np.asarray(flash_area._sliding_sum(Image.fromarray(values), length, axis))
    padded = np.pad(values, ((0, length), (0, length)))
    along = 1 - axis
    expected = sum(np.roll(padded, -shift, axis=along)[:13, :13] for shift in range(length))
    # np.roll brings zeros of the padding in from the far side.
    assert np.array_equal(found, expected)


def brute_force(masks, times, cell, least):
    """Highest number of changes in one second that enough cells of one field share, by loops."""
    height, width = masks[0].shape
    field = round(flash_area.FIELD[0] / cell), round(flash_area.FIELD[1] / cell)
    best = 0
    for end in range(len(times)):
        count = sum(
            mask for mask, at in zip(masks, times, strict=True) if 0 <= times[end] - at < 1000
        )
        for top in range(max(1, height - field[1] + 1)):
            for left in range(max(1, width - field[0] + 1)):
                window = count[top : top + field[1], left : left + field[0]]
                for changes in range(max(best, 1) + 1, int(window.max()) + 1):
                    if (window >= changes).sum() * cell * cell >= least:
                        best = changes
    return best / 2


@pytest.mark.parametrize("seed", range(8))
def test_the_tally_finds_what_loops_find(seed):
    rng = np.random.default_rng(seed)
    random.seed(seed)
    cell = 34.0
    masks = [(rng.random((12, 17)) < rng.uniform(0.1, 0.9)).astype(np.uint8) for _ in range(14)]
    times = sorted(random.sample(range(2500), 14))
    least = 34 * 34 * random.randint(5, 30)
    tally = Tally((cell, cell), least, (17, 12))
    for mask, at in zip(masks, times, strict=True):
        tally.add(Image.fromarray(mask), at)
    assert tally.facts(10_000)["flashes_per_second"] == brute_force(masks, times, cell, least)


def one_place(values, least=0.1, below=0.8):
    """Changes of one place, by the words of the definition: turn at each extreme."""
    changes, direction = [], 0
    low = high = extreme = values[0]
    for number, now in enumerate(values):
        if direction == 0:
            low, high = min(low, now), max(high, now)
            if now - low >= least and low < below:
                direction, extreme = 1, now
                changes.append(number)
            elif high - now >= least and now < below:
                direction, extreme = -1, now
                changes.append(number)
        elif (now - extreme) * direction > 0:
            extreme = now
        elif abs(now - extreme) >= least and min(now, extreme) < below:
            direction, extreme = -direction, now
            changes.append(number)
    return changes


@pytest.mark.parametrize("seed", range(12))
def test_whole_pictures_count_as_single_places_do(seed):
    rng = random.Random(seed)
    codes = [rng.choice((0, 60, 89, 90, 128, 200, 231, 232, 255)) for _ in range(20)]
    milliseconds = [rng.choice((20, 50, 110, 170)) for _ in codes]
    frames = [Image.new("RGB", (200, 200), (code, code, code)) for code in codes]
    found = count_flashes(Film(frames=frames, milliseconds=milliseconds, endless=False))[0]
    linear = [
        (code / 255 / 12.92 if code / 255 <= 0.04045 else ((code / 255 + 0.055) / 1.055) ** 2.4)
        for code in codes
    ]
    starts = [sum(milliseconds[:number]) for number in range(len(codes))]
    times = [starts[number] for number in one_place(linear)]
    most = max((sum(0 <= end - at < 1000 for at in times) for end in times), default=0)
    assert found["flashes_per_second"] == (most / 2 if most > 1 else 0)


def test_one_frame_cannot_flash():
    film = Film(frames=[Image.new("RGB", (400, 400))], milliseconds=[100], endless=True)
    assert count_flashes(film) == (flash_area.NO_FLASH, flash_area.NO_FLASH)
