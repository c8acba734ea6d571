"""Whether the picture explains a run: panels, frames' corners and stripes drawn number by number."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from edge_strips import gray, side_of
from PIL import Image

from pytest_webdeliverable.measure.edges.pages import NEAR_LUMA
from pytest_webdeliverable.measure.edges.profile import LINES, Profile, profile
from pytest_webdeliverable.measure.edges.repeats import (
    ALIGNED,
    AROUND,
    BETWEEN,
    CHANGE,
    DEEP,
    END,
    SLACK,
    UPRIGHT,
    UPRIGHT_OFF,
    follows_art,
    repeats,
    turns_inward,
)
from pytest_webdeliverable.measure.edges.whole import Run, candidates

WHITE = (255.0, 128.0, 128.0)
COUNT, FIRST, LAST = 60, 20, 40


def _panel(inside: float, outside: float, top: float | None = None) -> np.ndarray:
    """A run on segments 20 to 39, other art inside it than beside it (there ``top`` on line 0)."""
    luma = np.full((24, COUNT), float(outside))
    luma[:, FIRST:LAST] = inside
    luma[0] = outside if top is None else top
    luma[:2, FIRST:LAST] = 255
    return luma


@pytest.mark.parametrize(
    ("inside", "outside", "top", "follows"),
    [
        (100, 150, None, True),
        (100, 100 + CHANGE, None, True),
        (100, 100 + CHANGE - 1, None, False),
        (100, 100, None, False),
        # The gap goes on beside the run where the outermost line differs from the art there as well.
        (100, 150, 150 - CHANGE, False),
        (100, 150, 150 - CHANGE + 1, True),
        # The page goes on, unseen, where the outermost line is nearly of its color.
        (100, 200, 255 - NEAR_LUMA - 2, False),
        (100, 255 - NEAR_LUMA - 2, None, False),
        (100, 255 - NEAR_LUMA - 3, None, True),
    ],
)
def test_a_panel_ends_where_the_art_changes(
    inside: int, outside: float, top: float | None, follows: bool
) -> None:
    """Both ends of the run are drawn alike."""
    lines = side_of(gray(_panel(inside, outside, top)))
    assert follows_art(lines, FIRST, LAST, 4, WHITE) == follows
    assert follows_art(lines, FIRST, LAST, 99, WHITE) == follows


def test_every_end_must_follow() -> None:
    """One end without a change is enough not to; ends at the side's own do not count."""
    luma = _panel(100, 150)
    luma[:, LAST:] = 100
    assert not follows_art(side_of(gray(luma)), FIRST, LAST, 4, WHITE)
    assert not follows_art(side_of(gray(luma[:, ::-1])), COUNT - LAST, COUNT - FIRST, 4, WHITE)
    plain = side_of(gray(_panel(100, 150)))
    assert not follows_art(plain, END, COUNT - END, 4, WHITE)
    changed = _panel(100, 150)
    changed[2:, :LAST] = 100
    assert follows_art(side_of(gray(changed)), 0, LAST, 4, WHITE)
    assert follows_art(side_of(gray(changed[:, ::-1])), COUNT - LAST, COUNT, 4, WHITE)


def _upright(
    columns: range, long: int = UPRIGHT, off: int = 0, depth: int = 3, height: int = 24
) -> Profile:
    """A strip of 480 px whose page is ``depth`` + 1 lines deep, with columns of it that go on inward."""
    luma = np.full((height, 480), 90, np.uint8)
    luma[: depth + 1, 160:320] = 255
    luma[depth + 1 : depth + 1 + long, columns.start : columns.stop] = 255 - off
    own = side_of(gray(np.zeros((height, COUNT))), 8)
    return replace(own, pixels=Image.fromarray(np.stack([luma] * 3, -1)))


@pytest.mark.parametrize("end", [160, 320])
def test_a_frame_turns_at_an_end_of_the_run(end: int) -> None:
    """A line of 3 px at either end, within the px looked at and beyond them."""
    for at in (-AROUND, -2, AROUND - 3):
        lines = _upright(range(end + at, end + at + 3))
        assert turns_inward(lines, FIRST, LAST, 3, WHITE)
    for at in (-AROUND - 3, AROUND):
        lines = _upright(range(end + at, end + at + 3))
        assert not turns_inward(lines, FIRST, LAST, 3, WHITE)


