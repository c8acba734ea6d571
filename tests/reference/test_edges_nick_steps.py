"""Corner nicks, step by step: pictures of a few grays in which one step alone decides, each worked by hand.

Page is 200 and art 100, so that a code is a hundredth of the contrast.
"""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from pytest_webdeliverable.measure.edges.nick import (
    AROUND,
    CORNERS,
    LARGEST,
    REACH,
    Nick,
    find_nick,
)

PAGE, ART = 200, 100
TOP_LEFT = CORNERS[0]
LEG = 5
"""px of the usual square patch: its rim has 20 px, right beside it as well as further in."""


def _plain(leg: int = LEG) -> np.ndarray:
    luma = np.full((40, 44), ART, np.uint8)
    luma[:leg, :leg] = PAGE
    return luma


def _nick(luma: np.ndarray) -> Nick | None:
    """Return what is found, which a picture and its transpose must agree on."""
    found, turned = (
        find_nick(Image.fromarray(np.stack([one] * 3, -1)), TOP_LEFT) for one in (luma, luma.T)
    )
    assert (found is None) == (turned is None)
    if found and turned:
        assert (found.across, found.down) == pytest.approx((turned.down, turned.across))
        assert (found.shape, found.art) == (turned.shape, turned.art)
    return found


def test_the_plain_patch() -> None:
    """5 px white on gray: every number is known."""
    assert _nick(_plain()) == Nick(
        TOP_LEFT, 5.0, 5.0, "square", 0.0, (200.0,) * 3, (100.0,) * 3, 100.0
    )


@pytest.mark.parametrize(
    ("leg", "told"), [(1, False), (2, True), (3, True), (15, True), (16, True), (17, False)]
)
def test_from_two_px_to_sixteen(leg: int, told: bool) -> None:
    """One px is a stray pixel, more than 16 are a shape of the art."""
    found = _nick(_plain(leg))
    assert (found is not None) == told
    if found:
        assert (found.across, found.down) == (leg, leg)


@pytest.mark.parametrize(("width", "height", "told"), [(28, 28, 1), (27, 40, 0), (40, 27, 0)])
def test_from_pictures_of_28_px(width: int, height: int, told: int) -> None:
    """A smaller picture has no corner of that size."""
    assert (_nick(_plain()[:height, :width]) is not None) == told


@pytest.mark.parametrize(
    ("corner", "right", "below", "told"),
    [
        (22, 22, 22, True),
        (21, 21, 21, False),
        # 10.5 for the corner alone, 12.2 with its neighbors; and 11.5, 10.8.
        (21, 26, 26, False),
        (23, 21, 21, False),
        (23, 21, 22, True),
    ],
)
def test_the_faintest_nick(corner: int, right: int, below: int, told: bool) -> None:
    """11 codes, of the corner's pixel and of the mean of it and its two neighbors.

    Blue alone, of which half counts: 22 codes are 11.
    """
    pixels = np.full((40, 44, 3), ART, np.uint8)
    pixels[:LEG, :LEG, 2] = ART + 22
    pixels[0, :2, 2], pixels[1, 0, 2] = (ART + corner, ART + right), ART + below
    assert (find_nick(Image.fromarray(pixels), TOP_LEFT) is not None) == told


def test_the_page_is_the_mean_of_three_px() -> None:
    """The corner's own and its two neighbors, whatever the one between those shows."""
    luma = _plain()
    luma[0, 0], luma[0, 1], luma[1, 0], luma[1, 1] = 200, 194, 197, 185
    found = _nick(luma)
    assert found is not None
    assert (found.page, found.art) == ((197.0,) * 3, (100.0,) * 3)
    assert found.contrast == pytest.approx(97)


def test_what_lies_around_is_asked_alike_on_both_sides() -> None:
    """The pixels asked are their own mirror images and lie in the corner looked at.

    All but the middle one lie beyond the largest patch, one way at least.
    """
    assert {(y, x) for x, y in AROUND} == set(AROUND)
    assert all(0 <= place < REACH for at in AROUND for place in at)
    assert [max(at) > LARGEST for at in AROUND].count(False) == 1


@pytest.mark.parametrize("first", range(7))
def test_most_of_what_lies_around_must_differ(first: int) -> None:
    """Three pixels of seven like the page are not most of them, four are."""
    places = [(*AROUND, *AROUND)[first + at] for at in range(4)]
    luma = _plain()
    for x, y in places[:3]:
        luma[y, x] = PAGE
    found = find_nick(Image.fromarray(luma), TOP_LEFT)
    assert found is not None
    x, y = places[3]
    luma[y, x] = PAGE
    assert find_nick(Image.fromarray(luma), TOP_LEFT) is None


@pytest.mark.parametrize(("off", "told"), [(30, True), (31, False)])
@pytest.mark.parametrize("at", [(2, 2), (1, 1), (3, 0), (1, 2)])
def test_ringing_within_a_patch(at: tuple[int, int], off: int, told: bool) -> None:
    """A pixel three tenths of the contrast off belongs to it; one more and the patch has a hole."""
    luma = _plain()
    luma[at] = PAGE - off
    assert (_nick(luma) is not None) == told


@pytest.mark.parametrize(("off", "told"), [(60, True), (61, False)])
def test_ringing_of_chroma_within_a_patch(off: int, told: bool) -> None:
    """Blue counts half: 60 codes are three tenths of 200."""
    pixels = np.full((40, 44, 3), 40, np.uint8)
    pixels[:LEG, :LEG, 2] = 240
    pixels[2, 2, 2] = 240 - off
    assert (find_nick(Image.fromarray(pixels), TOP_LEFT) is not None) == told


