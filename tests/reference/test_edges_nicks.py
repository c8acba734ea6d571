"""Corner nicks: tiny patches by hand, and shapes drawn by supersampling in numpy."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from PIL import Image

from pytest_webdeliverable.measure.edges import nick
from pytest_webdeliverable.measure.edges.nick import (
    CORNERS,
    LARGEST,
    REACH,
    SHAPES,
    SMALLEST,
    _apart,
    _corner,
    _ideal,
    _lengths,
    _misfit,
    _rim,
    find_nick,
)

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.edges.types import Side

RNG = np.random.default_rng
FINE = 16
"""Samples of a pixel each way."""


def _inside(shape: str, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Where points (in legs from the corner) are cut off: a rounding's circle is about (1, 1)."""
    if shape == "square":
        return (x < 1) & (y < 1)
    if shape == "triangle":
        return x + y < 1
    return (x < 1) & (y < 1) & ((1 - x) ** 2 + (1 - y) ** 2 > 1)


def _coverage(shape: str, across: float, down: float, size: int) -> np.ndarray:
    """Return the share of each pixel that is cut off, by FINE * FINE samples of it."""
    at = (np.arange(size * FINE) + 0.5) / FINE
    fine = _inside(shape, at[None, :] / across, at[:, None] / down)
    return fine.reshape(size, FINE, size, FINE).mean((1, 3))


def _cut(shape: str, across: float, down: float, corner: tuple[Side, Side]) -> Image.Image:
    """Return grainy art of two grays with one corner cut to white."""
    art = RNG(3).integers(70, 110, (64, 80, 1)) + np.zeros((1, 1, 3))
    cover = np.zeros((64, 80, 1))
    cover[:40, :40, 0] = _coverage(shape, across, down, 40)
    cover = cover[::-1] if corner[0] == "bottom" else cover
    cover = cover[:, ::-1] if corner[1] == "right" else cover
    return Image.fromarray(np.rint(cover * 255 + (1 - cover) * art).astype(np.uint8))


@pytest.mark.parametrize("corner", CORNERS)
def test_a_corner_is_turned_to_the_top_left(corner: tuple[Side, Side]) -> None:
    """numpy flips."""
    pixels = RNG(1).integers(0, 256, (40, 50, 3), dtype=np.uint8)
    turned = pixels[::-1] if corner[0] == "bottom" else pixels
    turned = turned[:, ::-1] if corner[1] == "right" else turned
    got = np.asarray(_corner(Image.fromarray(pixels), corner))
    assert np.array_equal(got, turned[:REACH, :REACH])


def test_codes_apart_by_hand() -> None:
    """Luma 0.299 * 100 = 29.9 against half of 100; 0.587 * 100 = 58.7; alpha as it is."""
    assert _apart((100, 0, 0), (0, 0, 0)) == 50
    assert _apart((0, 0, 0), (0, 100, 0)) == pytest.approx(58.7)
    assert _apart((0, 0, 100, 9), (0, 0, 0, 200)) == 191
    assert _apart((9, 9, 100, 20), (9, 9, 0, 10)) == 50
    assert _apart((9, 9, 9), (9, 9, 9)) == 0
    assert _apart((30, 0, 0), (0, 30, 30)) == pytest.approx(
        abs(0.299 - 0.701) * 30 + 2.94, abs=0.01
    )


def _like(*rows: str) -> list[list[bool]]:
    return [[cell == "#" for cell in row] for row in rows]


@pytest.mark.parametrize(
    ("rows", "lengths"),
    [
        (("##..", "##..", "...."), [2, 2]),
        (("###.", "##..", "#...", "...."), [3, 2, 1]),
        (("####.", "##...", "##...", "....."), [4, 2, 2]),
        # The first gap ends a row and the column, whatever comes after it.
        (("##.#", "#.##", "...#"), [2, 1]),
        (("##.#", "##..", ".#..", "##.."), [2, 2]),
        # One px longer than the shortest above may be noise, two may not.
        (("##..", "###.", "...."), [2, 3]),
        (("##..", "####", "...."), None),
        (("###.", "#...", "###.", "...."), None),
        (("##..", "....", "...."), None),
        (("#...", "#...", "#..."), None),
        (("....", "##.."), None),
    ],
)
def test_rows_of_a_patch_by_hand(rows: tuple[str, ...], lengths: list[int] | None) -> None:
    """What is drawn beside it."""
    assert _lengths(_like(*rows), bool) == lengths


