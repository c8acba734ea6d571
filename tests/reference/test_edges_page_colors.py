"""Page colors: stretches, sharp ends and chroma written down once more in numpy, or worked by hand."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np
import pytest
from edge_strips import gray, side_of

from pytest_webdeliverable.measure.edges import pages
from pytest_webdeliverable.measure.edges.pages import (
    CONTRAST,
    NEAR_CHROMA,
    NEAR_LUMA,
    NEUTRAL,
    SHARP,
    STILL,
    page_colors,
)

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.edges.profile import Profile

RNG = np.random.default_rng


def _codes(lines: Profile) -> np.ndarray:
    """The means of a side's segments, ``[line, segment, band]``."""
    return np.asarray(lines.means).astype(int)


def _way(page: np.ndarray, other: np.ndarray, *, luma: bool = False) -> float:
    """Codes between two colors: luma, and half of the larger chroma unless ``luma`` alone counts."""
    off = np.abs(np.asarray(page, float) - other)
    return float(off[0] if luma else off[0] + off[1:].max() / 2)


def _sharp(page: np.ndarray, soon: np.ndarray, later: np.ndarray) -> bool:
    """Far enough from the page, with SHARP of the way made: luma alone may tell from 16 codes on."""
    both = _way(page, soon) / max(_way(page, soon), _way(page, later), 1)
    luma = _way(page, soon, luma=True), _way(page, later, luma=True)
    alone = luma[0] / max(luma) if luma[1] >= 16 else 0
    return _way(page, soon) >= CONTRAST and max(both, alone) >= SHARP


def _sharp_ends(lines: Profile, page: np.ndarray, reach: np.ndarray, first: int) -> int:
    """All sharp ends, where 30 % share two lines next to each other, or 60 % are next to the one before."""
    codes = _codes(lines)
    ends = [
        line
        for at, line in enumerate(reach, first)
        if line >= 0 and _sharp(page, codes[line + 1, at], codes[line + 3, at])
    ]
    count = Counter(ends)
    most = max((count[line] + count[line + 1] for line in count), default=0)
    steady = sum(abs(one - other) <= 1 for one, other in zip(ends[1:], ends, strict=False))
    common = most >= 2 and (10 * most >= 3 * len(ends) or 10 * steady >= 6 * len(ends))
    return len(ends) if common else 0


def test_sharp_ends_by_hand_and_numpy() -> None:
    """Random short stretches with random ends: the same count, of which many are none."""
    rng = RNG(3)
    strip = rng.integers(0, 60, (24, 40, 3)) + np.array([200, 100, 100])
    strip[rng.integers(0, 24, 900), rng.integers(0, 40, 900), 0] -= rng.integers(0, 30, 900)
    lines = side_of(strip)
    found = []
    for _ in range(150):
        first = int(rng.integers(0, 30))
        steps = rng.choice([-1, 0, 0, 1, 5], int(rng.integers(1, 11)))
        reach = np.clip(rng.integers(0, 12) + np.cumsum(steps), -1, 20)
        page = rng.integers(195, 250), rng.integers(90, 150), rng.integers(90, 150)
        got = pages._sharp_ends(lines, page, list(reach), first)
        assert got == _sharp_ends(lines, np.array(page), reach, first)
        found.append(got)
    assert 30 < np.count_nonzero(found) < 135


