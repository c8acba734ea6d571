"""Single steps of playing an animation, against numpy and sums done by hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from header_files import animated_png
from PIL import Image

from pytest_webdeliverable.measure import motion, played
from pytest_webdeliverable.measure.flash import Film, count_flashes
from pytest_webdeliverable.measure.headers import read_header
from pytest_webdeliverable.measure.limits import Limits
from pytest_webdeliverable.measure.srgb import LUMINANCE_WEIGHTS

HEADER = read_header(animated_png(2))
OPEN = {"frames": 10**9, "frame_pixels": 10**15, "pixels": 10**12, "decode_bytes": 10**15}


@pytest.mark.parametrize(
    ("form", "side", "size", "frames"),
    [
        ("gif", 1000, 0, 142),  # 2 s / (1e6 px x 14 ns)
        ("gif", 1000, 50_000_000, 114),  # 1.6 s are left: 50 MB x 8 ns are 0.4 s
        ("gif", 1000, 200_000_000, 66),  # 0.4 s would be 28, but no pixel takes more than 30 ns
        ("png", 1000, 0, 142),
        ("png", 1000, 50_000_000, 100),  # 12 ns a byte: 1.4 s / 14 ms
        ("webp", 1000, 10_000_000, 233),  # 1.4 s / 6 ms
        ("avif", 1000, 10_000_000, 171),  # 1.2 s / 7 ms
        ("avif", 100, 0, 28_571),
    ],
)
def test_frames_that_two_seconds_allow(form, side, size, frames):
    """Nanoseconds a pixel and a byte, as the table in the module states them."""
    header = replace(HEADER, format=form, width=side, height=side)
    assert motion.affordable_frames(header, size, Limits(**OPEN)) == frames


@pytest.mark.parametrize(
    ("limits", "frames"),
    [
        ({"frames": 7}, 7),
        ({"frame_pixels": 5_999_999}, 5),
        ({"frame_pixels": 6_000_000}, 6),
        ({"pixels": 1_000_000}, 142),
        ({"pixels": 999_999}, 0),
        ({"decode_bytes": 20_000_000}, 142),  # 20 bytes a pixel
        ({"decode_bytes": 19_999_999}, 0),
    ],
)
def test_frames_that_the_limits_allow(limits, frames):
    header = replace(HEADER, format="gif", width=1000, height=1000)
    assert motion.affordable_frames(header, 0, Limits(**OPEN | limits)) == frames


@pytest.mark.parametrize(("places", "most", "step"), [(9, 9, 1), (10, 9, 2), (36, 9, 2), (37, 9, 3), (5, 9, 1)])  # fmt: skip
def test_the_step_of_the_grid(places, most, step):
    """So that places / step / step are at most ``most``."""
    assert motion._step(places, most) == step


@pytest.mark.parametrize(
    ("width", "height", "frames", "size"),
    [
        (700, 500, 10, (700, 500)),  # 350,000 places
        (701, 500, 10, (350, 250)),  # one column more: every second
        (1000, 1000, 50, (250, 250)),  # 5,000,000 / 50 = 100,000 of 1,000,000: every fourth
        (3, 900_000, 2, (1, 300_000)),  # every third
        (1, 2_000_000, 1, (1, 666_666)),
        (2_000_000, 1, 1, (666_666, 1)),
    ],
)
def test_the_grid_of_an_animation(width, height, frames, size):
    assert motion._Sampler(width, height, frames)._size == size


@pytest.mark.parametrize("step", [1, 2, 3, 4])
def test_samples_are_pixels_and_means_around_them(step):
    """The pixel in the middle of each cell, and 3 x 3 px around it weighted 1-2-1, edges repeated."""
    pixels = np.random.default_rng(step).integers(0, 256, (24, 36)).astype(np.uint8)
    sampler = motion._Sampler(36, 24, 1)
    sampler._step, sampler._size = step, (36 // step, 24 // step)
    picture = Image.fromarray(pixels)
    middle = step // 2
    at = np.s_[middle::step, middle::step]
    assert (np.asarray(sampler._single(picture)) == pixels[at]).all()
    padded = np.pad(pixels.astype(float), 1, mode="edge")
    rows = (padded[:-2] + 2 * padded[1:-1] + padded[2:]) / 4
    expected = ((rows[:, :-2] + 2 * rows[:, 1:-1] + rows[:, 2:]) / 4)[at]
    found = np.asarray(sampler._mean(picture), float)
    inner = np.s_[1:-1, 1:-1]
    assert np.abs(found - expected)[inner].max() <= 2.0  # four roundings
    assert abs((found - expected)[inner].mean()) < 1.0


def test_half_see_through_ink_on_a_white_page():
    frame = Image.new("RGBA", (4, 4), (0, 100, 200, 51))
    sampler = motion._Sampler(4, 4, 1)
    sampler.take(frame, 10)
    # 20 % of the ink, 80 % of 255
    for taken in (sampler._sharp[0], sampler._soft[0]):
        assert taken.getpixel((2, 2)) == pytest.approx((204, 224, 244), abs=1)


@pytest.mark.parametrize(
    ("duration", "shown"), [(None, 100), (0, 100), (10, 100), (11, 11), (10.4, 10), (33.4, 33)]
)
def test_how_long_a_frame_is_shown(duration, shown):
    """Browsers show up to 10 ms as 100 (Gecko, Blink, WebKit)."""
    frame = Image.new("L", (1, 1))
    frame.info["duration"] = duration
    assert played.shown_for(frame) == shown


@pytest.mark.parametrize(
    ("form", "loop", "plays"),
    [("GIF", None, 1), ("GIF", 0, 0), ("GIF", 1, 2), ("GIF", 4, 5), ("PNG", 0, 0), ("PNG", 1, 1),
     ("PNG", 3, 3), ("WEBP", None, 0), ("AVIF", None, 0)],
)  # fmt: skip
def test_how_often_an_animation_plays(form, loop, plays):
    """GIF gives repetitions, the others plays; 0 is without end."""
    frame = Image.new("L", (1, 1))
    frame.format = form
    if loop is not None:
        frame.info["loop"] = loop
    assert motion._plays(frame) == plays


def test_a_still_picture_is_at_rest():
    assert motion._still(1, None) == {
        "frames": 1, "counted": True, "seconds": 0.0, "plays": 1,
        "general": {"flashes_per_second": 0.0, "area": 0, "at": 0.0},
        "red": {"flashes_per_second": 0.0, "area": 0, "at": 0.0}, "undecided": None,
    }  # fmt: skip
    assert not motion._still(3, "why")["counted"]


def test_long_animations_are_thinned_out_when_followed(monkeypatch):
    """Places times moments: 40 places and 20 moments, with 200 allowed, leave every second place."""
    seen = []
    monkeypatch.setattr(motion, "CELL_STEPS", 200)
    monkeypatch.setattr(motion, "count_flashes", lambda film: seen.append(film) or (0, 0))
    sampler = motion._Sampler(8, 5, 5)
    frames = [Image.new("RGB", (8, 5), (40 * n, 0, 0)) for n in range(4)]
    sampler._milliseconds = [100] * 4
    sampler._count(frames, 9.0, endless=False)
    assert (seen[0].frames[0].size, seen[0].cell, seen[0].least) == ((8, 5), (1.0, 1.0), 9.0)
    # endless: 0.4 s, as much again, and a second: 18 moments of 100 ms
    sampler._count(frames, 9.0, endless=True)
    assert (seen[1].frames[0].size, seen[1].cell) == ((4, 2), (2.0, 2.5))


def test_a_flash_counts_as_the_milder_sampling_sees_it(monkeypatch):
    def count(_self, _frames, least, *, endless):
        assert endless
        rates = (3.0, 2.0) if least == motion.QUARTER else (1.0, 2.5)
        return tuple({"flashes_per_second": rate, "area": 1, "at": 0.0} for rate in rates)

    monkeypatch.setattr(motion._Sampler, "_count", count)
    sampler = motion._Sampler(4, 4, 2)
    sampler.take(Image.new("RGB", (4, 4)), 10)
    found = sampler.flashes(endless=True)
    assert [facts["flashes_per_second"] for facts in found] == [1.0, 2.0]


# Following one place


@pytest.mark.parametrize(
    ("milliseconds", "endless", "end"),
    [([100, 50], False, None), ([100, 50], True, 1300), ([600, 700], True, 3300), ([1000], True, 3000)],
)  # fmt: skip
def test_what_is_shown_when(milliseconds, endless, end):
    """Once; or on until the length, as much again (at most a second), and a second are over."""
    film = Film(frames=[], milliseconds=milliseconds, endless=endless)
    shown = list(film.showing())
    count = len(milliseconds)
    assert [number for number, _ in shown] == [n % count for n in range(len(shown))]
    starts = [start for _, start in shown]
    assert starts[0] == 0
    lengths = [later - start for start, later in pairwise(starts)]
    assert lengths == [milliseconds[n % count] for n in range(len(shown) - 1)]
    if end is None:
        assert len(shown) == count
    else:
        assert starts[-1] < end <= starts[-1] + milliseconds[(len(shown) - 1) % count]


def followed(luminances, times):
    """Changes of one place by WCAG 2.2: 10 % between turning points, the darker below 0.8."""
    low = high = luminances[0]
    heading, changes = 0, []
    for value, time in zip(luminances[1:], times[1:], strict=True):
        if heading <= 0 and value - low >= 0.1 and low < 0.8:
            heading, high = 1, value
            changes.append(time)
        elif heading >= 0 and high - value >= 0.1 and value < 0.8:
            heading, low = -1, value
            changes.append(time)
        if heading >= 0:
            high = max(high, value)
        if heading <= 0:
            low = min(low, value)
    return changes


@pytest.mark.parametrize("seed", range(12))
def test_general_flashes_are_those_of_a_place_followed_by_hand(seed):
    """Gray codes with a decoding of their own (IEC 61966-2-1); the most changes within a second."""
    rng = np.random.default_rng(seed)
    codes = rng.integers(0, 256, 30)
    times = [int(value) for value in np.cumsum([0, *rng.integers(20, 400, 29)])]
    light = [
        code / 255 / 12.92 if code / 255 <= 0.04045 else ((code / 255 + 0.055) / 1.055) ** 2.4
        for code in codes
    ]
    changes = followed(light, times)
    most = max(sum(start <= at < start + 1000 for at in changes) for start in changes)
    film = Film(
        frames=[Image.new("RGB", (2, 1), (int(code),) * 3) for code in codes],
        milliseconds=[later - start for start, later in pairwise([*times, times[-1] + 50])],
        endless=False, cell=(200.0, 100.0), least=21_824,
    )  # fmt: skip
    general, _ = count_flashes(film)
    # the first change has the direction that the first ten per cent have
    assert general["flashes_per_second"] == pytest.approx(most / 2)
    assert general["area"] == 40_000
    assert sum(LUMINANCE_WEIGHTS) == pytest.approx(1)


def test_a_faint_flash_of_a_quarter_field_is_seen_by_the_means():
    """Gray 90 has a luminance of 0.1022, so the means, which mix in black at the edges, lose a row at
    each side: 62 of 64 rows of 341 px, 97 % of 21,824."""
    frames = [Image.new("RGB", (341, 256)) for _ in range(2)]
    frames[1].paste((90, 90, 90), (0, 100, 341, 164))
    sampler = motion._Sampler(341, 256, 2)
    for frame in frames:
        sampler.take(frame, 100)
    general, _ = sampler.flashes(endless=True)
    assert general["flashes_per_second"] == 5
