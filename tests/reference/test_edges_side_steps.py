"""A side's findings put together: which mix is asked first, what gives way to what, how it is told."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from edge_strips import cut, gray, side_of
from PIL import Image

from pytest_webdeliverable.measure.edges import gaps
from pytest_webdeliverable.measure.edges.gaps import (
    _choose,
    _part_runs,
    _side_gaps,
)
from pytest_webdeliverable.measure.edges.part import PartRun
from pytest_webdeliverable.measure.edges.profile import Profile, profile
from pytest_webdeliverable.measure.edges.weigh import LOUDER
from pytest_webdeliverable.measure.edges.whole import Run, candidates

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.edges.types import Gap

WHITE, BLACK, GRAY = (255.0, 128.0, 128.0), (0.0, 128.0, 128.0), (120.0, 128.0, 128.0)
ART = (100.0, 128.0, 128.0)
COUNT = 100
PICTURE = Image.new("RGB", (800, 600))
BASE = np.repeat(gray(np.random.default_rng(1).integers(60, 150, (1, COUNT))), 24, axis=0)
LINES = side_of(cut(BASE, np.array(WHITE), np.ones(COUNT)), 8)
MIXED = side_of(cut(BASE, np.array(WHITE), np.full(COUNT, 0.5)), 8)
RUN: Run = replace(candidates(LINES, WHITE)[0], depth_first=1.0, depth_last=1.0)
PART = PartRun(0, COUNT, 0.5, 0.5, WHITE, 99.0, 1.0, 1.0, ART, (177.5, 128.0, 128.0), 20.0)


def _asked(
    patch: pytest.MonkeyPatch, loud: dict[Any, float], rivals: dict[Any, float], **part: Any
) -> dict[Any, PartRun]:
    """Give what each page's mix says, and what its rivals say."""
    runs = {page: replace(PART, page=page, speaks=speaks, **part) for page, speaks in loud.items()}
    patch.setattr(gaps, "restless", lambda _: True)
    patch.setattr(gaps, "unknown_page", lambda *_: [GRAY])
    patch.setattr(gaps, "part_run", lambda _, page, __: runs.get(page))
    patch.setattr(gaps, "part_counts", lambda run, count: count == COUNT and run.agree > 0)
    patch.setattr(gaps, "rival", lambda _, page, __: rivals.get(page, 0.0))
    return runs


@pytest.mark.parametrize(
    ("loud", "rivals", "told"),
    [
        ({WHITE: 50, BLACK: 80}, {}, BLACK),
        ({WHITE: 80, BLACK: 50}, {}, WHITE),
        ({GRAY: 50}, {}, GRAY),
        # LOUDER than its rivals is one that says exactly so many times as much.
        ({WHITE: 50, BLACK: 80}, {BLACK: 80 / LOUDER + 0.01, WHITE: 50 / LOUDER}, WHITE),
        ({WHITE: 50, BLACK: 80}, {BLACK: 80 / LOUDER, WHITE: 50 / LOUDER}, BLACK),
        # The third is not asked.
        ({WHITE: 50, BLACK: 80, GRAY: 70}, {BLACK: 99, GRAY: 99}, None),
        ({WHITE: 50, BLACK: 80, GRAY: 70}, {BLACK: 99}, GRAY),
        ({}, {}, None),
    ],
)
def test_the_two_loudest_mixes_are_asked(
    monkeypatch: pytest.MonkeyPatch, loud: Any, rivals: Any, told: Any
) -> None:
    """White, black and the color that the line points to, the loudest first."""
    runs = _asked(monkeypatch, loud, rivals)
    assert _part_runs(LINES, []) == ([runs[told]] if told else [])


def test_the_page_of_a_whole_run_is_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """A gap that ends in a mix has the page of its whole lines."""
    page = (200.0, 100.0, 150.0)
    runs = _asked(monkeypatch, {page: 90.0}, {})
    assert _part_runs(LINES, []) == []
    assert _part_runs(LINES, [replace(RUN, page=page)]) == [runs[page]]


