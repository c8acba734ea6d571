"""Whether the picture explains a run, step by step: which segments and lines are asked, by hand.

Pictures are 640 px wide: 80 segments of 8 px. Page is white on the first three lines, art is 90.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from edge_strips import gray, side_of
from PIL import Image

from pytest_webdeliverable.measure.edges.profile import profile
from pytest_webdeliverable.measure.edges.repeats import follows_art, repeats, turns_inward
from pytest_webdeliverable.measure.edges.whole import candidates

WHITE = (255.0, 128.0, 128.0)
BLACK = (0.0, 128.0, 128.0)
COUNT, SEGMENT = 80, 8


def _art(height: int = 400, run: range = range(COUNT)) -> np.ndarray:
    """Return art as ``[line, segment]`` with the page on the first three lines of a run."""
    luma = np.full((height, COUNT), 90, np.uint8)
    luma[:3, run.start : run.stop] = 255
    return luma


def _picture(luma: np.ndarray) -> Image.Image:
    pixels = np.repeat(luma, SEGMENT, axis=1)
    return Image.fromarray(np.stack([pixels] * 3, -1))


FOUND = candidates(profile(_picture(_art()), "top"), WHITE)[0]
"""Any sound run; which segments it has, and how deep it is, is said in each test."""


def _explained(
    luma: np.ndarray, first: int, last: int, depth: float = 3.0, **change: float
) -> bool:
    run = replace(FOUND, first=first, last=last, depth_first=depth, depth_last=depth, **change)
    picture = _picture(luma)
    return repeats(picture, profile(picture, "top"), run)


@pytest.mark.parametrize(("line", "told"), [(6, True), (159, True), (160, False)])
def test_how_deep_it_is_looked(line: int, told: bool) -> None:
    """160 lines, as the manual says, from the third beyond a run 3 px deep on."""
    luma = _art()
    luma[line] = 255
    assert _explained(luma, 0, COUNT) == told


@pytest.mark.parametrize(("depth", "told"), [(3.0, True), (3.9, True), (4.0, False), (5.0, False)])
def test_right_below_a_run_nothing_comes_back(depth: float, told: bool) -> None:
    """Its last line, 3, and two more may be mixes: line 6 may be the page again, of a deeper one not."""
    luma = _art()
    luma[6] = 255
    assert _explained(luma, 0, COUNT, depth) == told


def test_only_segments_of_the_run_that_show_the_page_are_asked() -> None:
    """20 of 80 do not, and 10 are page on below it; below 35 of the 50 others, 70 %, it comes back."""
    luma = _art()
    luma[:3, :20] = 90
    luma[:12, 20:30] = 255
    luma[40, 30:65] = 255
    assert _explained(luma, 0, COUNT)
    luma[40, 64] = 90
    assert not _explained(luma, 0, COUNT)
    # Below the others it may.
    luma[40, :30] = 255
    assert not _explained(luma, 0, COUNT)


@pytest.mark.parametrize(("first", "last", "told"), [(30, 65, True), (30, 64, False)])
def test_segments_beside_a_run_are_not_of_it(first: int, last: int, told: bool) -> None:
    """A run of segments 30 to 79: 35 of 50."""
    luma = _art()
    luma[40, first:last] = 255
    luma[20, :30] = 255
    assert _explained(luma, 30, COUNT) == told
    assert _explained(luma[:, ::-1], 0, 50) == told


@pytest.mark.parametrize(("off", "told"), [(2, True), (3, False)])
@pytest.mark.parametrize("sign", [-1, 1])
def test_depths_that_are_alike(off: int, sign: int, told: bool) -> None:
    """41 segments at line 40, 15 of them two lines off: 56 of 80 are 70 %."""
    luma = _art()
    luma[40, :41] = 255
    luma[40 + sign * off, 41:56] = 255
    assert _explained(luma, 0, COUNT) == told


@pytest.mark.parametrize(("count", "ground", "told"), [(68, 0.12, True), (67, 0.12, False)])
def test_a_ground_between_letters(count: int, ground: float, told: bool) -> None:
    """It comes back below 85 % of the segments, at any depth; 12 % of ground make it one."""
    luma = _art()
    for at in range(count):
        luma[20 + 3 * (at % 40), at] = 255
    assert _explained(luma, 0, COUNT, ground=ground) == told
    assert not _explained(luma, 0, COUNT, ground=0.115)


@pytest.mark.parametrize(("count", "told"), [(20, True), (21, False)])
def test_stripes_that_run_on_beyond_a_run(count: int, told: bool) -> None:
    """The run has 49 segments of 80; of the 30 beyond it but one, 70 % are 21."""
    luma = _art(run=range(49))
    luma[40, : 50 + count] = 255
    assert _explained(luma, 0, 49) == told
    assert _explained(luma[:, ::-1], 31, COUNT) == told
    # Where the page shows at the very edge as well, nothing is beyond it.
    luma[0, 71:] = 255
    assert not _explained(luma, 0, 49)


@pytest.mark.parametrize(("beyond", "told"), [(7, True), (8, False)])
def test_little_beyond_a_run_tells_nothing(beyond: int, told: bool) -> None:
    """A tenth of the side, 8 segments, without the one beside the run."""
    last = COUNT - 1 - beyond
    luma = _art(run=range(last))
    luma[40] = 255
    assert _explained(luma, 0, last) == told
    assert _explained(luma[:, ::-1], COUNT - last, COUNT) == told


@pytest.mark.parametrize(
    ("line", "goes_on"), [(37, False), (38, True), (40, True), (42, True), (43, False)]
)
def test_at_which_depth_a_stripe_runs_on(line: int, goes_on: bool) -> None:
    """Two lines off at most."""
    luma = _art(run=range(50))
    luma[40, :50] = 255
    luma[line, 51:] = 255
    assert _explained(luma, 0, 50) == (not goes_on)


@pytest.mark.parametrize("line", [157, 158, 159])
def test_a_stripe_that_runs_on_at_the_last_lines(line: int) -> None:
    """Further in nothing is asked, be there lines or not."""
    luma = _art(run=range(50))
    luma[line] = 255
    assert not _explained(luma, 0, 50)
    luma[line, 50:] = 90
    assert _explained(luma, 0, 50)


def test_the_first_line_after_a_shallow_run() -> None:
    """A part-covered line, 0.5 px: a stripe from line 3 on, which runs on beyond it or does not."""
    luma = _art(run=range(50))
    luma[1:3] = 90
    luma[3] = 255
    assert not _explained(luma, 0, 50, 0.5)
    luma[3, 50:] = 90
    assert _explained(luma, 0, 50, 0.5)


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize(("inside", "outside"), [(22, 18), (21, 18), (23, 18), (22, 17), (22, 19)])
def test_which_segments_tell_a_change(inside: int, outside: int, mirrored: bool) -> None:
    """The third of the run's and the second beside it: others may hold letters or soft borders."""
    luma = np.full((24, COUNT), 150.0)
    luma[2:, 20:] = 100
    luma[:2, 20:] = 255
    # Only two segments differ from what hides the change.
    hidden = luma.copy()
    hidden[2:, 20:25] = 150
    hidden[2:, inside] = 100
    hidden[:, 15:20] = 100
    hidden[:, outside] = 150
    want = (inside, outside) == (22, 18)
    if mirrored:
        lines, first, last = side_of(gray(hidden[:, ::-1])), 0, COUNT - 20
    else:
        lines, first, last = side_of(gray(hidden)), 20, COUNT
    assert follows_art(lines, first, last, 4, WHITE) == want