@pytest.mark.parametrize(
    ("reach", "told"),
    [
        # One sharp end is none; two are, on one line or on neighboring ones.
        ([4], 0),
        ([4, 4], 2),
        ([4, 5], 2),
        ([5, 4], 2),
        ([4, 6], 0),
        # The outermost segment's end at line 0 has none before it to be steady with.
        ([0, 9, 1, 12], 4),
        # 3 of 10 on a line, and 2 of 7 (neither 30 % common nor 60 % steady).
        ([2, 2, 2, 4, 6, 8, 10, 12, 14, 16], 10),
        ([2, 2, 4, 6, 8, 10, 12], 0),
        # Stairs of 9: no line has more than 2 of 9 with its neighbor, but all are next to another.
        ([2, 3, 4, 5, 6, 7, 8, 9, 10], 9),
        # 6 of 10 next to the one before, and 5 of 10.
        ([2, 3, 4, 5, 6, 7, 8, 10, 12, 14], 10),
        ([2, 3, 4, 5, 6, 7, 9, 11, 13, 15], 0),
        # The first of 5 in a row has none before it, at whatever line: 5 of 10 and no more.
        ([9, 10, 11, 12, 13, 14, 4, 6, 2, 16], 0),
        # 5 of 9 are less than 60 %.
        ([3, 4, 5, 6, 7, 8, 11, 14, 17], 0),
        # Segments that end nowhere stand between without a word.
        ([4, -1, -1, 5], 2),
        ([-1, -1], 0),
    ],
)
def test_ends_at_common_depths_by_hand(reach: list[int], told: int) -> None:
    """Black art on all lines: each end is sharp."""
    lines = side_of(gray(np.zeros((24, 20))))
    assert pages._sharp_ends(lines, (255.0, 128.0, 128.0), reach, 3) == told


@pytest.mark.parametrize(
    ("soon", "later", "told"),
    [
        # CONTRAST codes of luma are enough; 12 of 20 codes are SHARP, 12 of 21 are not.
        (8, 8, True),
        (7, 7, False),
        (12, 20, True),
        (12, 21, False),
        # Too faint, however sharp; far enough, but on the way.
        (7, 3, False),
        (30, 90, False),
    ],
)
def test_a_sharp_end_by_hand(soon: int, later: int, told: bool) -> None:
    """Codes from the page on the first and the third line after the end; lines between are not asked."""
    assert (CONTRAST, SHARP) == (8, 0.6)
    strip = gray(np.full((24, 20), 0))
    strip[:5], strip[5, :, 0], strip[7, :, 0] = 200, 200 - soon, 200 - later
    strip[:8, :, 1:] = 128
    lines = side_of(strip)
    assert pages._sharp_ends(lines, (200.0, 128.0, 128.0), [4] * 6, 0) == 6 * told


@pytest.mark.parametrize(
    ("outer", "art", "reach", "own"),
    [
        # One page line: half its own chroma, half the art's. 148 is half way from 128 to 168.
        ((148, 128), (168, 128), [1, 1, 1, 1, 1], (128, 128)),
        ((128, 108), (128, 88), [1, 1, 1, 1, 1], (128, 128)),
        # Off by NEUTRAL codes of the doubled chroma, by one more; in either band.
        ((151, 128), (174 - NEUTRAL, 128), [1] * 5, (128, 128)),
        ((151, 128), (173 - NEUTRAL, 128), [1] * 5, (151, 128)),
        ((148, 131), (168, 134 + NEUTRAL), [1] * 5, (128, 128)),
        ((148, 131), (168, 135 + NEUTRAL), [1] * 5, (148, 131)),
        # What is neutral within NEUTRAL is told as it is.
        ((128 + NEUTRAL, 128), (128 + 2 * NEUTRAL, 128), [1] * 5, (128 + NEUTRAL, 128)),
        ((129 + NEUTRAL, 128), (130 + 2 * NEUTRAL, 128), [1] * 5, (128, 128)),
        ((128, 127 - NEUTRAL), (128, 126 - 2 * NEUTRAL), [1] * 5, (128, 128)),
        # From three lines on the outermost shows its own chroma; the median of those that end.
        ((148, 128), (168, 128), [3] * 5, (148, 128)),
        ((148, 128), (168, 128), [2] * 5, (128, 128)),
        ((148, 128), (168, 128), [-1, -1, 1, 3, 3], (148, 128)),
        ((148, 128), (168, 128), [-1, -1, 2, 2, 3], (128, 128)),
        ((148, 128), (168, 128), [0, 1, 3, 3, 0], (148, 128)),
        ((148, 128), (168, 128), [1, 1, 1, 3, 3], (128, 128)),
        ((148, 128), (168, 128), [-1] * 5, (128, 128)),
    ],
)
def test_a_pages_own_chroma_by_hand(
    outer: tuple[int, int], art: tuple[int, int], reach: list[int], own: tuple[int, int]
) -> None:
    """Segments 2 to 6 of a side whose others are of another color; lines 1, 2 and 4 on are not asked."""
    strip = np.full((24, 9, 3), 50)
    strip[0, 2:7, 1:], strip[3, 2:7, 1:] = outer, art
    strip[0, 2], strip[3, 6] = 0, 255  # one segment of five does not move a median
    assert pages._own_chroma(side_of(strip), 2, 7, reach) == own


