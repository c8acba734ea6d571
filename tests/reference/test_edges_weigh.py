"""What counts as a gap: one sound finding, and each single condition at and just beyond its border.

The borders are the module's own named numbers where it names them; what they are good for is measured on
the corpus (tests/edges, benchmarks), this holds each condition to its border and to its side.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import Any

import pytest
from edge_strips import seen

from pytest_webdeliverable.measure.edges import weigh
from pytest_webdeliverable.measure.edges.depths import DEEPEST
from pytest_webdeliverable.measure.edges.nick import Nick
from pytest_webdeliverable.measure.edges.part import PartRun
from pytest_webdeliverable.measure.edges.weigh import nick_counts, part_counts, whole_counts
from pytest_webdeliverable.measure.edges.whole import Run

COUNT = 200
"""Segments of the side: enough that one more is less than each share's border."""
WHITE, ART = (255.0, 128.0, 128.0), (120.0, 128.0, 128.0)

RUN = Run(
    first=0,
    last=COUNT,
    depth_first=3.0,
    depth_last=3.0,
    page=WHITE,
    art=ART,
    told=180,
    share=1.0,
    contrast=135.0,
    spread=20.0,
    sharp=1.0,
    lasting=1.0,
    banded=False,
    back=0.0,
    ground=0.0,
    opens=0,
    grain=0.0,
    drift=0.0,
    seen=seen(WHITE, ART),
)
HALF = {"told": 40, "last": 44}
"""A run that is neither long nor short."""
BRIEF = {"told": 20, "last": 22}
"""A run that must be plainer in every way."""
TINY = 1e-6
SLANT = {"depth_first": 3.0, "depth_last": 1.0}


def test_the_sound_runs_count() -> None:
    """Each of them is violated in one condition below."""
    assert whole_counts(RUN, COUNT)
    assert BRIEF["told"] < weigh.SHORT * COUNT <= HALF["told"] < weigh.LONG * COUNT
    assert whole_counts(replace(RUN, **HALF), COUNT)
    assert whole_counts(replace(RUN, **BRIEF), COUNT)


@pytest.mark.parametrize(
    ("base", "name", "border", "beyond"),
    [
        ({}, "sharp", 0.7, -TINY),
        ({}, "share", 0.75, -TINY),
        ({}, "lasting", weigh.PLAIN_LASTING, -TINY),
        ({"share": weigh.PLAIN_SHARE - TINY}, "lasting", weigh.LASTING, -TINY),
        ({"sharp": weigh.PLAIN_SHARP - TINY}, "lasting", weigh.LASTING, -TINY),
        ({"told": int(weigh.PLAIN_LENGTH * COUNT) - 1}, "lasting", weigh.LASTING, -TINY),
        ({"drift": -weigh.PLAIN_GRAIN - TINY}, "lasting", weigh.LASTING, -TINY),
        ({"contrast": weigh.PLAIN_CONTRAST - 1}, "lasting", weigh.LASTING, -TINY),
        # The largest of 2 codes and 6 % of the contrast: 8.1 of 135, 2 of 31.
        ({"grain": weigh.PLAIN_RINGING * 135 + 0.1}, "lasting", weigh.LASTING, -TINY),
        ({"contrast": 31.0, "grain": 2.1}, "lasting", weigh.LASTING, -TINY),
        ({}, "back", 0.8, TINY),
        ({"told": round(weigh.LONG * COUNT)}, "back", 0.8, TINY),
        ({"told": round(weigh.LONG * COUNT)}, "seen", weigh.SEEN_LONG, -TINY),
        ({"sharp": 0.84}, "told", round(weigh.SHORT * COUNT), -1),
        (HALF, "back", 0.5, TINY),
        (HALF, "opens", 0, 1),
        (HALF, "opens", 0, 2),
        ({"told": 69}, "opens", 0, 1),
        ({}, "seen", weigh.SEEN_LONG, -TINY),
        (HALF, "seen", weigh.SEEN_SHORT, -TINY),
        (SLANT, "seen", weigh.SEEN_SHORT, -TINY),
        # 15 % of 135 codes, or 6 of 30.
        ({}, "grain", 20.25, TINY),
        ({"contrast": 30.0}, "grain", 6.0, TINY),
        ({}, "drift", 6.0, TINY),
        ({}, "drift", -6.0, -TINY),
        (BRIEF, "sharp", 0.85, -TINY),
        (BRIEF, "share", 0.9, -TINY),
        (BRIEF, "back", 0.3, TINY),
        # 5 % of 135 codes, or 4 of 40.
        (BRIEF, "grain", 6.75, TINY),
        (BRIEF | {"contrast": 40.0}, "grain", 4.0, TINY),
        (BRIEF, "drift", 2.3, TINY),
        (BRIEF, "drift", -2.3, -TINY),
        (BRIEF, "contrast", 20.0, -TINY),
    ],
)
def test_each_condition_of_a_whole_run(
    base: dict[str, Any], name: str, border: float, beyond: float
) -> None:
    """At its border a run counts, just beyond it does not, all else being sound."""
    at = replace(RUN, **{**base, name: border})
    assert whole_counts(at, COUNT)
    assert whole_counts(replace(at, **{name: border + beyond}), COUNT) is False


