"""Following a wedge down, from given depths: over random ones as numpy does it, and its borders by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from edge_mixes import best_stretch
from edge_strips import cut, gray, side_of

from pytest_webdeliverable.measure.edges import lean as module
from pytest_webdeliverable.measure.edges.depths import FLATTEST, STAIR, STEEPEST
from pytest_webdeliverable.measure.edges.lean import lean
from pytest_webdeliverable.measure.edges.whole import Run, candidates

SEGMENT = 8
WHITE = (255.0, 128.0, 128.0)
NAN = float("nan")
ART = np.repeat(gray(np.random.default_rng(1).integers(60, 150, (1, 100))), 24, axis=0)
RUN: Run = candidates(side_of(cut(ART, np.array(WHITE), np.full(100, 3.0)), SEGMENT), WHITE)[0]
Found = tuple[int, int, float, float, int]


def followed(
    patch: pytest.MonkeyPatch,
    points: np.ndarray,
    run: tuple[int, int],
    told: int = 0,
    lines: int = 24,
) -> Found | None:
    """What a run becomes where each segment has a given depth (NaN: unsure); None if it stays."""
    given = [None if np.isnan(depth) else float(depth) for depth in points]
    patch.setattr(module, "_depth_points", lambda *_: given)
    side = side_of(np.full((lines, len(points), 3), 90), SEGMENT)
    old = replace(RUN, first=run[0], last=run[1], told=told, opens=2)
    new = lean(side, old)
    if new is old:
        return None
    same = {"first": 0, "last": 0, "depth_first": 0, "depth_last": 0, "told": 0, "opens": 2}
    assert new.opens == 0
    assert replace(new, **same) == replace(old, **same)
    return new.first, new.last, new.depth_first, new.depth_last, new.told


def _computed(points: np.ndarray, run: tuple[int, int], told: int) -> Found | None:
    """The same by numpy: the line of two picked depths that most agree with, then least squares."""
    count, at = len(points), np.arange(len(points))
    inside = ~np.isnan(points) & (at >= run[0]) & (at < run[1])
    deep = np.flatnonzero(np.nan_to_num(points) > 0.15)
    x, y = deep, points[deep]
    pick = np.arange(0, len(x), max(1, len(x) // 14))
    one, other = (pick[index] for index in np.triu_indices(len(pick), 1))
    slope = (y[other] - y[one]) / (x[other] - x[one])
    turned = (abs(slope) / SEGMENT >= FLATTEST) & (abs(slope) / SEGMENT <= STEEPEST)
    if inside.sum() < 4 or not turned.any():
        return None
    off = y[None] - y[one][:, None] - slope[:, None] * (x[None] - x[one][:, None])
    agree = np.where(turned, (abs(off) <= 0.7 * STAIR).sum(1), 0)
    if agree.max() < 1.25 * inside.sum() + 3:
        return None
    agreed = abs(off[agree.argmax()]) <= STAIR
    line = np.polyfit(x[agreed], y[agreed], 1)
    want = np.polyval(line, at)
    near = np.where(abs(points - want) <= STAIR, 1.0, -1.0)
    scores = np.where(np.isnan(points), -0.05, np.where(want < 0.1, -0.5, near))
    first, last, _ = best_stretch(scores)
    within = ~np.isnan(points) & (at >= first) & (at < last)
    on_line = within & (abs(points - want) <= 0.7 * STAIR)
    deep_end = (
        first <= max(3, 0.06 * count) if line[0] < 0 else last >= count - max(3, 0.06 * count)
    )
    if (
        last - first > run[1] - run[0]
        and on_line.sum() >= 0.85 * within.sum()
        and (on_line & inside).sum() >= 0.85 * inside.sum()
        and abs(line[0]) * (last - first) >= 0.6
        and deep_end
    ):
        told = max(told, int((scores[first:last] == 1).sum()))
        return first, last, want[first], want[last - 1], told
    return None


def _random(seed: int) -> tuple[np.ndarray, tuple[int, int], int]:
    """A wedge's depths with noise, stairs, gaps and strays, and the deep end that a run has found."""
    rng = np.random.default_rng(seed)
    count = int(rng.choice([50, 100, 200]))
    deepest = rng.uniform(0.5, 4)
    depth = np.linspace(-rng.uniform(0, 1), deepest, count)
    depth = np.where(rng.random(count) < 0.5, depth, np.rint(depth)) if seed % 3 == 0 else depth
    depth = depth + rng.normal(0, rng.choice([0.05, 0.15, 0.25]), count)
    stray = rng.random(count) < rng.choice([0, 0, 0.1, 0.2])
    depth[stray] = rng.uniform(0, 9, stray.sum())
    depth[rng.random(count) < rng.choice([0, 0.2, 0.6])] = NAN
    if seed % 7 == 0:
        depth[: count // 3] = NAN
    length = int(count * rng.uniform(0.1, 0.6))
    if seed % 2:
        return depth, (count - length, count), int(rng.integers(0, count))
    return depth[::-1], (0, length), int(rng.integers(0, count))


@pytest.mark.parametrize("seed", range(120))
def test_random_wedges(monkeypatch: pytest.MonkeyPatch, seed: int) -> None:
    """Ends, depths at both ends, and how many segments tell."""
    points, run, told = _random(seed)
    got, want = followed(monkeypatch, points, run, told), _computed(points, run, told)
    assert got == (None if want is None else pytest.approx(want))


def test_random_wedges_are_followed_and_not() -> None:
    """Both happen often enough for the test above to say something."""
    found = sum(_computed(*_random(seed)) is not None for seed in range(120))
    assert 30 < found < 90


def _line(first: int, last: int, slope: float, start: float, count: int = 100) -> np.ndarray:
    """Depths known from ``first`` to ``last``, rising from ``start``."""
    points = np.full(count, NAN)
    points[first:last] = start + slope * np.arange(last - first)
    return points


@pytest.mark.parametrize(
    ("first", "inside", "found"),
    # Of n segments in the run, 1.25 n + 3 must lie on the line: 28 of 20, 8 of 4; 4 at least.
    [(72, 20, True), (73, 20, False), (92, 4, True), (93, 4, False), (91, 3, False)],
)
def test_how_much_more_a_wedge_must_explain(
    monkeypatch: pytest.MonkeyPatch, first: int, inside: int, found: bool
) -> None:
    """All known depths on one line, up to the corner."""
    points = _line(first, 100, 0.08, 0.3)
    got = followed(monkeypatch, points, (100 - inside, 100))
    length = 100 - first
    want = (first, 100, 0.3, 0.3 + 0.08 * (length - 1), length)
    assert got == (pytest.approx(want) if found else None)


@pytest.mark.parametrize(("depth", "found"), [(0.15, False), (0.151, True)])
def test_what_is_deep_enough_to_tell(
    monkeypatch: pytest.MonkeyPatch, depth: float, found: bool
) -> None:
    """28 segments are needed, of which the shallowest is that deep."""
    points = _line(72, 100, 0.03, 0.15)
    points[72] = depth
    assert (followed(monkeypatch, points, (80, 100)) is not None) == found


@pytest.mark.parametrize(("first", "found"), [(88, False), (89, True)])
def test_a_wedge_is_longer_than_its_run(
    monkeypatch: pytest.MonkeyPatch, first: int, found: bool
) -> None:
    """Segments 82 to 93 are 12; a run to the corner is 12 or 11 long."""
    points = _line(82, 94, 0.08, 0.3)
    points[86:90] = NAN
    got = followed(monkeypatch, points, (first, 100))
    assert got == (pytest.approx((82, 94, 0.3, 1.18, 8)) if found else None)


@pytest.mark.parametrize(("slope", "found"), [(0.0199, False), (0.0201, True)])
@pytest.mark.parametrize("down", [False, True])
def test_a_wedge_rises(
    monkeypatch: pytest.MonkeyPatch, slope: float, found: bool, down: bool
) -> None:
    """By 0.6 px over 30 segments, from either end."""
    points = _line(70, 100, slope, 0.3)
    run = (0, 20) if down else (80, 100)
    got = followed(monkeypatch, points[::-1] if down else points, run)
    assert (got is not None) == found


@pytest.mark.parametrize(
    ("slope", "found"), [(0.0031, False), (0.0033, True), (0.083, True), (0.085, False)]
)
def test_how_much_art_is_turned(monkeypatch: pytest.MonkeyPatch, slope: float, found: bool) -> None:
    """0.02 to 0.6 degrees: 0.0004 to 0.0105 px per px, on segments of 8 px."""
    points = _line(0, 300, slope, 0.3, 300)
    assert (followed(monkeypatch, points, (250, 300)) is not None) == found


@pytest.mark.parametrize(
    ("strays", "found"),
    # Of 40 segments 85 % are 34, of the 20 of the run 17.
    [
        ([61, 67, 73], True),
        ([61, 67, 71, 75], False),
        ([81, 87], False),
        ([79, 85], True),
        ([81], True),
    ],
)
def test_how_many_lie_on_the_line(
    monkeypatch: pytest.MonkeyPatch, strays: list[int], found: bool
) -> None:
    """Pairs of segments half a pixel above and below are no more on it, though near: 0.434 is.

    None of them is picked for the line, which are every other one.
    """
    points = _line(60, 100, 0.05, 0.8)
    for at in strays:
        points[at] += 0.5
        points[at + 2] -= 0.5
    assert (followed(monkeypatch, points, (80, 100)) is not None) == found


@pytest.mark.parametrize(("off", "found"), [(0.42, True), (0.45, False)])
def test_what_lies_on_the_line(monkeypatch: pytest.MonkeyPatch, off: float, found: bool) -> None:
    """0.7 of a stair of 0.62 px is 0.434 px: eight of 40 that are off by more are too many."""
    points = _line(60, 100, 0.05, 0.8)
    points[61:77:4] += off
    points[63:77:4] -= off
    assert (followed(monkeypatch, points, (80, 100)) is not None) == found


@pytest.mark.parametrize(("first", "found"), [(12, False), (13, True)])
def test_a_run_along_nearly_the_whole_side_is_not_followed(
    monkeypatch: pytest.MonkeyPatch, first: int, found: bool
) -> None:
    """97 % of 400 segments are 388. All of 12 or 13 segments more, and 36 or 40 of the run's, tell."""
    points = _line(0, 400, 0.004, 0.2, 400)
    inside = np.linspace(first, 399, 36 if first == 12 else 40).round().astype(int)
    unsure = np.setdiff1d(np.arange(first, 400), inside)
    points[unsure] = NAN
    assert (followed(monkeypatch, points, (first, 400)) is not None) == found


@pytest.mark.parametrize(("lines", "found"), [(11, True), (10, False)])
def test_the_fewest_lines(monkeypatch: pytest.MonkeyPatch, lines: int, found: bool) -> None:
    """The noise of six lines further in must be known."""
    points = _line(60, 100, 0.05, 0.8)
    assert (followed(monkeypatch, points, (80, 100), lines=lines) is not None) == found


def test_the_more_told_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """40 segments tell of the wedge; the run may know of more."""
    points = _line(60, 100, 0.05, 0.8)
    for told, want in ((39, 40), (41, 41)):
        assert (followed(monkeypatch, points, (80, 100), told) or ())[4] == want


def test_a_wedge_is_deepest_at_a_corner(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the line falls toward the end of the side, that is no turned art."""
    points = _line(40, 100, -0.02, 2.0)
    assert followed(monkeypatch, points, (40, 60)) is None
    points = _line(0, 60, -0.02, 2.0)
    assert followed(monkeypatch, points, (0, 20)) is not None