def test_a_mix_that_does_not_count_is_not_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nor is any where the outermost line does not stand out."""
    _asked(monkeypatch, {WHITE: 90.0}, {}, agree=0.0)
    assert _part_runs(LINES, []) == []
    runs = _asked(monkeypatch, {WHITE: 90.0}, {})
    assert _part_runs(LINES, []) == [runs[WHITE]]
    monkeypatch.setattr(gaps, "restless", lambda _: False)
    assert _part_runs(LINES, []) == []


@pytest.mark.parametrize(("line", "step", "told"), [(2, 5, 2), (2, 4, 1), (1, 4, 2), (3, 4, 2)])
@pytest.mark.parametrize("answer", ["follows_art", "turns_inward"])
def test_a_mix_beside_drawn_art(
    monkeypatch: pytest.MonkeyPatch, answer: str, line: int, step: int, told: int
) -> None:
    """Where the third line varies by less than 2.5 along the stretch, a panel's border is no gap.

    Codes of 100 and 105 by turns have a standard deviation of 2.5, of 100 and 104 one of 2. The
    stretch is 20 to 80; beyond it the line varies more. The next loudest mix is asked then.
    """
    strip = gray(np.full((24, COUNT), 100))
    strip[:, ::2] += 30
    strip[line, 20:80, 0] = np.resize([100, 100 + step], 60)
    asked: list[tuple[Any, ...]] = []

    def explains(*given: Any) -> bool:
        asked.append(given[1:])
        return given[4][0] > 150

    for name in ("follows_art", "turns_inward"):
        monkeypatch.setattr(gaps, name, explains if name == answer else lambda *_: False)
    runs = _asked(monkeypatch, {WHITE: 90.0, BLACK: 50.0}, {}, first=20, last=80)
    runs[BLACK].line = (60.0, 128.0, 128.0)
    assert _part_runs(side_of(strip, 8), []) == [runs[WHITE if told == 2 else BLACK]]
    depth = 2 if answer == "follows_art" else 0
    want = [(20, 80, depth, runs[page].line) for page in (WHITE, BLACK)]
    assert asked == ([] if told == 2 else want)


@pytest.mark.parametrize(
    ("lines", "runs", "part", "kept"),
    [
        # The one that is told most says whether the art is flat.
        (LINES, [{"spread": 0.0, "last": 60, "told": 60}, {"first": 60, "told": 40}], {}, True),
        (LINES, [{"spread": 0.0, "last": 40, "told": 40}, {"first": 40, "told": 60}], {}, False),
        # Three runs that follow one upon another are one mix.
        (LINES, [{"last": 30}, {"first": 30, "last": 60}, {"first": 60}], {}, True),
        (LINES, [{"last": 50}, {"first": 50}], {}, False),
        # All of them must be about one line deep.
        (MIXED, [{"last": 50}, {"first": 50, "depth_first": 2.0, "depth_last": 2.0}], {}, False),
        (MIXED, [{"last": 50}, {"first": 50}], {}, True),
        # Nearly whole at either end of a slanting mix is enough.
        (LINES, [{"spread": 0.0}], {"share_first": 0.94}, False),
        (LINES, [{"spread": 0.0}], {"share_last": 0.94}, False),
        (LINES, [{"spread": 0.0}], {"share_last": 0.6}, True),
        # A long mix beside a wedge that is short does not depend on it, unless it is deep.
        (LINES, [{"last": 74}], {}, True),
        (LINES, [{"last": 74, "depth_first": 1.5, "depth_last": 1.5}], {}, False),
        (MIXED, [{}], {"last": 75}, True),
        (MIXED, [{}], {"first": 26}, False),
    ],
)
def test_what_gives_way(
    lines: Profile, runs: list[dict[str, Any]], part: dict[str, Any], kept: bool
) -> None:
    """A mix against several whole lines of page, which share its place."""
    wholes = [replace(RUN, **{"spread": gaps.FLAT_ART, **change}) for change in runs]
    mix = replace(PART, line=(177.5, 128.0, 128.0), **part)
    assert _choose(lines, wholes, [mix]) == (([], [mix]) if kept else (wholes, []))


def test_only_rivals_give_way() -> None:
    """A run beside the mix stays, whatever becomes of the others."""
    beside = replace(RUN, first=80, last=100, told=20)
    rival, mix = replace(RUN, last=80, told=80), replace(PART, last=80)
    assert _choose(MIXED, [rival, beside], [mix]) == ([beside], [mix])
    assert _choose(LINES, [rival, beside], [mix]) == ([rival, beside], [])


@pytest.mark.parametrize(("rise", "echo"), [(2, True), (1, False)])
def test_a_tenth_of_the_art_is_an_echo(rise: int, echo: bool) -> None:
    """Art of 100 and 120 by turns; the outermost line has 200 and 200 + rise, slopes 0.1 and 0.05."""
    strip = gray(np.resize([100, 120], (24, COUNT)))
    strip[0, :, 0] = np.resize([200, 200 + rise], COUNT)
    run, mix = replace(RUN, spread=gaps.FLAT_ART), replace(PART)
    assert _choose(side_of(strip), [run], [mix]) == (([], [mix]) if echo else ([run], []))


def _told(
    patch: pytest.MonkeyPatch, wholes: list[Run], parts: list[PartRun], length: int = 800
) -> list[Gap]:
    """How a side of 800 or so px with these findings is told."""
    patch.setattr(gaps, "page_colors", lambda _: list(range(len(wholes) + 1)))
    patch.setattr(gaps, "_whole", lambda _, __, page: [*wholes, None][page])
    patch.setattr(gaps, "_part_runs", lambda _, __: parts)
    lines = profile(Image.new("RGB", (length, 90)), "top")
    return _side_gaps(PICTURE, "left", lines)


def test_how_a_run_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Depth to 0.01 px, ends to 0.0001 of the side, CIEDE2000 to 0.1; page as R, G, B.

    Segments 13 to 70 of 8 px on 803 px; 101 segments are 808 px, so that the end is the side's.
    """
    page = (120.0, 100.0, 150.0)
    change = {"first": 13, "last": 70, "depth_first": 1.236, "depth_last": 2.347, "seen": 12.345}
    (gap,) = _told(monkeypatch, [replace(RUN, page=page, **change)], [], 803)
    # JFIF: R = 120 + 1.402 * 22 = 150.8, G = 120 + 0.34414 * 28 - 0.71414 * 22 = 113.9,
    # B = 120 - 1.772 * 28 = 70.4.
    assert gap == {
        "side": "left",
        "depth": 2.35,
        "start": 0.1295,
        "end": 0.6974,
        "color": "#977246",
        "delta-e": 12.3,
    }
    (gap,) = _told(monkeypatch, [replace(RUN, first=0, last=101)], [], 803)
    assert (gap["start"], gap["end"]) == (0.0, 1.0)