@pytest.mark.parametrize(
    ("change", "counts"),
    [
        ({"told": int(weigh.PLAIN_LENGTH * COUNT)}, True),
        ({"share": weigh.PLAIN_SHARE}, True),
        ({"sharp": weigh.PLAIN_SHARP}, True),
        ({"grain": weigh.PLAIN_RINGING * 135}, True),
        ({"drift": weigh.PLAIN_GRAIN}, True),
        ({"contrast": weigh.PLAIN_CONTRAST, "grain": weigh.PLAIN_GRAIN}, True),
        ({"told": 60, "opens": 1}, False),
    ],
)
def test_a_plain_page_may_last_less(change: dict[str, Any], counts: bool) -> None:
    """At each border of what is plain, the lower of the two borders of lasting holds."""
    assert weigh.PLAIN_LASTING < weigh.LASTING
    run = replace(RUN, **{"lasting": weigh.PLAIN_LASTING, **change})
    assert whole_counts(run, COUNT) == counts


def test_a_straight_gap_has_a_deepest_depth_and_a_wedge_has_not() -> None:
    """DEEPEST holds for straight runs; a long run may be open at its ends."""
    deep = {"depth_first": DEEPEST, "depth_last": DEEPEST}
    assert whole_counts(replace(RUN, **deep), COUNT)
    deeper = dict.fromkeys(deep, DEEPEST + 0.01)
    assert whole_counts(replace(RUN, **deeper), COUNT) is False
    assert whole_counts(replace(RUN, **{**deeper, "depth_first": 0.0}), COUNT)
    assert whole_counts(replace(RUN, told=70, opens=2), COUNT)


def test_clear_gaps_need_not_be_seen_nor_still() -> None:
    """Alpha asks for shape alone: but for its shape as much as color does."""
    faint = replace(RUN, seen=0.0, grain=99.0, drift=99.0, contrast=9.0)
    assert whole_counts(faint, COUNT, alpha=True)
    assert whole_counts(replace(faint, **BRIEF), COUNT, alpha=True)
    for change in ({"sharp": 0.69}, {"share": 0.74}, {"back": 0.81}, {"lasting": 0.2}):
        assert not whole_counts(replace(faint, **change), COUNT, alpha=True)


PART = PartRun(
    first=20,
    last=180,
    share_first=0.5,
    share_last=0.5,
    page=WHITE,
    speaks=500.0,
    agree=1.0,
    told=1.0,
    art=ART,
    line=(187.0, 128.0, 128.0),
    seen=20.0,
)
LITTLE = {"last": 20 + int(weigh.LONG * COUNT) - 1}
FAINT = {"share_first": weigh.FAINT_SHARE - 0.01, "share_last": weigh.FAINT_SHARE - 0.01}


@pytest.mark.parametrize(
    ("base", "name", "border", "beyond"),
    [
        ({}, "last", 20 + round(weigh.SHORTEST_PART * COUNT), -1),
        (FAINT, "last", 20 + round(weigh.FAINT_LENGTH * COUNT), -1),
        ({}, "speaks", weigh.LOUD, -TINY),
        ({"last": 20 + int(weigh.LONG * COUNT)}, "speaks", weigh.LOUD, -TINY),
        (LITTLE, "speaks", 2 * weigh.LOUD, -TINY),
        ({}, "agree", 0.7, -TINY),
        ({}, "told", 0.65, -TINY),
        ({}, "seen", weigh.SEEN_LONG, -TINY),
        (FAINT, "seen", weigh.SEEN_SHORT, -TINY),
        # Slanting stretches must be deepest at an end: 6 % of 200 segments are 12.
        ({"share_last": 0.2}, "first", 12, 1),
        ({"share_first": 0.2}, "last", 188, -1),
    ],
)
def test_each_condition_of_a_part(
    base: dict[str, Any], name: str, border: float, beyond: float
) -> None:
    """At its border a part-covered line counts, just beyond it does not."""
    at = replace(PART, **{**base, name: border})
    assert part_counts(at, COUNT)
    assert part_counts(replace(at, **{name: border + beyond}), COUNT) is False


