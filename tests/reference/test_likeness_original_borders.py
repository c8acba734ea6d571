"""A copy beside its original, shares of cells, and pairs among many: borders, by hand.

Where a conclusion is asked for, the measuring below it is replaced by numbers that are given.
"""

from __future__ import annotations

import numpy as np
import pytest
from small_pictures import art, by_hand, plane

from pytest_webdeliverable.likeness import compare_original, nearly, original, resample

# A copy beside its original


@pytest.mark.parametrize(("last", "given_up"), [(-0.06, False), (-0.0624, False), (-0.0626, True)])
@pytest.mark.parametrize("upright", [False, True])
def test_a_copy_that_shows_less_than_three_fifths_is_not_placed(monkeypatch, last, given_up, upright):  # fmt: skip
    """0.8, 0.64, then 0.64 x (1 + last): 0.6016, 0.60006, 0.59994 of a side."""

    def along(first, second):
        return (0.0, 0.0, first, second, 1.0) if upright else (first, second, 0.0, 0.0, 1.0)

    moves = [along(0.1, -0.1), along(0.1, -0.1), along(0.0, last)] + [(0.0,) * 4 + (1.0,)] * 3
    monkeypatch.setattr(original, "_step", lambda *_: moves.pop(0))
    box, _ = original._fit(plane(art()), plane(art()))
    if given_up:
        assert box == (0.0, 0.0, 1.0, 1.0)
    else:
        shown = (box[1], box[3]) if upright else (box[0], box[2])
        assert shown == pytest.approx((0.18, 0.82 + 0.64 * last))


@pytest.mark.parametrize(
    ("box", "clipped"),
    [
        ((-0.2, 0.1, 0.9, 1.3), (0.0, 0.1, 0.9, 1.0)),
        ((0.1, -0.2, 1.3, 0.9), (0.1, 0.0, 1.0, 0.9)),
        ((0.2, 0.3, 0.8, 0.9), (0.2, 0.3, 0.8, 0.9)),
    ],
)
def test_only_what_the_original_holds_is_compared(monkeypatch, box, clipped):
    seen = []

    def grid(_, __, part):
        seen.append(part)
        return 16, 12

    monkeypatch.setattr(original, "_fit", lambda *_: (box, 1.0))
    monkeypatch.setattr(original, "common_grid", grid)
    compare_original(by_hand(art()), by_hand(art()))
    assert seen == [clipped]


def test_a_copy_that_cannot_be_placed_is_taken_as_the_whole(monkeypatch):
    monkeypatch.setattr(original, "_step", lambda *_: None)
    assert original._fit(plane(art()), plane(art())) == ((0.0, 0.0, 1.0, 1.0), 1.0)
    paper = by_hand(np.full((24, 32), 120))
    found = compare_original(paper, paper)
    assert found["undecided"]
    assert (found["crop"], found["tone"]) == ([0.0, 0.0, 1.0, 1.0], 1.0)


@pytest.mark.parametrize(("detail", "told"), [(0.49, False), (0.5, True)])
@pytest.mark.parametrize("plain", ["copy", "original"])
def test_the_least_detail_of_a_placement(monkeypatch, detail, told, plain):
    """Half a code value, in both of them."""
    details = iter([detail, 9.0] if plain == "copy" else [9.0, detail])
    monkeypatch.setattr(original, "detail", lambda _: next(details))
    monkeypatch.setattr(original, "_fit", lambda *_: ((0.0, 0.0, 1.0, 1.0), 1.0))
    assert (compare_original(by_hand(art()), by_hand(art()))["undecided"] is None) is told


def test_the_numbers_of_an_original_are_rounded(monkeypatch):
    """A spot of 12 in one of 768 cells of lightness and 7 in one of 192 of each color.

    12 / 768 = 0.0156, 7 / 192 = 0.0365. The box is told to 4 decimals, the contrast to 3.
    """
    paper, chroma = np.full((24, 32), 120), np.full((12, 16), 130)
    spot, tint = paper.copy(), chroma.copy()
    spot[10, 12] += 12
    tint[5, 5] += 7
    box = (0.00004, 0.00006, 1.0, 1.0)
    monkeypatch.setattr(original, "detail", lambda _: 9.0)
    monkeypatch.setattr(original, "_fit", lambda *_: (box, 1.0))
    found = compare_original(by_hand(spot, cb=tint, cr=tint), by_hand(paper, cb=chroma, cr=chroma))
    assert found["crop"] == [0.0, 0.0001, 1.0, 1.0]
    assert found["tone"] == 1.0
    assert found["color change"] == pytest.approx([0.02, 0.04, 0.04], abs=0.005)
    whole = (0.0, 0.0, 1.0, 1.0)
    monkeypatch.setattr(original, "_fit", lambda *_: (whole, 1.0004))
    found = compare_original(by_hand(spot, cb=tint, cr=tint), by_hand(paper, cb=chroma, cr=chroma))
    assert found["color change"] == [0.02, 0.04, 0.04]
    assert found["tone"] == 1.0
    monkeypatch.setattr(original, "_fit", lambda *_: (whole, 1.0126))
    assert compare_original(by_hand(spot), by_hand(paper))["tone"] == 1.013
    # the cell of the spot, (12.5 / 32, 10.5 / 24)
    assert found["at"] == [0.391, 0.438]
    # 12 less the mean of 0.0156, of paper that is lighter by 0.0004 x 120; 2 allowed, one of four cells
    assert found["score"] == pytest.approx(1 / (1 + (12 - 12 / 768 - 2) / 2 / 16), abs=1e-4)
    assert found["score"] == round(found["score"], 4)