@pytest.mark.parametrize(("legs", "is_nick"), [(LARGEST, True), (LARGEST + 1, False)])
@pytest.mark.parametrize("down", [False, True])
def test_the_largest_patch(legs: int, is_nick: bool, down: bool) -> None:
    """Either leg at LARGEST and one beyond; the other is SMALLEST."""
    like = np.zeros((20, 20), bool)
    like[:SMALLEST, :legs] = True
    like = like.T if down else like
    assert (_lengths(like.tolist(), bool) is not None) == is_nick


def test_the_rim_by_hand() -> None:
    """A patch of rows 2 and 1: one px beyond each row's end, then beyond each column's.

    Pixels are named by row and column: row 0 ends before 2, row 1 before 1; column 0 before row 2,
    column 1 before row 1.
    """
    rows = [[bytes([10 * y + x]) for x in range(6)] for y in range(6)]
    assert [one[0] for one in _rim(rows, [2, 1], 1)] == [3, 12, 30, 21]
    assert [one[0] for one in _rim(rows, [2, 1], 0)] == [2, 11, 20, 11]


@pytest.mark.parametrize("shape", SHAPES)
def test_the_share_of_a_shape(shape: str) -> None:
    """The supersampled area over that of its legs' rectangle."""
    assert _coverage(shape, 20, 20, 24).sum() / 400 == pytest.approx(SHAPES[shape], abs=0.004)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("legs", [(4.0, 4.0), (6.3, 7.0), (11.0, 10.2)])
def test_ideal_shapes_by_supersampling(shape: str, legs: tuple[float, float]) -> None:
    """A pixel wholly in or out is 1 or 0 unless it lies on the rim; none is off by more than a half."""
    size = 14
    cover = _coverage(shape, *legs, size)
    rim = 0.3 / min(legs)
    ideal = np.array(
        [
            [_ideal(shape, (x + 0.5) / legs[0], (y + 0.5) / legs[1], rim) for x in range(size)]
            for y in range(size)
        ]
    )
    assert set(np.unique(ideal)) <= {0.0, 0.5, 1.0}
    assert np.abs(ideal - cover).max() <= 0.51
    full = (cover == 0) | (cover == 1)
    assert (ideal == cover)[full].mean() > 0.97
    assert _misfit(shape, cover.tolist(), legs) == pytest.approx(np.abs(ideal - cover).mean())
    assert _misfit(shape, cover.tolist(), legs) < 0.03


@pytest.mark.parametrize(
    ("shape", "x", "y", "want"),
    [
        ("square", 0.94, 0.2, 1.0),
        ("square", 0.96, 0.2, 0.5),
        ("square", 0.2, 1.04, 0.5),
        ("square", 0.2, 1.06, 0.0),
        ("triangle", 0.5, 0.44, 1.0),
        ("triangle", 0.5, 0.46, 0.5),
        ("triangle", 0.5, 0.54, 0.5),
        ("triangle", 0.5, 0.56, 0.0),
        # From (1, 1) by 0.6 and 0.8 the circle is met: 0.66, 0.88 is 1.1 away.
        ("round", 0.4, 0.2, 0.5),
        ("round", 0.34, 0.12, 1.0),
        ("round", 0.46, 0.28, 0.0),
        ("round", 0.1, 1.2, 0.0),
        ("round", 1.2, 0.1, 0.0),
    ],
)
def test_ideal_points_by_hand(shape: str, x: float, y: float, want: float) -> None:
    """A rim of 0.05 legs on both sides of the outline."""
    assert _ideal(shape, x, y, 0.05) == want


@pytest.mark.parametrize("corner", CORNERS)
@pytest.mark.parametrize(
    ("shape", "across", "down"),
    [
        ("square", 2.0, 2.0),
        ("square", 3.5, 4.0),
        ("square", 7.0, 7.6),
        ("square", 14.0, 13.0),
        ("triangle", 5.0, 5.0),
        ("triangle", 8.0, 9.0),
        ("triangle", 13.0, 12.0),
        ("round", 10.0, 10.0),
        ("round", 12.0, 12.0),
        ("round", 15.0, 15.0),
    ],
)
def test_a_nick_is_told_as_it_was_drawn(
    corner: tuple[Side, Side], shape: str, across: float, down: float
) -> None:
    """Legs within a tenth of them or half a pixel, color and contrast of page and art.

    Roundings of 8 px and less are not drawn: the few pixels that go may tell of a straight cut instead.
    """
    found = find_nick(_cut(shape, across, down, corner), corner)
    assert found is not None
    assert (found.corner, found.shape) == (corner, shape)
    assert found.across == pytest.approx(across, abs=max(0.5, 0.1 * across))
    assert found.down == pytest.approx(down, abs=max(0.5, 0.1 * down))
    assert found.page == pytest.approx((255.0,) * 3, abs=30)
    assert found.art == pytest.approx((90.0,) * 3, abs=12)
    assert found.contrast == pytest.approx(165, abs=15)
    assert found.misfit < 0.1
    others = [other for other in CORNERS if other != corner]
    assert [find_nick(_cut(shape, across, down, corner), other) for other in others] == [None] * 3


