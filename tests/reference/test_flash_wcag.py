"""Flashes held against WCAG 2.2, success criterion 2.3.1, and its techniques.

Sources: W3C WCAG 2.2 (general and red flash thresholds, relative luminance), technique G19 (three
flashes pass, the seventh change fails), G176 (less than 21,824 px pass). Distances in u'v' were
worked out with colour-science. GIF frame times: GIF89a, hundredths of a second.
"""

from __future__ import annotations

import pytest
from PIL import Image

from pytest_webdeliverable.measure.flash import Film, count_flashes
from pytest_webdeliverable.measure.flash_area import FIELD

BLACK, WHITE = (0, 0, 0), (255, 255, 255)


def gray(code):
    return (code, code, code)


def flashes(colors, milliseconds=100, *, endless=True, size=FIELD):
    frames = [Image.new("RGB", size, color) for color in colors]
    film = Film(frames=frames, milliseconds=[milliseconds] * len(frames), endless=endless)
    return count_flashes(film)


def general(*args, **kwargs):
    return flashes(*args, **kwargs)[0]["flashes_per_second"]


def red(*args, **kwargs):
    return flashes(*args, **kwargs)[1]["flashes_per_second"]


@pytest.mark.parametrize(
    ("one", "other", "is_flash"),
    [
        (gray(0), gray(90), True),  # Y 0.102242
        (gray(0), gray(89), False),  # Y 0.099899
        (WHITE, gray(231), True),  # the darker is Y 0.799103
        (WHITE, gray(232), False),  # the darker is Y 0.8 or more
        (BLACK, WHITE, True),
        ((0, 0, 255), BLACK, False),  # Y 0.0722
        ((255, 0, 0), BLACK, True),  # Y 0.2126
    ],
)
def test_a_general_flash_needs_a_tenth_of_luminance_and_a_dark_state(one, other, is_flash):
    assert (general([one, other]) > 0) is is_flash


@pytest.mark.parametrize(
    ("one", "other", "is_flash"),
    [
        ((255, 0, 0), WHITE, True),  # ratio 1, distance 0.2587
        ((255, 128, 0), WHITE, False),  # ratio 0.8225, distance 0.1406
        ((255, 64, 0), WHITE, True),  # ratio 0.9512, distance 0.2164
        ((255, 0, 0), (0, 0, 255), True),  # distance 0.457
        (WHITE, (0, 0, 255), False),  # no red in it
        ((255, 0, 0), (200, 0, 0), False),  # the same chromaticity
    ],
)
def test_a_red_flash_needs_a_saturated_red_and_a_step_of_a_fifth(one, other, is_flash):
    assert (red([one, other]) > 0) is is_flash


def test_black_has_the_chromaticity_of_white():
    """0/0 in CIE 1976; our own choice, no source: it makes red and black a red flash."""
    assert red([(255, 0, 0), BLACK]) == 5
    assert red([(30, 0, 0), BLACK]) == 0  # as dark as black


def test_three_flashes_are_six_changes_and_the_seventh_is_too_many():
    """G19: no more than three flashes within any one second."""
    assert general([BLACK, WHITE] * 3 + [BLACK], endless=False) == 3
    assert general([BLACK, WHITE] * 4, endless=False) == 3.5


@pytest.mark.parametrize(("milliseconds", "rate"), [(170, 3), (167, 3), (166, 3.5), (160, 3.5)])
def test_frame_times_decide_how_many_fall_into_a_second(milliseconds, rate):
    assert general([BLACK, WHITE], milliseconds) == rate


def test_the_seam_of_a_loop_counts():
    """Understanding 2.3.1: an animation is judged while it loops."""
    once = [BLACK, WHITE, BLACK, WHITE]
    assert general(once, 200, endless=False) == 1.5
    assert general(once, 200, endless=True) == 2.5


@pytest.mark.parametrize(
    ("width", "height", "is_flash"),
    [(128, 170, False), (124, 176, True), (128, 171, True)],  # 21,760; 21,824; 21,888 px
)
def test_less_than_a_quarter_of_the_field_may_flash(width, height, is_flash):
    """G176: fewer than 21,824 px, a quarter of 341 x 256."""
    dark = Image.new("RGB", FIELD)
    light = dark.copy()
    light.paste(WHITE, (7, 9, 7 + width, 9 + height))
    film = Film(frames=[dark, light], milliseconds=[100, 100], endless=True)
    facts = count_flashes(film)[0]
    assert (facts["flashes_per_second"] > 0) is is_flash
    assert facts["area"] == (width * height if is_flash else 0)


def test_a_quarter_missing_one_pixel_passes():
    dark = Image.new("RGB", FIELD)
    light = dark.copy()
    light.paste(WHITE, (0, 0, 124, 176))
    light.putpixel((0, 0), BLACK)
    film = Film(frames=[dark, light], milliseconds=[100, 100], endless=True)
    assert count_flashes(film)[0]["flashes_per_second"] == 0


def test_areas_too_far_apart_for_one_field_do_not_add_up():
    """The area is that within any 10 degrees of the field of view."""
    dark = Image.new("RGB", (900, 256))
    light = dark.copy()
    for left in (0, 780):
        light.paste(WHITE, (left, 20, left + 120, 140))  # 14,400 px each
    far = Film(frames=[dark, light], milliseconds=[100, 100], endless=True)
    assert count_flashes(far)[0]["flashes_per_second"] == 0
    near = dark.copy()
    for left in (0, 200):
        near.paste(WHITE, (left, 20, left + 120, 140))
    facts = count_flashes(Film(frames=[dark, near], milliseconds=[100, 100], endless=True))[0]
    assert facts["area"] == 2 * 14_400


def test_areas_that_flash_in_turn_do_not_add_up_to_their_rates():
    """Flashes are counted where they happen: two places at 2 a second are not one at 4."""
    size = (400, 256)
    frames = []
    for left, right in ((0, 0), (1, 0), (0, 0), (0, 1)):
        frame = Image.new("RGB", size)
        if left:
            frame.paste(WHITE, (0, 0, 200, 256))
        if right:
            frame.paste(WHITE, (200, 0, 400, 256))
        frames.append(frame)
    film = Film(frames=frames, milliseconds=[125] * 4, endless=True)
    assert count_flashes(film)[0]["flashes_per_second"] == 2


def test_a_fade_counts_as_what_it_adds_up_to():
    up = [gray(code) for code in range(0, 256, 17)]
    assert general(up + up[::-1], 25) == 1.5  # 0.8 s a round: at most three changes in a second
    assert general(up, 25, endless=False) == 0  # one change is no flash
    steps = [gray(code) for code in (120, 128, 136, 128)]  # up and down by 0.06
    assert general(steps, 25) == 0


def test_a_red_fade_counts_as_what_it_adds_up_to():
    up = [(255, code, code) for code in range(0, 256, 17)]
    assert red(up + up[::-1], 10) > 0


def test_the_start_counts_whichever_way_it_goes():
    for colors in ([BLACK, WHITE] * 4, [WHITE, BLACK] * 4):
        assert general(colors, 100, endless=False) == 3.5


def test_where_the_worst_second_begins():
    colors = [BLACK] * 20 + [WHITE, BLACK] * 4
    facts = flashes(colors, 100, endless=False)[0]
    assert facts["flashes_per_second"] == 4
    assert facts["at"] == 2.0