def test_a_part_is_as_loud_as_its_deeper_end() -> None:
    """One end at the border of faint is enough not to be; slants near the corner by three segments."""
    ends = {"share_first": weigh.FAINT_SHARE, "share_last": 0.1, "first": 0}
    assert part_counts(replace(PART, **ends, seen=weigh.SEEN_LONG), COUNT)
    # 6 % of 20 segments is 1: three count as near all the same.
    assert part_counts(replace(PART, share_last=0.2, first=3, last=20), 20)
    assert not part_counts(replace(PART, share_last=0.2, first=4, last=20), 20)


GRAY = (120.0, 120.0, 120.0)
NICK = Nick(("top", "left"), 4.0, 4.0, "square", 0.15, (255.0,) * 3, GRAY, 135.0)


def _nick(**change: Any) -> Nick:
    return replace(NICK, **change)


def _counts(nick: Nick, *others: Nick) -> bool:
    return nick_counts(nick, [nick, *others])


@pytest.mark.parametrize(
    ("base", "name", "border", "beyond"),
    [
        ({}, "misfit", weigh.MISFIT, TINY),
        ({}, "contrast", weigh.FAINT_NICK, -TINY),
        ({"shape": "round", "down": 11.0}, "across", weigh.LARGEST_ROUND, TINY),
        ({"shape": "round", "across": 11.0}, "down", weigh.LARGEST_ROUND, TINY),
        ({"page": (255, 255, 255, weigh.HALF_CLEAR - 1)}, "misfit", inf, None),
        ({"contrast": 5.0}, "misfit", weigh.CLEAN_NICK, TINY),
        ({"contrast": 5.0, "misfit": 0.0, "down": 3.0}, "across", weigh.SMALLEST_CLEAN, -TINY),
        ({"contrast": 5.0, "misfit": 0.0, "across": 3.0}, "down", weigh.SMALLEST_CLEAN, -TINY),
    ],
)
def test_each_condition_of_a_nick(
    base: dict[str, Any], name: str, border: float, beyond: float | None
) -> None:
    """At its border a nick counts, just beyond it does not; a clear one counts whatever its fit."""
    at = replace(NICK, **{**base, name: border})
    assert _counts(at)
    if beyond is not None:
        assert _counts(replace(at, **{name: border + beyond})) is False


def test_a_corner_is_seen_through_below_half_clear() -> None:
    """At HALF_CLEAR it has to fit like any other color."""
    assert not _counts(_nick(page=(255, 255, 255, weigh.HALF_CLEAR), misfit=0.5))


@pytest.mark.parametrize(
    ("change", "meant"),
    [
        ({}, True),
        ({"shape": "triangle"}, True),
        ({"shape": "square"}, False),
        ({"across": 6.0 + weigh.ALIKE}, True),
        ({"across": 6.0 + weigh.ALIKE + TINY}, False),
        ({"down": 6.0 - weigh.ALIKE}, True),
        ({"down": 6.0 - weigh.ALIKE - TINY}, False),
    ],
)
def test_two_corners_alike_are_meant(change: dict[str, Any], meant: bool) -> None:
    """Rounded or cut, and alike to ALIKE px; one corner alone is a fault."""
    own = _nick(shape="round", across=6.0, down=6.0)
    other = replace(own, corner=("bottom", "right"), **change)
    assert _counts(own)
    assert _counts(own, other) is (not meant)


def test_small_or_square_corners_are_not_meant() -> None:
    """The greater leg decides, from MEANT on; squares never are."""
    own = _nick(shape="round", across=weigh.MEANT, down=2.0)
    assert not _counts(own, replace(own))
    small = replace(own, across=weigh.MEANT - TINY)
    assert _counts(small, replace(small))
    assert _counts(NICK, replace(NICK, shape="round"))