def test_patches_that_are_no_nick() -> None:
    """Too large, too long, on a picture that is too small, as faint as ringing, or all over it."""
    at = CORNERS[0]
    assert find_nick(_cut("square", 18, 18, at), at) is None
    assert find_nick(_cut("square", 4, 9, at), at) is None
    small = _cut("square", 5, 5, at)
    assert find_nick(small.crop((0, 0, REACH, REACH)), at) is not None
    assert find_nick(small.crop((0, 0, REACH - 1, REACH)), at) is None
    for off, told in ((-1, False), (1, True)):
        faint = np.full((40, 40, 3), 100, np.uint8)
        faint[:4, :4] += np.uint8(nick.FAINT + off)
        assert (find_nick(Image.fromarray(faint), at) is not None) == told
    spotted = np.full((40, 40, 3), 90, np.uint8)
    spotted[:4, :4] = 255
    assert find_nick(Image.fromarray(spotted), at) is not None
    # One row in eight below the nick: more of the corner than BELOW.
    spotted[10::8] = 255
    assert find_nick(Image.fromarray(spotted), at) is None


@pytest.mark.parametrize(("share", "is_nick"), [(0.65, False), (0.75, True)])
def test_a_nick_ends_within_a_pixel(share: float, is_nick: bool) -> None:
    """The three px around it make a share of the way to the art: 0.7 is asked for."""
    luma = np.full((50, 50), 90, np.uint8)
    luma[:8, :8] = round(255 - 165 * share)
    luma[:5, :5] = 255
    picture = Image.fromarray(np.stack([luma] * 3, -1))
    assert (find_nick(picture, CORNERS[0]) is not None) == is_nick


@pytest.mark.parametrize(
    ("across", "down", "is_nick"),
    [(4, 5, True), (4, 6, False), (6, 4, False), (10, 12, True), (10, 13, False), (13, 10, False)],
)
def test_a_nick_cuts_both_sides_alike(across: int, down: int, is_nick: bool) -> None:
    """One leg exceeds the other by LOPSIDED and 0.7 px at most: 4.8 + 0.7 and 12 + 0.7 px."""
    assert nick.LOPSIDED == 1.2
    luma = np.full((50, 50), 90, np.uint8)
    luma[:down, :across] = 255
    found = find_nick(Image.fromarray(np.stack([luma] * 3, -1)), CORNERS[0])
    assert (found is not None) == is_nick
    if found:
        assert (found.across, found.down, found.shape) == (across, down, "square")
        assert (found.page, found.art, found.contrast) == ((255.0,) * 3, (90.0,) * 3, 165.0)


@pytest.mark.parametrize("part", [0.2, 0.5, 0.65])
def test_the_mixed_pixels_tell_the_fraction_of_a_leg(part: float) -> None:
    """A square of 5 px and a part both ways: a pixel covered by a part is as far from the page."""
    cover = np.zeros(50)
    cover[:5], cover[5] = 1, part
    luma = np.rint(90 + 165 * np.outer(cover, cover)).astype(np.uint8)
    found = find_nick(Image.fromarray(np.stack([luma] * 3, -1)), CORNERS[0])
    assert found is not None
    # Half a code of rounding of 165.
    assert (found.across, found.down) == pytest.approx((5 + part,) * 2, abs=0.004)


@pytest.mark.parametrize(("off", "is_nick"), [(59, True), (68, False)])
def test_the_corner_itself_is_one_color(off: int, is_nick: bool) -> None:
    """One of three corner pixels off by d codes: 2 d / 3 from their mean, which is 165 - d / 3 from the art.

    LIKE is their quotient's most: 39.3 of 145.3 is 0.27, 45.3 of 142.3 is 0.32.
    """
    assert nick.LIKE == 0.3
    luma = np.full((50, 50), 90, np.uint8)
    luma[:5, :5] = 255
    luma[0, 1] = 255 - off
    assert (find_nick(Image.fromarray(np.stack([luma] * 3, -1)), CORNERS[0]) is not None) == is_nick
