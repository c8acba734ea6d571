"""Which sides make a frame: four sides of one line each, of which one differs by a number worked by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from edge_strips import gray, seen, side_of

from pytest_webdeliverable.measure.edges.outline import outline_facts
from pytest_webdeliverable.measure.edges.types import SIDES, Outline, Side

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.edges.profile import Profile

ART, INK = 100.0, 200.0


def _luma(inset: int = 6, width: int = 2, ink: float = INK) -> np.ndarray:
    """Art with one line, which stops a few px before the side's ends."""
    luma = np.full((24, 60), ART)
    luma[inset : inset + width, 1:-1] = ink
    return luma


def _sides(**change: dict[str, float]) -> Outline | None:
    """Return the frame of four sides, each 200 on 100, 6 px in and 2 px wide but for what is changed."""
    sides: dict[Side, Profile] = {
        side: side_of(gray(_luma(**change.get(side, {}))), 8) for side in SIDES
    }
    return outline_facts(sides)


def test_four_sides_alike() -> None:
    """All that is said of it; CIEDE2000 by the JFIF matrix."""
    assert _sides() == {
        "sides": list(SIDES),
        "inset": 6.0,
        "width": 2.0,
        "color": "#c8c8c8",
        "delta-e": round(seen((INK, 128, 128), (ART, 128, 128)), 1),
    }


@pytest.mark.parametrize(
    ("change", "alike"),
    [
        ({"inset": 7}, True),
        ({"inset": 8}, False),
        ({"inset": 5}, True),
        ({"inset": 4}, False),
        ({"width": 3}, True),
        ({"width": 4}, False),
        ({"width": 1}, True),
        ({"ink": 212}, True),
        ({"ink": 213}, False),
        ({"ink": 188}, True),
        ({"ink": 187}, False),
    ],
)
@pytest.mark.parametrize("side", SIDES)
def test_the_lines_of_one_frame_are_alike(
    side: Side, change: dict[str, float], alike: bool
) -> None:
    """To a px in and in width, and to 12 codes of color; without one side it is a frame of three."""
    found = _sides(**{side: change})
    assert found is not None
    assert found["sides"] == [own for own in SIDES if alike or own != side]
    assert found["inset"] == found["inset"] // 1
    assert (found["inset"], found["width"]) == (6.0, 2.0)


def test_two_sides_that_differ_leave_none() -> None:
    """Two alike are too few, be the others lines or not."""
    assert _sides(left={"inset": 9}, top={"width": 5}) is None
    assert _sides(left={"ink": ART}, top={"ink": ART}) is None
    assert _sides(left={"ink": ART}) is not None


def test_the_plainest_side_tells_the_color() -> None:
    """Of lines that are alike, the one that differs most from its art."""
    found = _sides(top={"ink": 207.0}, right={"ink": 197.0})
    assert found is not None
    assert found["color"] == "#cfcfcf"
    assert found["delta-e"] == round(seen((207, 128, 128), (ART, 128, 128)), 1)


def test_the_outer_of_two_frames_is_told() -> None:
    """Both run along all sides."""
    luma = _luma(3)
    luma[12:14, 1:-1] = INK
    found = outline_facts({side: side_of(gray(luma), 8) for side in SIDES})
    assert found is not None
    assert (found["sides"], found["inset"]) == (list(SIDES), 3.0)


def test_the_largest_set_of_lines_alike_is_the_frame() -> None:
    """Each side has the frame's line, three another one as well, nearer or further in."""
    for inset in (2, 12):
        sides: dict[Side, Profile] = {}
        for side in SIDES:
            luma = _luma()
            if side != "top":
                luma[inset, 1:-1] = INK
            sides[side] = side_of(gray(luma), 8)
        found = outline_facts(sides)
        assert found is not None
        assert (found["sides"], found["inset"], found["width"]) == (list(SIDES), 6.0, 2.0)


@pytest.mark.parametrize("open_side", SIDES)
@pytest.mark.parametrize("end", [0, 1])
@pytest.mark.parametrize("without", [None, *SIDES])
def test_a_line_that_runs_past_its_neighbor_is_no_frame(
    open_side: Side, end: int, without: Side | None
) -> None:
    """By a side's ends: left and right begin at the top, top and bottom at the left.

    Where that neighbor has no line there is nothing to run past.
    """
    upright = open_side in {"left", "right"}
    neighbor: Side = ("top", "bottom")[end] if upright else ("left", "right")[end]
    if without == open_side:
        return
    sides: dict[Side, Profile] = {}
    for side in SIDES:
        luma = _luma()
        if side == open_side:
            luma[6:8, -1 if end else 0] = INK
        if side == without:
            luma[:] = ART
        sides[side] = side_of(gray(luma), 8)
    assert (outline_facts(sides) is not None) == (neighbor == without)
