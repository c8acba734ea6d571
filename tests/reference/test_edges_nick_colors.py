"""How different a nick must look, by its color: CIEDE2000 of grays and colors just within and beyond.

The art's colors are found by stepping one code at a time, with our formula (itself held against Sharma's pairs).
"""

from __future__ import annotations

import pytest

from pytest_webdeliverable.measure.ciede2000 import delta_e
from pytest_webdeliverable.measure.edges import weigh
from pytest_webdeliverable.measure.edges.nick import Nick
from pytest_webdeliverable.measure.edges.weigh import nick_counts

Rgb = tuple[int, int, int]


def _counts(page: Rgb, art: Rgb, legs: float = 4.0, misfit: float = 0.15) -> bool:
    nick = Nick(("top", "left"), legs, legs, "square", misfit, page, art, 99.0)
    return nick_counts(nick, [nick])


def _border(page: Rgb, least: float) -> tuple[Rgb, Rgb]:
    """The first art seen beside a page, walking from its color to black or white, and the one before."""
    goal = 0 if sum(page) > 384 else 255
    walk = [tuple(round(own + (goal - own) * step / 512) for own in page) for step in range(513)]
    at = next(at for at, art in enumerate(walk) if delta_e(page, art) >= least)
    return walk[at], walk[at - 1]


@pytest.mark.parametrize(
    ("page", "legs", "misfit", "least"),
    [
        ((255, 255, 255), 4.0, 0.15, weigh.SEEN_NICK),
        ((weigh.NEAR_WHITE,) * 3, 4.0, 0.15, weigh.SEEN_NICK),
        ((weigh.NEAR_WHITE - 1,) * 3, 4.0, 0.15, weigh.SEEN_NICK_GRAY),
        ((0, 0, 0), 4.0, 0.15, weigh.SEEN_NICK),
        ((weigh.NEAR_BLACK,) * 3, 4.0, 0.15, weigh.SEEN_NICK),
        ((weigh.NEAR_BLACK + 1,) * 3, 4.0, 0.15, weigh.SEEN_NICK_GRAY),
        ((100, 100, 100), 4.0, weigh.CLEAN_NICK, weigh.SEEN_CLEAN_NICK),
        ((100, 100, 100), 4.0, weigh.CLEAN_NICK + 1e-6, weigh.SEEN_NICK_GRAY),
        ((100, 100, 100), weigh.SMALLEST_CLEAN - 0.01, 0.0, weigh.SEEN_NICK_GRAY),
        # Colors: channels NEUTRAL apart are near neutral; luma 0.299 * 40 above 130 is 142.
        ((130 + weigh.NEUTRAL, 130, 130), 4.0, 0.15, weigh.SEEN_NICK_GRAY),
        ((131 + weigh.NEUTRAL, 130, 130), 4.0, 0.15, weigh.SEEN_NICK_COLOR),
        ((131 + weigh.NEUTRAL, 130, 130), weigh.SMALL_NICK - 0.01, 0.15, weigh.SEEN_NICK_COLOR),
        ((150, 90, 60), weigh.SMALL_NICK, 0.15, weigh.SEEN_NICK_GRAY),
        # The blue channel is as far off as the red one was, and alone.
        ((150, 150, 149 - weigh.NEUTRAL), 4.0, 0.15, weigh.SEEN_NICK_COLOR),
        # A yellow of luma 238.9: near white, for all its channels apart.
        ((255, 255, 114), 4.0, 0.15, weigh.SEEN_NICK),
        # Luma 4.6 (40 * 0.114): a dark color, DARK_TINT codes and more between its channels.
        ((0, 0, weigh.DARK_TINT), 4.0, 0.15, weigh.SEEN_NICK),
        ((0, 0, weigh.DARK_TINT + 1), 4.0, 0.15, weigh.SEEN_NICK_COLOR),
    ],
)
def test_the_least_difference_of_a_nick(
    page: Rgb, legs: float, misfit: float, least: float
) -> None:
    """Counts with the first art as different as asked for, not with the one before."""
    seen, unseen = _border(page, least)
    assert _counts(page, seen, legs, misfit)
    assert delta_e(page, unseen) < least
    assert not _counts(page, unseen, legs, misfit)


@pytest.mark.parametrize("alpha", [200, 255])
@pytest.mark.parametrize(
    ("page", "least"),
    [
        ((100, 100, 100), weigh.SEEN_NICK_GRAY),
        # 39 codes between its channels, luma 229: a gray that is not yet white.
        ((250, 222, 211), weigh.SEEN_NICK_GRAY),
        ((171, 130, 130), weigh.SEEN_NICK_COLOR),
    ],
)
def test_opaque_corners_are_judged_by_color_alone(page: Rgb, least: float, alpha: int) -> None:
    """With a fourth channel as without it."""
    for art, counts in zip(_border(page, least), (True, False), strict=True):
        nick = Nick(("top", "left"), 4.0, 4.0, "square", 0.15, (*page, alpha), (*art, 255), 99.0)
        assert nick_counts(nick, [nick]) is counts