@pytest.mark.parametrize(("shares", "depth"), [((0.31, 0.62), 0.62), ((0.777, 0.3), 0.78)])
def test_how_a_mix_is_told(
    monkeypatch: pytest.MonkeyPatch, shares: tuple[float, float], depth: float
) -> None:
    """By its greater share; beside a run, and behind it."""
    first, last = shares
    mix = replace(
        PART, first=60, last=90, share_first=first, share_last=last, page=BLACK, seen=7.25
    )
    run = replace(RUN, first=0, last=50, told=50)
    whole, gap = _told(monkeypatch, [run], [mix])
    assert (whole["start"], whole["end"], whole["color"]) == (0.0, 0.5, "#ffffff")
    assert gap == {
        "side": "left",
        "depth": depth,
        "start": 0.6,
        "end": 0.9,
        "color": "#000000",
        "delta-e": 7.2,
    }


@pytest.mark.parametrize(("depth", "told"), [(gaps.SAME_DEPTH, 0), (gaps.SAME_DEPTH + 0.01, 2)])
def test_patches_of_one_depth(monkeypatch: pytest.MonkeyPatch, depth: float, told: int) -> None:
    """Short runs of two colors side by side, by so many px one deeper than the other."""
    one = replace(RUN, first=0, last=10, told=10, depth_first=0.0, depth_last=0.0)
    other = replace(one, first=10, last=20, page=BLACK, depth_first=depth)
    assert len(_told(monkeypatch, [one, other], [])) == told


def test_patches_and_doubles_are_not_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two short runs of two colors side by side are drawn; of two that overlap the longer is told."""
    one = replace(RUN, first=0, last=10, told=10)
    other = replace(RUN, first=10, last=20, told=10, page=BLACK)
    assert _told(monkeypatch, [one, other], []) == []
    apart = replace(other, first=40, last=50)
    assert len(_told(monkeypatch, [one, apart], [])) == 2
    long = replace(RUN, first=0, last=60, told=60, page=BLACK)
    (gap,) = _told(monkeypatch, [one, long], [])
    assert gap["color"] == "#000000"