@pytest.mark.parametrize(
    ("first", "count", "told"), [(7, 3, True), (7, 4, False), (6, 4, True), (6, 5, False)]
)
@pytest.mark.parametrize("row", [0, LEG - 1])
def test_the_page_color_comes_back_beside_a_patch(
    row: int, first: int, count: int, told: bool
) -> None:
    """12 % of 28 px are 3: from the second px beyond the patch's end on, which is at 5."""
    luma = _plain()
    luma[row, first : first + count] = PAGE
    found = find_nick(Image.fromarray(luma), TOP_LEFT)
    assert (found is not None) == told


@pytest.mark.parametrize(("count", "told"), [(31, True), (32, False)])
@pytest.mark.parametrize("row", [12, 27])
def test_the_page_color_comes_back_below_a_patch(row: int, count: int, told: bool) -> None:
    """4 % of 28 * 28 px are 31, in all rows but the patch's and the mixed one below it."""
    luma = _plain()
    luma[LEG, 8:20] = PAGE
    luma[LEG + 1, 8:12] = PAGE
    luma[row, :27] = PAGE
    assert find_nick(Image.fromarray(luma), TOP_LEFT) is not None
    luma[20, 9 : 9 + count - 31] = PAGE
    assert (find_nick(Image.fromarray(luma), TOP_LEFT) is not None) == told


@pytest.mark.parametrize(
    ("page", "inside", "back", "counts"),
    [
        # A patch of one color: within 10 codes.
        (200, 0, 10, True),
        (200, 0, 11, False),
        # One that wavers by 8: within 16.
        (200, 8, 16, True),
        (200, 8, 17, False),
        # Three tenths of a contrast of 20 or 100 at most.
        (120, 0, 6, True),
        (120, 0, 7, False),
        (200, 20, 30, True),
        (200, 20, 31, False),
    ],
)
def test_how_exactly_the_color_comes_back(page: int, inside: int, back: int, counts: bool) -> None:
    """A field below the patch, off by some codes, is its color or is not."""
    luma = np.full((40, 44), ART, np.uint8)
    luma[:LEG, :LEG] = page
    luma[LEG - 1, LEG - 1] = page - inside
    luma[21:26, 2:12] = page - back
    assert (find_nick(Image.fromarray(luma), TOP_LEFT) is None) == counts


def _ringed(*codes: int) -> np.ndarray:
    """Return the patch with rings around it, the mixed px first, one code each."""
    luma = _plain()
    for at, code in reversed(list(enumerate(codes))):
        luma[: LEG + at + 1, : LEG + at + 1] = code
    luma[:LEG, :LEG] = PAGE
    return luma


def test_the_art_is_what_lies_right_beside() -> None:
    """The first and second px beyond the mixed one: half of each, so the mean of their grays."""
    found = _nick(_ringed(130, 104, 112, 90, 100, 100))
    assert found is not None
    assert found.art == (108.0,) * 3
    assert found.contrast == 92.0
    # The mixed px makes 70 of the 96 codes to its neighbor.
    assert (found.across, found.down) == pytest.approx((5 + 26 / 96,) * 2)
    # Of 6 * 6 px, 11 lie on the ideal rim, 0.5, and show 22 of 92 codes.
    assert found.misfit == pytest.approx(11 / 36 * (0.5 - 22 / 92))


@pytest.mark.parametrize(("code", "told"), [(51, True), (49, False)])
def test_art_right_beside_differs_as_much_as_further_in(code: int, told: bool) -> None:
    """70 codes beside the patch are 0.7 of 100 further in, the mean of the fourth px and the fifth.

    The rings before and after are light, so that neither could take their place.
    """
    rings = _ringed(130, 130, 130, 170, 150, code, 170)
    assert (_nick(rings) is not None) == told


@pytest.mark.parametrize(
    ("soft", "off", "told"), [(4, 0, True), (5, 49, False), (5, 50, True), (9, 50, True)]
)
def test_most_of_the_rim_is_sharp(soft: int, off: int, told: bool) -> None:
    """16 of its 20 px are 80 %; half of the contrast of 100 codes is asked of each."""
    luma = _plain()
    places = [(y, LEG + beyond) for beyond in (1, 2) for y in range(LEG)]
    for y, x in places[:soft]:
        luma[y, x] = PAGE - off
    found = find_nick(Image.fromarray(luma), TOP_LEFT)
    assert (found is not None) == told


@pytest.mark.parametrize(("part", "told"), [(68, True), (72, False)])
def test_one_leg_a_little_longer(part: int, told: bool) -> None:
    """10 px one way: 12.7 px are the most the other way; the last px is covered in part."""
    luma = np.full((40, 44), ART, np.uint8)
    luma[:10, :12] = PAGE
    luma[:10, 12] = ART + part
    # A px covered by 70 % and more would be one of the patch, so its neighbor is darker instead.
    luma[:10, 13:] = ART
    if part > 70:
        luma[:10, 12] = PAGE - 31
        luma[:10, 13] = PAGE - 111
    assert (_nick(luma) is not None) == told


@pytest.mark.parametrize(
    ("edge", "inner", "leg"), [(150, 100, 5.5), (150, PAGE, 5.0), (80, 100, 5.0), (120, 120, 5.0)]
)
def test_the_last_px_of_a_leg(edge: int, inner: int, leg: float) -> None:
    """Covered in part, by what it has of the next one's contrast; nothing of none, and never less."""
    luma = _plain()
    luma[0, LEG], luma[0, LEG + 1] = edge, inner
    found = _nick(luma)
    assert found is not None
    assert (found.across, found.down) == (leg, 5.0)