# Resampling and equations


@pytest.mark.parametrize(
    ("cells", "low", "high", "target", "shares"),
    [
        (4, 0.0, 1.0, 2, [(0, [0.5, 0.5]), (2, [0.5, 0.5])]),
        (3, 0.0, 1.0, 2, [(0, [2 / 3, 1 / 3]), (1, [1 / 3, 2 / 3])]),
        (2, 0.0, 1.0, 4, [(0, [1.0]), (0, [1.0]), (1, [1.0]), (1, [1.0])]),
        (4, 0.25, 0.75, 1, [(1, [0.5, 0.5])]),
        (1, 0.0, 1.0, 3, [(0, [1.0])] * 3),
        # beyond the ends the last cell stands in, with no share of its own to weigh
        (2, 1.0, 2.0, 1, [(1, [0.0])]),
        (2, -1.0, 0.0, 1, [(0, [0.0])]),
    ],
)
def test_shares_by_hand(cells, low, high, target, shares):
    found = resample._shares(cells, low, high, target)
    assert [first for first, _ in found] == [first for first, _ in shares]
    for (_, weights), (_, expected) in zip(found, shares, strict=True):
        assert weights == pytest.approx(expected)


@pytest.mark.parametrize(("pivot", "solved"), [(1e-8, True), (1e-10, False)])
def test_equations_that_are_nearly_dependent(pivot, solved):
    found = original.solve([[1.0, 1.0, 2.0], [1.0, 1.0 + pivot, 2.0 + pivot]])
    assert (found is not None) is solved
    if found:
        assert found == pytest.approx([1.0, 1.0], abs=1e-5)


# Pairs among many


def looked_at(monkeypatch, verdicts, count=4):
    """Pairs compared closely among pictures that are alike at first sight."""
    seen = []

    def compared(one, other):
        seen.append(one + other)
        return {"same": one + other in verdicts}

    monkeypatch.setattr(nearly, "coarse", lambda _: bytes(192))
    monkeypatch.setattr(nearly, "same_picture", compared)
    found = nearly.near_duplicates([(name.upper(), name) for name in "abcdef"[:count]])
    return seen, found


def test_members_of_a_group_are_not_compared_again(monkeypatch):
    """c is like a, d like b, then d like a joins both groups: of six pairs bc needs no look."""
    seen, found = looked_at(monkeypatch, {"ac", "bd", "ad"})
    assert seen == ["ab", "ac", "bc", "ad", "bd"]
    assert found == ([("A", "C"), ("A", "D"), ("B", "D")], True)
    seen, found = looked_at(monkeypatch, {"ab", "ac", "ad"})
    assert seen == ["ab", "ac", "ad"]
    assert found.pairs == [("A", "B"), ("A", "C"), ("A", "D")]
    seen, found = looked_at(monkeypatch, {"ab", "bc"}, count=3)
    assert seen == ["ab", "ac", "bc"]
    assert found.pairs == [("A", "B"), ("B", "C")]


@pytest.mark.parametrize(("most", "complete"), [(2, False), (3, True), (4, True)])
def test_as_many_close_looks_as_allowed(monkeypatch, most, complete):
    """Three pictures that differ need three looks; the limit is met when another is wanted."""
    monkeypatch.setattr(nearly, "MOST_CLOSE", most)
    seen, found = looked_at(monkeypatch, set(), count=3)
    assert len(seen) == min(most, 3)
    assert found.complete is complete
    monkeypatch.setattr(nearly, "MOST_CLOSE", 99)
    monkeypatch.setattr(nearly, "MOST_COARSE", most)
    seen, found = looked_at(monkeypatch, set(), count=3)
    assert len(seen) == min(most, 3)
    assert found.complete is complete