@pytest.mark.parametrize(
    ("width", "long", "off", "turns"),
    [
        (1, UPRIGHT, 0, True),
        # 8 of 9 lines are less than nine tenths.
        (1, UPRIGHT - 1, 0, False),
        (1, UPRIGHT, UPRIGHT_OFF, True),
        (1, UPRIGHT, UPRIGHT_OFF + 1, False),
        # Four tenths of 28 columns are 11.2.
        (11, UPRIGHT, 0, True),
        (12, UPRIGHT, 0, False),
    ],
)
def test_what_counts_as_a_line_inward(width: int, long: int, off: int, turns: bool) -> None:
    """Long enough, like the page, and not everywhere."""
    lines = _upright(range(155, 155 + width), long, off)
    assert turns_inward(lines, FIRST, LAST, 3, WHITE) == turns


def test_a_line_inward_needs_lines_and_an_end() -> None:
    """A strip that ends before UPRIGHT lines are seen; a run whose ends are the side's."""
    columns = range(158, 161)
    assert turns_inward(_upright(columns, height=4 + UPRIGHT), FIRST, LAST, 3, WHITE)
    assert not turns_inward(_upright(columns, height=3 + UPRIGHT), FIRST, LAST, 3, WHITE)
    lines = _upright(columns)
    assert not turns_inward(lines, END, COUNT - END, 3, WHITE)
    assert not turns_inward(lines, END, LAST, 3, WHITE)
    assert turns_inward(lines, FIRST, COUNT, 3, WHITE)


WIDTH, HEIGHT = 640, 400
"""80 segments of 8 px."""


def _picture(*stripes: tuple[int, int, int]) -> np.ndarray:
    """Gray art with white on its first three lines, and white stripes: line, first and last px."""
    luma = np.full((HEIGHT, WIDTH), 90, np.uint8)
    luma[:3] = 255
    for line, first, last in stripes:
        luma[line : line + 3, first:last] = 255
    return luma


def _explained(luma: np.ndarray, **change: float) -> bool:
    picture = Image.fromarray(np.stack([luma] * 3, -1))
    lines = profile(picture, "top")
    run: Run = candidates(lines, WHITE)[0]
    return repeats(picture, lines, replace(run, **change))


def test_stripes_explain_a_run() -> None:
    """A second stripe as long, wherever it is looked for; none without it, or too deep."""
    assert not _explained(_picture())
    for line in (30, 100, DEEP - 3):
        assert _explained(_picture((line, 0, WIDTH)))
    assert not _explained(_picture((DEEP, 0, WIDTH)))


@pytest.mark.parametrize(("part", "explains"), [(ALIGNED, True), (ALIGNED - 0.02, False)])
def test_stripes_must_be_long_enough(part: float, explains: bool) -> None:
    """The stripe below so much of the run: 56 of 80 segments are ALIGNED."""
    assert _explained(_picture((40, 0, int(part * WIDTH)))) == explains


@pytest.mark.parametrize(("step", "explains"), [(SLACK, True), (SLACK + 1, False)])
def test_stripes_lie_at_one_depth(step: int, explains: bool) -> None:
    """Half of the stripe at line 40, a quarter above and below it, SLACK px off and one more."""
    at = [(40, 0, 320), (40 - step, 320, 480), (40 + step, 480, 640)]
    assert _explained(_picture(*at)) == explains


def test_ground_between_letters_comes_back_at_any_depth() -> None:
    """The same scattered stripes explain a run with ground between its segments."""
    at = [(30 + 7 * (px // 16 % 9), px, px + 16) for px in range(0, WIDTH, 16)]
    assert not _explained(_picture(*at))
    assert _explained(_picture(*at), ground=BETWEEN)
    assert not _explained(_picture(*at), ground=BETWEEN - 0.01)
    # Below 54 of 80 segments: less than SMALL, and at no one depth.
    assert not _explained(_picture(*at[:27]), ground=BETWEEN)


def test_a_stripe_that_runs_on_explains_no_end() -> None:
    """The run is 400 px long: a stripe below it alone explains it, one as long as the side does not."""
    for first, last in ((0, 400), (240, 640)):
        below, beyond = _picture((40, first, last)), _picture((40, 0, WIDTH))
        for luma in (below, beyond):
            luma[:3, : first or 0] = 90
            luma[:3, last:] = 90
        assert _explained(below)
        assert not _explained(beyond)


def test_small_pictures_show_no_period() -> None:
    """Half of the smaller side must be deeper than the lines of a profile."""
    for height, told in ((2 * LINES, False), (2 * LINES + 2, True)):
        luma = _picture((14, 0, WIDTH))[:height]
        picture = Image.fromarray(np.stack([luma] * 3, -1))
        lines = profile(picture, "top")
        (run, *_) = candidates(lines, WHITE)
        assert repeats(picture, lines, run) == told
