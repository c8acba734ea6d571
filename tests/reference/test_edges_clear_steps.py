"""Clear gaps and nicks: what counts as clear, how deep it is, and how it is told."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from edge_strips import cut, gray, seen, side_of
from PIL import Image

from pytest_webdeliverable.measure.edges import gaps
from pytest_webdeliverable.measure.edges.gaps import _clear_gaps, _nick_gaps, _reaches, gap_facts
from pytest_webdeliverable.measure.edges.nick import CORNERS, Nick
from pytest_webdeliverable.measure.edges.profile import profile
from pytest_webdeliverable.measure.edges.types import SIDES, Gap
from pytest_webdeliverable.measure.edges.whole import Run, candidates

WHITE, BLACK = (255.0, 128.0, 128.0), (0.0, 128.0, 128.0)
ART = np.repeat(gray(np.random.default_rng(1).integers(60, 150, (1, 80))), 24, axis=0)
RUN: Run = candidates(side_of(cut(ART, np.array(WHITE), np.ones(80)), 2), WHITE)[0]


def _facts(pixels: np.ndarray) -> list[Gap]:
    picture = Image.fromarray(pixels)
    return gap_facts(picture, {one: profile(picture.convert("RGB"), one) for one in SIDES})


def _opaque(height: int = 120, width: int = 160) -> np.ndarray:
    pixels = np.full((height, width, 4), 90, np.uint8)
    pixels[..., 3] = 255
    return pixels


@pytest.mark.parametrize(
    ("page", "art", "told"),
    # Art is opaque from 244, and page up to 249; page that is more opaque than art is none.
    [(0, 244, True), (0, 243, False), (236, 244, True), (255, 244, False), (249, 255, False)],
)
def test_how_clear_a_gap_is(page: int, art: int, told: bool) -> None:
    """Three lines of one alpha above another; 8 codes must lie between the two."""
    pixels = _opaque()
    pixels[..., 3] = art
    pixels[:3, :, 3] = page
    found = [(gap["side"], gap["depth"], gap.get("alpha")) for gap in _facts(pixels)]
    assert found == ([("top", 3.0, round(page / 255, 3))] if told else [])


@pytest.mark.parametrize(
    ("first", "second", "depth"),
    # 1 - alpha / 510 for one half-clear line; a share of 0.0968 or 0.103 of the second is clear.
    [
        (5, 255, 1.0),
        (6, 255, 0.99),
        (227, 255, 0.55),
        (242, 255, 0.53),
        (100, 240, 0.8),
        (100, 239, 1.1),
    ],
)
def test_how_deep_a_half_clear_line_is(first: int, second: int, depth: float) -> None:
    """(255 - 240) / 155 is 0.0968, (255 - 239) / 155 is 0.103: below 1.1 px it is one line."""
    pixels = _opaque()
    pixels[0, :, 3], pixels[1, :, 3] = first, second
    assert [(gap["side"], gap["depth"]) for gap in _facts(pixels)] == [("top", depth)]


@pytest.mark.parametrize("color", [(200, 30, 40), (40, 40, 40)])
def test_what_is_seen_beside_a_clear_gap(color: tuple[int, int, int]) -> None:
    """The third line of art below it, against white or black, whichever differs more."""
    pixels = _opaque()
    pixels[:3, :, 3] = 0
    pixels[5, :80, :3], pixels[5, 80:, :3] = color, np.add(color, 20)
    (gap,) = _facts(pixels)
    mean = np.add(color, 10)
    luma = np.array([0.299, 0.587, 0.114]) @ mean
    ycc = np.array([luma, 128 + (mean[2] - luma) / 1.772, 128 + (mean[0] - luma) / 1.402])
    far = max(seen(ycc, np.array(page)) for page in (WHITE, BLACK))
    assert gap["delta-e"] == pytest.approx(far, abs=0.06)


@pytest.mark.parametrize("side", [0, 1])
def test_a_side_without_clear_pixels_is_asked_for_colors(side: int) -> None:
    """Clear on a part of the left, white at the top or bottom: both, in the order of the sides."""
    pixels = _opaque()
    pixels[30:90, :4, 3] = 0
    pixels[np.s_[:3] if side == 0 else np.s_[-3:]] = 255
    found = [(gap["side"], gap["color"]) for gap in _facts(pixels)]
    assert found == [("left", "transparent"), (("top", "bottom")[side], "#ffffff")]


@pytest.mark.parametrize(("alpha", "told"), [(0, 0.0), (100, 0.392), (249, 0.976), (250, None)])
def test_a_clear_nick(alpha: int, told: float | None) -> None:
    """6 px across and 5 px down of white, with an alpha; opaque, it has a color."""
    pixels = _opaque()
    pixels[:5, :6] = (255, 255, 255, alpha)
    across, down = _facts(pixels)
    assert (across["side"], across["depth"], down["side"], down["depth"]) == ("top", 5, "left", 6)
    for gap in (across, down):
        assert gap.get("alpha") == told
        assert gap["color"] == ("#ffffff" if told is None else "transparent")


@pytest.mark.parametrize(("alpha", "told"), [(gaps.OPAQUE, ["top"]), (gaps.OPAQUE - 1, [])])
def test_lossy_alpha_is_no_clear_side(alpha: int, told: list[str]) -> None:
    """Six codes off opaque are none; one more, and the side is asked for clear lines only."""
    assert gaps.OPAQUE == 250
    pixels = _opaque()
    pixels[:3, :, :3] = 255
    pixels[4, 80, 3] = alpha
    assert [gap["side"] for gap in _facts(pixels)] == told


def _clear(patch: pytest.MonkeyPatch, *found: dict[str, Any]) -> list[tuple[Any, ...]]:
    """How runs that alpha is said to have are told, each of a page of its own."""
    runs = [
        [
            replace(RUN, **{"page": BLACK, "art": WHITE, **change}),
            replace(RUN, page=BLACK, first=70),
        ]
        for change in found
    ]
    patch.setattr(gaps, "page_colors", lambda _: range(len(runs)))
    patch.setattr(gaps, "candidates", lambda _, page: runs[page])
    picture = Image.fromarray(_opaque())
    told = _clear_gaps(picture, picture.getchannel("A"), "top")
    return [(gap["start"], gap["depth"], gap.get("alpha")) for gap in told]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"page": (250.0, 128.0, 128.0)}, []),
        ({"page": (249.0, 128.0, 128.0)}, [(0.0, 0.51, 0.976)]),
        ({"art": (244.0, 128.0, 128.0)}, [(0.0, 1.0, 0.0)]),
        ({"art": (243.9, 128.0, 128.0)}, []),
        ({"page": (102.0, 128.0, 128.0), "depth_first": 1.1}, [(0.0, 1.1, 0.4)]),
        ({"page": (102.0, 128.0, 128.0), "depth_first": 1.09}, [(0.0, 0.8, 0.4)]),
    ],
)
def test_borders_of_a_clear_run(
    monkeypatch: pytest.MonkeyPatch, change: dict[str, Any], told: list[Any]
) -> None:
    """Page below 250, art from 244; up to 1.1 px it is one line, half clear or half covered.

    Of the runs of one alpha only the likelier is told.
    """
    assert _clear(monkeypatch, change) == told


def test_a_run_that_is_no_gap_hides_no_other(monkeypatch: pytest.MonkeyPatch) -> None:
    """The longer run is opaque, and the one beside it clear: 160 px by 2 are 80 segments."""
    opaque = {"page": WHITE, "first": 0, "last": 50, "told": 50}
    clear = {"first": 52, "last": 80, "told": 28}
    assert _clear(monkeypatch, opaque, clear) == [(52 / 80, 1.0, 0.0)]


def _nicks(
    patch: pytest.MonkeyPatch, taken: list[Gap], *corners: tuple[str, str], **nick: Any
) -> Any:
    """Gaps of nicks in these corners of a picture of 801 by 607 px."""
    found = {
        corner: Nick(
            corner, 6.234, 4.567, "triangle", 0.0, (255.0, 255.0, 255.0), (90.0, 90.0, 90.0), 165.0
        )
        for corner in CORNERS
        if corner in corners
    }
    patch.setattr(gaps, "find_nick", lambda _, corner: found.get(corner))
    patch.setattr(gaps, "nick_counts", lambda one, all_: all_ == [*found.values()] and not nick)
    return _nick_gaps(Image.new("RGB", (801, 607)), taken)


def test_how_a_nick_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """6.234 of 801 px are 0.00778, 4.567 of 607 px 0.00752; depth to 0.01 px."""
    difference = round(seen(np.array(WHITE), np.array([90, 128, 128])), 1)
    told = {"color": "#ffffff", "delta-e": difference}
    assert _nicks(monkeypatch, [], ("top", "left")) == [
        {"side": "top", "depth": 4.57, "start": 0.0, "end": 0.0078, **told},
        {"side": "left", "depth": 6.23, "start": 0.0, "end": 0.0075, **told},
    ]
    assert _nicks(monkeypatch, [], ("bottom", "right")) == [
        {"side": "bottom", "depth": 4.57, "start": 0.9922, "end": 1.0, **told},
        {"side": "right", "depth": 6.23, "start": 0.9925, "end": 1.0, **told},
    ]


def test_a_nick_that_does_not_count_is_not_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nor is one whose corner a gap reaches; the others are."""
    assert _nicks(monkeypatch, [], ("top", "left"), counts=False) == []
    gap: Gap = {
        "side": "top", "depth": 2.0, "start": 0.0, "end": 0.5, "color": "#ffffff", "delta-e": 9.0
    }  # fmt: skip
    found = _nicks(monkeypatch, [gap], ("top", "left"), ("top", "right"))
    assert [(one["side"], one["start"] > 0.5) for one in found] == [("top", True), ("right", False)]


@pytest.mark.parametrize("corner", CORNERS)
@pytest.mark.parametrize(("off", "reaches"), [(0.02, True), (0.021, False)])
def test_two_percent_of_a_side_from_its_corner(
    corner: tuple[Any, Any], off: float, reaches: bool
) -> None:
    """A gap of either side that begins or ends there takes the nick's place."""
    nick = Nick(corner, 6, 5, "square", 0.0, (255.0,) * 3, (90.0,) * 3, 165.0)
    for side, other in (corner, corner[::-1]):
        ends = (off, 0.5) if other in {"left", "top"} else (0.5, 1 - off)
        gap: Gap = {
            "side": side, "depth": 2.0, "start": ends[0], "end": ends[1],
            "color": "#ffffff", "delta-e": 9.0,
        }  # fmt: skip
        assert _reaches(gap, nick) == reaches