@pytest.mark.parametrize(("end", "counts"), [(3, False), (4, True)])
def test_how_near_an_end_is_the_sides_own(end: int, counts: bool) -> None:
    """Three segments; a run that reaches both ends follows nothing."""
    luma = np.full((24, COUNT), 150.0)
    luma[2:, end:] = 100
    luma[:2, end:] = 255
    assert follows_art(side_of(gray(luma)), end, COUNT, 4, WHITE) == counts
    assert follows_art(side_of(gray(luma[:, ::-1])), 0, COUNT - end, 4, WHITE) == counts


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("line", [None, range(3), range(19, 22)])
def test_a_line_inward_near_a_sides_end(line: range | None, mirrored: bool) -> None:
    """The run begins at px 8 of segments of 2 px: 14 px before that there is no picture, be it black or not."""
    luma = np.full((24, 160), 150)
    luma[:4, 8:] = 0
    if line:
        luma[4:, line.start : line.stop] = 0
    own = side_of(gray(luma[:, ::-1] if mirrored else luma))
    own = replace(own, segment=2)
    ends = (0, COUNT - 4) if mirrored else (4, COUNT)
    assert turns_inward(own, *ends, 3, BLACK) == (line is not None)


@pytest.mark.parametrize(("width", "told"), [(1, True), (8, True), (9, False)])
@pytest.mark.parametrize("mirrored", [False, True])
def test_a_line_inward_is_no_field(width: int, told: bool, mirrored: bool) -> None:
    """Six px from the side's end 20 are looked at: four tenths, 8 px, may be of the page color."""
    luma = np.full((24, COUNT), 150)
    luma[:4, 6:] = 255
    luma[4:, :width] = 255
    own = side_of(gray(luma[:, ::-1] if mirrored else luma))
    ends = (0, COUNT - 6) if mirrored else (6, COUNT)
    assert turns_inward(own, *ends, 3, WHITE) == told