@pytest.mark.parametrize("page", [(255.0, 128.0, 128.0), (40.0, 110.0, 150.0)])
@pytest.mark.parametrize("first", [0, 1, 30, 57])
def test_a_page_color_on_three_segments(first: int, page: tuple[float, float, float]) -> None:
    """STILL segments of 60 are a page color, also at either end; two are not, nor are three of 200.

    Of 200 segments 0.6 of SHORTEST are 5.4.
    """
    assert (STILL, pages.SHORTEST) == (3, 0.045)
    art = gray(np.arange(24 * 200).reshape(24, 200) * 37 % 90 + 90)
    strip = art[:, :60].copy()
    strip[:4, first : first + 3] = page
    assert page_colors(side_of(strip)) == [page]
    strip[:, first : first + 3] = art[:, first : first + 3]
    strip[:4, first : first + 2] = page
    assert page_colors(side_of(strip)) == []
    for many, found in ((5, []), (6, [page])):
        strip = art.copy()
        strip[:4, first : first + many] = page
        assert page_colors(side_of(strip)) == found


@pytest.mark.parametrize("band", [1, 2])
@pytest.mark.parametrize("sign", [1, -1])
def test_a_stretch_goes_on_while_chroma_does(band: int, sign: int) -> None:
    """Twice NEAR_CHROMA (18 codes) from one segment to the next is one stretch, 19 are two colors."""
    assert NEAR_CHROMA == 9
    for step in (18, 19):
        one, other = np.array((200.0, 128.0, 128.0)), np.array((200.0, 128.0, 128.0))
        other[band] += sign * step
        strip = gray(np.full((24, 60), 60))
        strip[:4, 20:25], strip[:4, 25:29] = one, other
        middle = one.copy()
        middle[band] = np.median([one[band]] * 5 + [other[band]] * 4)
        found = [tuple(middle)] if step == 18 else [tuple(one), tuple(other)]
        assert page_colors(side_of(strip)) == found
        # As many of both: the median lies between them.
        strip[:4, 29] = other
        between = tuple((one + other) / 2)
        assert page_colors(side_of(strip)) == ([between] if step == 18 else found)


@pytest.mark.parametrize(
    ("luma", "chroma", "same"),
    # 4 codes of luma at most; those and half of chroma are NEAR_CHROMA (9) at most.
    [(4, 10, True), (-4, -10, True), (4, 11, False), (0, 18, True), (5, 0, False), (-5, 0, False)],
)
def test_two_stretches_of_one_page_color(luma: int, chroma: int, same: bool) -> None:
    """Six segments and, somewhere else, five of a color near theirs: one page color or two."""
    strip = gray(np.full((24, 60), 60))
    one, other = (200.0, 128.0, 128.0), (200.0 + luma, 128.0, 128.0 + chroma)
    strip[:4, 40:46], strip[:4, 10:15] = one, other
    assert page_colors(side_of(strip)) == ([one] if same else [one, other])
    # Together they outweigh nine of another color.
    strip[:4, 25:34] = (120, 128, 128)
    third = (120.0, 128.0, 128.0)
    assert page_colors(side_of(strip)) == ([one, third] if same else [third, one, other])


