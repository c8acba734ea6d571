"""What is concluded from measured strengths of traces: borders, choices and numbers, by hand.

Measuring is replaced by numbers that are given, so that each conclusion can be worked out beside it.
"""

from __future__ import annotations

from math import log

import numpy as np
import pytest
from PIL import Image
from scipy import ndimage

from pytest_webdeliverable.measure.history import cropped, enlarged, resaved

NOISE = Image.fromarray(np.random.default_rng(1).integers(0, 256, (256, 256)).astype(np.uint8))


@pytest.mark.parametrize(
    ("module", "extra"),
    [
        (resaved, {"first-quality": None}),
        (cropped, {"offset": None}),
        (enlarged, {"factor": None}),
    ],
)
def test_a_picture_that_cannot_tell_has_found_nothing(module, extra):
    assert module.undecided("too plain") == {
        "score": 0.0,
        "threshold": module.THRESHOLD,
        "found": False,
        "undecided": "too plain",
        **extra,
    }


# Saved again: the change at each quality is given


def saved_again(monkeypatch, changes, moved=None, quality=90.0, share=0.5):
    """``changes`` and ``moved`` by quality; 100 elsewhere. Returns facts and the qualities tried."""
    tried = {"sheet": [], "moved": []}
    monkeypatch.setattr(resaved, "mosaic", lambda *_: "sheet")
    monkeypatch.setattr(resaved, "_moved", lambda *_: "moved")
    monkeypatch.setattr(resaved, "plain_share", lambda _: share)

    def change(what, at):
        tried[what].append(at)
        return (changes if what == "sheet" else moved or {}).get(at, 100.0)

    monkeypatch.setattr(resaved, "change", change)
    return resaved.resaved(NOISE, 128, [(0, 0)], quality), tried


def test_the_score_is_the_dip_beyond_the_moved_pictures(monkeypatch):
    """log(100 / 50) less log(100 / 70): log 1.4 = 0.33647."""
    found, tried = saved_again(monkeypatch, {60: 50.0}, {60: 70.0})
    assert found == {
        "score": 0.3365,
        "threshold": 0.04,
        "found": True,
        "first-quality": 60,
        "undecided": None,
    }
    # from 40 to 5 below the last, and two neighbors
    assert tried["sheet"] == list(range(38, 88))
    assert set(tried["moved"]) >= {58, 60, 62}


@pytest.mark.parametrize(
    ("ratio", "found"), [(1.04, False), (1.0407, False), (1.041, True), (1.0, False), (0.9, False)]
)
def test_the_least_dip_that_counts(monkeypatch, ratio, found):
    """log 1.0408 = 0.04. A picture that dips less than the moved one has no past."""
    facts, _ = saved_again(monkeypatch, {60: 50.0}, {60: 50.0 * ratio})
    assert facts["found"] is found
    assert facts["score"] == pytest.approx(max(0.0, log(ratio)), abs=5e-5)
    assert facts["first-quality"] == (60 if found else None)


@pytest.mark.parametrize(
    ("low", "first"), [(0.59, 75), (0.61, 60), (0.999, 60), (1.2, 60), (0.2, 75)]
)
def test_the_lowest_dip_of_three_fifths_is_the_first_quality(monkeypatch, low, first):
    """Depths of ``low`` and 1, as logarithms, at 60 and 75."""
    facts, _ = saved_again(
        monkeypatch, {60: 100 * np.exp(-low), 75: 100 * np.exp(-1.0)}, quality=95.0
    )
    assert facts["first-quality"] == first
    assert facts["score"] == pytest.approx(max(1.0, low), abs=1e-4)


@pytest.mark.parametrize(
    ("share", "told"), [(0.7799, True), (0.78, True), (0.7801, False), (1.0, False)]
)
def test_too_plain_a_picture(monkeypatch, share, told):
    facts, _ = saved_again(monkeypatch, {60: 50.0}, share=share)
    assert (facts["undecided"] is None) is told
    assert facts["found"] is told


@pytest.mark.parametrize(("side", "taken"), [(128, 4), (64, 16)])
def test_squares_of_256_by_256_pixels_are_saved(monkeypatch, side, taken):
    """4 of 128 x 128 px or 16 of 64 x 64 px; the moved picture is made of the same."""
    seen = []
    monkeypatch.setattr(resaved, "mosaic", lambda _, side, few: seen.append((side, len(few))))
    monkeypatch.setattr(resaved, "_moved", lambda _, side, few, last: seen.append((side, len(few), last)))  # fmt: skip
    monkeypatch.setattr(resaved, "plain_share", lambda _: 0.0)
    monkeypatch.setattr(resaved, "change", lambda *_: 1.0)
    resaved.resaved(NOISE, side, [(0, 0)] * 20, 79.6)
    assert seen == [(side, taken), (side, taken, 80)]