@pytest.mark.parametrize(("end", "told"), [(0, False), (3, False), (4, True)])
@pytest.mark.parametrize("mirrored", [False, True])
def test_a_frame_turns_at_no_end_of_the_side(end: int, told: bool, mirrored: bool) -> None:
    """Three segments from it a run's end is the side's, whatever goes on inward there."""
    luma = np.full((24, COUNT * SEGMENT), 150)
    luma[:4] = 255
    luma[4:, SEGMENT * end + 2 : SEGMENT * end + 5] = 255
    own = side_of(gray(luma[:, ::-1] if mirrored else luma))
    own = replace(profile(own.pixels, "top", 24), segment=SEGMENT)
    ends = (0, own.count - end) if mirrored else (end, own.count)
    assert own.count == COUNT
    assert turns_inward(own, *ends, 3, WHITE) == told


@pytest.mark.parametrize(("asked", "changed"), [(4, 4), (22, 22), (23, 23), (24, 23), (99, 23)])
def test_on_which_line_a_change_is_asked(asked: int, changed: int) -> None:
    """The one given, or the strip's last; on no other line does the art change."""
    luma = np.full((24, COUNT), 150.0)
    luma[:2, 20:] = 255
    luma[changed, 20:] = 100
    assert follows_art(side_of(gray(luma)), 20, COUNT, asked, WHITE)
    luma[changed] = 150
    luma[[line for line in range(2, 24) if line != changed], 20:] = 100
    assert not follows_art(side_of(gray(luma)), 20, COUNT, asked, WHITE)


@pytest.mark.parametrize(("edge", "follows"), [(247, False), (246, True)])
def test_a_page_that_goes_on_unseen(edge: int, follows: bool) -> None:
    """Beside the run the outermost line is 8 codes off the page, or 9; the next line is not asked."""
    luma = np.full((24, COUNT), 240.0)
    luma[0], luma[1] = edge, 200
    luma[2:, 20:] = 100
    luma[:2, 20:] = 255
    assert follows_art(side_of(gray(luma)), 20, COUNT, 4, WHITE) == follows