def test_a_page_color_that_ends_in_two_segments() -> None:
    """Three segments of which the middle one is page on all lines: two ends are enough, one is not."""
    strip = gray(np.full((24, 60), 60))
    strip[:4, 20:23] = strip[:, 21] = (200, 128, 128)
    assert page_colors(side_of(strip)) == [(200.0, 128.0, 128.0)]
    strip[:, 20] = (200, 128, 128)
    assert page_colors(side_of(strip)) == []


@pytest.mark.parametrize(("lines", "found"), [(6, True), (5, False)])
def test_the_fewest_lines_that_tell_a_page(lines: int, found: bool) -> None:
    """One line of white: six lines are needed to tell it from the art inside it."""
    strip = gray(np.full((lines, 60), 90))
    strip[0] = (255, 128, 128)
    assert page_colors(side_of(strip)) == ([(255.0, 128.0, 128.0)] if found else [])


def _stretches(codes: np.ndarray) -> list[tuple[int, int]]:
    """Stretches of the outermost line whose luma spans NEAR_LUMA and whose chroma goes on."""
    found, at = [], 0
    while at < len(codes):
        end = at + 1
        while end < len(codes) and (
            np.ptp(codes[at : end + 1, 0]) <= NEAR_LUMA
            and np.abs(codes[end, 1:] - codes[end - 1, 1:]).max() <= 2 * NEAR_CHROMA
        ):
            end += 1
        found.append((at, end))
        at = end
    return found


def _colors(lines: Profile) -> list[tuple[float, ...]]:
    """Colors by their sharp ends, of those within 4 codes of luma and NEAR_CHROMA in all the best one."""
    codes, stirred = _codes(lines), pages._stirred(lines)
    reach = np.array(pages._own_reach(lines))
    found = []
    for first, last in _stretches(codes[0]):
        ends = reach[first:last]
        if last - first >= STILL and sum(stirred[first:last]) >= 2 and (ends > 0).any():
            chroma = pages._own_chroma(lines, first, last, list(ends))
            page = (float(np.median(codes[0, first:last, 0])), *map(float, chroma))
            found.append((_sharp_ends(lines, np.array(page), ends, first), page))
    groups: list[list[tuple[int, tuple[float, ...]]]] = []
    for ends, page in sorted((one for one in found if one[0]), key=lambda one: -one[0]):
        for group in groups:
            best = np.array(group[0][1])
            if abs(best[0] - page[0]) <= 4 and _way(best, np.array(page)) <= NEAR_CHROMA:
                group.append((ends, page))
                break
        else:
            groups.append([(ends, page)])
    sums = sorted(
        ((sum(n for n, _ in group), group[0][1]) for group in groups), key=lambda s: -s[0]
    )
    least = max(2, 0.6 * pages.SHORTEST * lines.count)
    return [page for ends, page in sums[:4] if ends >= least]


@pytest.mark.parametrize("seed", range(40))
def test_page_colors_by_numpy(seed: int) -> None:
    """Stretches of a few colors, some near each other, of all lengths; the lists of colors agree."""
    rng = RNG(seed)
    count = int(rng.integers(40, 260))
    strip = np.repeat(rng.integers(40, 120, (1, count, 3)), 24, axis=0)
    strip[..., 1:] = rng.integers(100, 156, (1, count, 2))
    colors = rng.integers([0, 110, 110], [256, 146, 146], (6, 3))
    colors[3:] = np.clip(colors[:3] + rng.integers(-6, 7, (3, 3)), 0, 255)
    at = 0
    while at < count:
        long, depth = int(rng.integers(1, 30)), int(rng.integers(0, 9))
        strip[:depth, at : at + long] = colors[rng.integers(0, 6)]
        at += long
    strip[0] += rng.integers(-3, 4, (count, 3)) * [1, 1, 1] * (rng.random((count, 1)) < 0.4)
    lines = side_of(strip)
    assert page_colors(lines) == _colors(lines)