# Cut out of a JPEG: strengths of the 64 shifts are given


def strongest(strengths, own):
    """The definition, as whole arrays: each shift less its mirror image, over the usual gap."""
    field = np.array(strengths).reshape(8, 8)
    mirror = np.roll(field[::-1, ::-1], (1, 1), (0, 1))
    itself = [(0, 0), (0, 4), (4, 0), (4, 4)]
    gaps = np.sort([abs(field - mirror)[at] for at in np.ndindex(8, 8) if at not in itself])
    assert len(gaps) == 60  # each pair twice
    spread = gaps[30] / 0.6745 + 1e-4
    against = mirror.copy()
    for at in itself:
        against[at] = np.sort(field.ravel())[32] + max(own, abs(field[0, 0]))
    scores = (field - against) / spread
    scores[0, 0] = 0
    return scores.max(), int(scores.argmax())


@pytest.mark.parametrize("seed", range(12))
def test_the_strongest_shift_is_that_of_whole_arrays(seed):
    rng = np.random.default_rng(seed)
    strengths = rng.normal(0, 0.02, 64)
    strengths[seed * 5 + 3] += 0.2  # (3, 0), (0, 1), (5, 1), ...
    if seed % 3 == 0:
        strengths[(4, 32, 36, 4)[seed // 3]] += 0.6  # its own mirror image
    score, at = strongest(strengths, 0.05)
    assert cropped._strongest(list(strengths), 0.05) == (pytest.approx(score), at)


@pytest.mark.parametrize(
    ("best", "found"), [(6.49, False), (6.5, False), (6.51, True), (17.128, True)]
)
def test_the_best_period_decides(monkeypatch, best, found):
    """The shift of the strongest period: 3 + 8 x 5 is 3 px across and 5 px down."""
    given = {2: (3.0, 9), 7: (best, 43), 16: (2.0, 1)}
    asked = []
    monkeypatch.setattr(cropped, "periodicity", lambda _, period: asked.append(period) or [period])
    monkeypatch.setattr(cropped, "own_period", lambda _, period: period)
    monkeypatch.setattr(cropped, "_strongest", lambda strengths, own: given.get(strengths[0], (0.5, own)))  # fmt: skip
    facts = cropped.cropped(NOISE, 128, [(0, 0), (128, 0), (0, 128), (128, 128)])
    assert facts["found"] is found
    assert facts["offset"] == ([3, 5] if found else None)
    assert facts["score"] == round(best, 2)
    assert facts["undecided"] is None
    # the first step of quality 50, 90 and 95 (ITU-T T.81 table K.1, 16, at 100 %, 20 %, 10 %)
    assert {16, 3, 2} <= set(asked)


def test_grids_that_are_all_alike_show_no_other():
    assert cropped._strongest([0.3] * 64, 0.0) == (0.0, 0)
    # the file's own grid is no other, however strong
    assert cropped._strongest([0.2] + [-0.2] * 63, 0.0) == (0.0, 0)


# Enlarged


def test_rhythms_in_step_are_those_of_doubling_a_third_more_and_three_fifths_more():
    """Factor f makes a rhythm of f / (f - 1) px; those that divide 8 are in step with blocks."""
    factors = sorted(1 / (1 - frequency) for frequency in enlarged.IN_STEP)
    assert factors == pytest.approx([4 / 3, 8 / 5, 2])
    assert all((8 * frequency) % 1 == 0 for frequency in enlarged.IN_STEP)


@pytest.mark.parametrize(
    ("free", "frequency", "score", "factor"),
    [
        (5.5 * 1.23456, 0.2, 1.235, 1.25),
        (5.5 * 1.0011, 0.4375, 1.001, 1.78),  # 16 / 9 = 1.7778
        (5.5 * 0.98765, 0.4, 0.988, None),
    ],
)
def test_the_numbers_of_an_enlargement(monkeypatch, free, frequency, score, factor):
    """Strength over 5.5; a rhythm of f cycles per px is an enlargement by 1 / (1 - f)."""
    told = {"free": free, "frequency": frequency, "grid": [0.0] * 3, "alternation": 0.0}
    monkeypatch.setattr(enlarged, "rhythm", lambda _: told)
    monkeypatch.setattr(enlarged, "_repeats_at", lambda *_: False)
    assert enlarged.enlarged(NOISE, blocks="other", quality=None) == {
        "score": score,
        "threshold": 1.0,
        "found": factor is not None,
        "factor": factor,
        "undecided": None,
    }


@pytest.mark.parametrize("seed", range(3))
def test_a_bin_of_the_columns_goes_with_the_strongest_of_three_of_the_rows(seed):
    along, down = np.random.default_rng(seed).uniform(1, 9, (2, 40))
    near = ndimage.maximum_filter1d(down, 3, mode="nearest")
    expected = np.where(np.minimum(along, near) > 1.5, np.sqrt(along * near), 0)
    assert enlarged._shared(list(along), list(down)) == pytest.approx(list(expected))


@pytest.mark.parametrize(("free", "hidden"), [(5.5, False), (5.6, True)])
def test_art_that_repeats_at_the_rhythms_distance_hides_it(monkeypatch, free, hidden):
    told = {"free": free, "frequency": 0.2, "grid": [0.0] * 3, "alternation": 0.0}
    monkeypatch.setattr(enlarged, "rhythm", lambda _: told)
    monkeypatch.setattr(enlarged, "_repeats_at", lambda *_: True)
    found = enlarged.enlarged(NOISE, blocks="other", quality=None)
    assert found["undecided"] == ("the art itself repeats at that distance" if hidden else None)
    assert found["found"] is False


def test_no_rhythm_has_no_frequency(monkeypatch):
    monkeypatch.setattr(enlarged, "_shared", lambda *_: [0.0] * 129)
    row = list(np.random.default_rng(4).uniform(1, 2, 256))
    found = enlarged.rhythm([(row, row)] * 2)
    assert (found["free"], found["frequency"], found["grid"]) == (0.0, 0.0, [0.0] * 3)


def rows_with(size, bins, strength):
    row = [0.0] * (size // 2 + 1)
    row[bins] = strength
    return row


@pytest.mark.parametrize(
    ("off", "repeats"), [(-3, False), (-2, True), (0, True), (2, True), (3, False)]
)
def test_lightness_repeats_within_two_bins(monkeypatch, off, repeats):
    """A rhythm of 64 in 256 px, and lightness that repeats ``off`` bins beside it."""
    monkeypatch.setattr(enlarged, "_lightness", lambda _: [rows_with(256, 64 + off, 9.0)] * 2)
    assert enlarged._repeats_at(NOISE, 0.25, 1.0) is repeats


@pytest.mark.parametrize(("bins", "repeats"), [(125, False), (126, True), (128, True)])
def test_lightness_that_alternates(monkeypatch, bins, repeats):
    """Every second of 256 px is the last bin, 128."""
    monkeypatch.setattr(enlarged, "_lightness", lambda _: [rows_with(256, bins, 9.0)] * 2)
    assert enlarged._repeats_at(NOISE, 0.5, 1.0) is repeats


@pytest.mark.parametrize("bins", [0, 1, 2])
def test_lightness_at_the_start_of_the_spectrum(monkeypatch, bins):
    monkeypatch.setattr(enlarged, "_lightness", lambda _: [rows_with(256, bins, 9.0)] * 2)
    assert enlarged._repeats_at(NOISE, 1 / 256, 1.0) is True


@pytest.mark.parametrize(
    ("along", "down", "score", "repeats"),
    [
        (5.01, 5.01, 1.0, True),
        (4.99, 9.0, 1.0, False),
        (9.0, 4.99, 1.0, False),
        # 0.2 x 10 x 5.5 = 11
        (11.1, 11.1, 10.0, True),
        (10.9, 11.1, 10.0, False),
    ],
)
def test_how_strongly_lightness_repeats(monkeypatch, along, down, score, repeats):
    """Both ways at least 5, and a fifth of the rhythm, which is 5.5 times its score."""
    rows = [rows_with(256, 64, along), rows_with(256, 64, down)]
    monkeypatch.setattr(enlarged, "_lightness", lambda _: rows)
    assert enlarged._repeats_at(NOISE, 0.25, score) is repeats


@pytest.mark.parametrize(("bins", "repeats"), [(170, False), (178, True), (512, True)])
@pytest.mark.parametrize("down", [False, True])
def test_art_that_repeats_every_six_pixels(monkeypatch, bins, repeats, down):
    """Of 1024 px: 170 times is every 6.02 px, 178 times every 5.75 px; one direction is enough."""
    rows = [rows_with(1024, bins, 40.0), rows_with(1024, 0, 0.0)]
    monkeypatch.setattr(enlarged, "_lightness", lambda _: rows[::-1] if down else rows)
    assert enlarged.art_repeats(NOISE) is repeats


@pytest.mark.parametrize(("strength", "repeats"), [(22.0, False), (40.0, True)])
def test_halftones_repeat_more_than_photographs(monkeypatch, strength, repeats):
    """As the limit's comment promises: photographs stay below 22, halftones lie above 40."""
    monkeypatch.setattr(enlarged, "_lightness", lambda _: [rows_with(1024, 256, strength)] * 2)
    assert enlarged.art_repeats(NOISE) is repeats
