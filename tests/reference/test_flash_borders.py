"""Colors, areas and first changes at the borders of WCAG 2.2, SC 2.3.1, on the smallest films."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from pytest_webdeliverable.measure import flash
from pytest_webdeliverable.measure.flash import Film, count_flashes
from pytest_webdeliverable.measure.flash_area import NO_FLASH

RGB_TO_XYZ = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
)
"""IEC 61966-2-1, four digits as printed there."""


def linear(codes):
    values = np.asarray(codes) / 255
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def uv(color):
    x, y, z = RGB_TO_XYZ @ linear(color)
    return np.array([4 * x, 9 * y]) / (x + 15 * y + 3 * z)


def gray_of(luminance):
    """The gray code nearest to a relative luminance, from above."""
    return int(np.argmax(linear(np.arange(256)) >= luminance))


def flashes(*colors, endless=False):
    film = Film(
        frames=[Image.new("RGB", (2, 1), color) for color in colors],
        milliseconds=[100] * len(colors),
        endless=endless,
        cell=(200.0, 100.0),
    )
    return [facts["flashes_per_second"] for facts in count_flashes(film)]


@pytest.mark.parametrize("channel", [0, 1, 2])
@pytest.mark.parametrize(("code", "black"), [(38, True), (39, False)])
def test_a_dark_color_has_the_chroma_of_white(channel, code, black):
    """Linear 0.0194 and 0.0203; black below 0.02."""
    color = [0, 0, 0]
    color[channel] = code
    found = flash._chroma(Image.new("RGB", (1, 1), tuple(color)))
    expected = flash._WHITE_UV if black else uv(color)
    assert [found.u.getpixel((0, 0)), found.v.getpixel((0, 0))] == pytest.approx(
        list(expected), abs=2e-4
    )


@pytest.mark.parametrize(
    ("color", "red"),
    [
        # linear 37: 0.01850, 38: 0.01938, 2: 0.00061, 4: 0.00121, 5: 0.00152
        ((37, 5, 0), True),  # 0.02002
        ((37, 4, 0), False),  # 0.01971
        ((38, 2, 0), False),  # 0.01999
        ((37, 0, 5), True),
        ((37, 0, 4), False),
        ((38, 0, 2), False),
    ],
)
def test_the_darkest_red(color, red):
    assert bool(np.asarray(flash._saturated(Image.new("RGB", (1, 1), color)))[0, 0]) is red


def test_reds_a_fifth_apart_flash():
    """From red to (255, t, t): 0.2 in u'v' lies between two codes."""
    apart = [np.hypot(*(uv((255, t, t)) - uv((255, 0, 0)))) for t in range(256)]
    first = int(np.argmax(np.array(apart) > 0.2))
    assert 0.18 < apart[first - 1] < 0.2 < apart[first] < 0.22
    red = (255, 0, 0)
    assert flashes(red, (255, first, first), red)[1] == 1.0
    assert flashes(red, (255, first - 1, first - 1), red)[1] == 0.0


@pytest.mark.parametrize(("step", "counts"), [(0.102, True), (0.097, False)])
@pytest.mark.parametrize("base", [0.0, 0.3, 0.6])
def test_a_tenth_of_luminance_flashes(step, base, counts):
    dark, light = gray_of(base), gray_of(base + step)
    apart = float(linear(light) - linear(dark))
    if (apart >= 0.1) is not counts:
        light -= 1
        apart = float(linear(light) - linear(dark))
    assert (apart >= 0.1) is counts
    for first, then in ((dark, light), (light, dark)):
        found = flashes(*[(code,) * 3 for code in (first, then, first)])
        assert found[0] == (1.0 if counts else 0.0)


@pytest.mark.parametrize(("darker", "counts"), [(0.79, True), (0.81, False)])
def test_the_darker_state_lies_below_four_fifths(darker, counts):
    codes = [(gray_of(darker),) * 3, (255,) * 3, (gray_of(darker),) * 3]
    assert flashes(*codes)[0] == (1.0 if counts else 0.0)


def test_a_fade_counts_as_what_it_adds_up_to():
    """Four steps of 0.06 up and four down are one flash; up alone is none.

    In a loop of 500 ms the way up and the fall through the seam are two changes: four in a second.
    """
    up = [(gray_of(0.06 * at + 0.05),) * 3 for at in range(5)]
    assert flashes(*up, *up[-2::-1])[0] == 1.0
    assert flashes(*up)[0] == 0.0
    assert flashes(*up, endless=True)[0] == 2.0


@pytest.mark.parametrize(
    ("changed", "cell", "least", "box"),
    [
        (0, (1.0, 1.0), 0, None),
        (1, (1.0, 1.0), 1, (0, 0, 1, 1)),
        (5, (1.0, 1.0), 6, None),
        (6, (1.0, 1.0), 6, (0, 0, 4, 2)),
        (3, (2.0, 3.0), 18, (0, 0, 3, 1)),
        (3, (2.0, 3.0), 18.1, None),
    ],
)
def test_places_that_are_enough_to_count(changed, cell, least, box):
    """Places of a 4 x 3 picture, row by row, up or down, times the size of a place."""
    values = np.zeros(12, np.float32)
    values[:changed] = np.resize([1, -1], changed)
    film = Film(frames=[], milliseconds=[], endless=False, cell=cell, least=least)
    assert flash._large_enough(Image.fromarray(values.reshape(3, 4)), film) == box


def test_frames_that_never_change_do_not_flash():
    still = [(90, 90, 90)] * 3
    film = Film(frames=[Image.new("RGB", (400, 300), color) for color in still], milliseconds=[50] * 3, endless=True)  # fmt: skip
    assert count_flashes(film) == (NO_FLASH, NO_FLASH)


@pytest.mark.parametrize(
    ("levels", "turn"),
    [
        ([0.5, 0.5, 0.5], 0),
        ([0.5, 0.7, 0.2], 1),
        ([0.5, 0.3, 0.9], -1),
        ([0.5, 0.46, 0.57], 1),  # 0.11 above the lowest so far
        ([0.5, 0.54, 0.43], -1),
        ([0.5, 0.54, 0.46], 0),
        ([0.85, 1.0, 0.85], 0),  # too light
        ([0.95, 0.7, 0.95], -1),
    ],
)
def test_the_first_change_of_a_place(levels, turn):
    """A tenth above the lowest or below the highest so far, the darker of both below 0.8."""
    pictures = [Image.new("F", (1, 1), level) for level in levels]
    assert flash._first_turns(pictures).getpixel((0, 0)) == turn
