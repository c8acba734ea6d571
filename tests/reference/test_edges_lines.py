"""Colors, strips and segments: the BT.601/JFIF matrix and numpy's own means, turns and quantiles."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from edge_strips import gray, side_of, to_rgb
from PIL import Image

from pytest_webdeliverable.measure.ciede2000 import delta_e
from pytest_webdeliverable.measure.edges import blank, color, still
from pytest_webdeliverable.measure.edges.blank import blank_facts
from pytest_webdeliverable.measure.edges.pages import DARK_PAGE, LIGHT_PAGE, NEAR_LUMA
from pytest_webdeliverable.measure.edges.profile import (
    FEWEST,
    LINES,
    LONGEST,
    SEGMENT,
    alpha_profile,
    at_line,
    lines_of,
    profile,
    segment_length,
)
from pytest_webdeliverable.measure.edges.still import banded, grain_and_drift
from pytest_webdeliverable.measure.edges.strips import HIGH_BYTES, normal, side_length, strip
from pytest_webdeliverable.measure.edges.types import SIDES

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.edges.types import Side

RNG = np.random.default_rng
TO_YCC = np.array([[0.299, 0.587, 0.114], [-0.1687, -0.3313, 0.5], [0.5, -0.4187, -0.0813]])
"""JFIF 1.02, page 3 (ITU-R BT.601): Y, Cb, Cr of R, G, B; chroma plus 128."""
TURNS = {
    "top": lambda pixels: pixels,
    "bottom": lambda pixels: pixels[::-1],
    "left": lambda pixels: pixels.swapaxes(0, 1),
    "right": lambda pixels: pixels[:, ::-1].swapaxes(0, 1),
}
"""Each side with its outermost line first, its lines left to right or top to bottom."""


@pytest.mark.parametrize("seed", range(5))
def test_rgb_of_ycc_is_the_inverse_matrix(seed: int) -> None:
    """numpy.linalg.inv of the forward matrix, and the standard's own backward one by rounding."""
    own = RNG(seed).uniform(0, 255, 3)
    ycc = TO_YCC @ own + [0, 128, 128]
    assert color.rgb(tuple(ycc)) == pytest.approx(tuple(own), abs=0.05)
    assert color.codes(color.rgb(tuple(ycc))) == to_rgb(ycc)


def test_codes_names_and_differences() -> None:
    """Rounded, kept within a byte, named in hexadecimal, compared by CIEDE2000 of the codes."""
    assert color.codes((-3.0, 127.6, 300.0, 9)) == (0, 128, 255)
    assert color.name((-3.0, 9.6, 300.0)) == "#000aff"
    assert color.difference((1.2, 2, 3), (200, 99.9, 3)) == delta_e((1, 2, 3), (200, 100, 3))


@pytest.mark.parametrize("seed", range(5))
def test_distance_by_numpy(seed: int) -> None:
    """Luma whole, the larger chroma half."""
    one, other = RNG(seed).uniform(0, 255, (2, 3))
    off = np.abs(one - other)
    want = off[0] + off[1:].max() / 2
    assert color.distance(tuple(one), tuple(other)) == pytest.approx(want)


@pytest.mark.parametrize(
    ("page", "soon", "later", "want"),
    [
        # Luma 50 of 100 made; with chroma (50 + 20) of (100 + 20): whichever says more.
        ((200, 128, 128), (150, 168, 128), (100, 168, 128), 70 / 120),
        ((200, 128, 128), (150, 128, 128), (100, 168, 128), 50 / 100),
        # Beyond the art counts as all of the way.
        ((200, 128, 128), (90, 128, 128), (100, 128, 128), 1.0),
        # Luma 8 of 16 tells; 8 of 15 does not: then (8 + 10) of (15 + 50).
        ((100, 128, 128), (108, 128, 148), (116, 128, 228), 8 / 16),
        ((100, 128, 128), (108, 128, 148), (115, 128, 228), 18 / 65),
        ((100, 128, 128), (100, 128, 128), (100, 128, 128), 0.0),
    ],
)
def test_sharpness_by_hand(page: color.Ycc, soon: color.Ycc, later: color.Ycc, want: float) -> None:
    """Each worked out beside it."""
    assert color.LUMA_TELLS == 16
    assert color.sharpness(page, soon, later) == pytest.approx(want)


@pytest.mark.parametrize(
    ("length", "segment"),
    [
        (SEGMENT * FEWEST, SEGMENT),
        (SEGMENT * FEWEST - 1, SEGMENT // 2),
        (SEGMENT * FEWEST // 2 - 1, SEGMENT // 4),
        (3, 2),
        (SEGMENT * LONGEST, SEGMENT),
        (SEGMENT * LONGEST + 1, 2 * SEGMENT),
        (SEGMENT * LONGEST * 2 + 1, 4 * SEGMENT),
    ],
)
def test_segments_are_halved_and_doubled(length: int, segment: int) -> None:
    """FEWEST segments or 2 px, and LONGEST at most."""
    assert segment_length(length) == segment


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("size", [(83, 91), (701, 90), (645, 660), (7, 90)])
def test_a_profile_is_the_mean_of_each_segment(side: Side, size: tuple[int, int]) -> None:
    """numpy means of the turned pixels, the shorter last segment of what it has; codes to within one."""
    pixels = RNG(size[0]).integers(0, 256, (size[1], size[0], 3), dtype=np.uint8)
    own = profile(Image.fromarray(pixels), side)
    lines = max(1, min(LINES, min(size) // 3))
    turned = TURNS[side](pixels)[:lines]
    step = segment_length(turned.shape[1])
    starts = range(0, turned.shape[1], step)
    means = np.stack([turned[:, at : at + step].mean(1) for at in starts], 1)
    ycc = means @ TO_YCC.T + [0, 128, 128]
    assert (own.side, own.length, own.segment) == (side, turned.shape[1], step)
    assert (own.lines, own.count) == ycc.shape[:2]
    assert lines_of(Image.fromarray(pixels)) == lines
    got = np.stack([[list(row) for row in plane] for plane in (own.luma, own.blue, own.red)], -1)
    assert np.abs(got - ycc).max() <= 1.5
    assert np.abs(got - ycc).mean() < 0.5
    assert at_line(own, lines - 1, 2) == tuple(got[lines - 1, 2])
    assert np.array_equal(np.asarray(own.pixels), turned)
    assert np.array_equal(np.asarray(own.means), got)


def test_a_profile_of_alpha() -> None:
    """Luma is the alpha's mean, chroma neutral."""
    alpha = RNG(1).integers(0, 256, (9, 21), dtype=np.uint8)
    own = alpha_profile(Image.fromarray(alpha), "left")
    want = [alpha[:, at : at + 2].mean(1) for at in range(0, 21, 2)]
    got = np.array([list(row) for row in own.luma]).T
    assert np.abs(got - np.array(want)).max() <= 0.5
    assert {*own.blue, *own.red} == {bytes([128] * 11)}
    assert (own.side, own.length, own.segment, own.lines) == ("left", 21, 2, 9)


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("lines", [1, 4, 99])
def test_strips_are_turned(side: Side, lines: int) -> None:
    """numpy flips and transposes; more lines than there are give all there are."""
    pixels = RNG(4).integers(0, 256, (11, 17, 4), dtype=np.uint8)
    turned = TURNS[side](pixels)
    got = strip(Image.fromarray(pixels), side, lines)
    assert np.array_equal(np.asarray(got), turned[:lines])
    assert side_length((17, 11), side) == turned.shape[1]


def _high(values: np.ndarray, mode: str) -> Image.Image:
    kind = {"I;16": "<u2", "I;16B": ">u2", "I": "<i4", "F": "<f4"}[mode]
    return Image.frombytes(mode, values.shape[::-1], values.astype(kind).tobytes())


@pytest.mark.parametrize("mode", ["I;16", "I;16B", "I"])
def test_sixteen_bits_become_eight(mode: str) -> None:
    """numpy: the high byte of each code; 32-bit integers that fit a byte stay what they are."""
    values = RNG(6).integers(0, 65536, (5, 7))
    values[0, 0] = 65535
    got = np.asarray(normal(_high(values, mode)))
    assert got.shape == (5, 7, 3)
    assert np.abs(got - (values // HIGH_BYTES)[..., None]).max() <= (mode == "I")
    if mode == "I":
        small = values % HIGH_BYTES
        assert np.array_equal(np.asarray(normal(_high(small, mode)))[..., 0], small)
        small[0, 0] = HIGH_BYTES
        assert np.asarray(normal(_high(small, mode))).max() == 1


def test_floats_become_codes() -> None:
    """Up to 1 they are shares of white, beyond they are codes."""
    shares = RNG(7).uniform(0, 1, (5, 7))
    shares[0, 0] = 1.0
    got = np.asarray(normal(_high(shares, "F")))[..., 1].astype(int)
    assert np.abs(got - shares * 255).max() <= 1
    assert got[0, 0] == 255
    codes = shares * 200 + 2
    assert np.abs(np.asarray(normal(_high(codes, "F")))[..., 2] - codes).max() <= 1


def test_other_modes_become_rgb() -> None:
    """L three times over, the lightness of LAB, RGBA where something is clear."""
    values = RNG(8).integers(0, 256, (4, 6), dtype=np.uint8)
    plain = Image.fromarray(values)
    assert np.array_equal(np.asarray(normal(plain)), np.stack([values] * 3, -1))
    lab = Image.merge("LAB", (plain, plain.point(lambda _: 9), plain.point(lambda _: 77)))
    assert np.array_equal(np.asarray(normal(lab)), np.stack([values] * 3, -1))
    clear = Image.merge("LA", (plain, plain))
    assert np.array_equal(np.asarray(normal(clear)), np.stack([values] * 4, -1))


@pytest.mark.parametrize("seed", range(6))
def test_grain_and_drift_by_numpy(seed: int) -> None:
    """The least codes about the median within which GRAINY lie, and outermost thirds' means."""
    rng = RNG(seed)
    ramp = np.linspace(0, rng.uniform(-20, 20), 31)
    luma = np.clip(np.rint(120 + ramp + rng.normal(0, 6, (3, 31))), 0, 255).astype(np.uint8)
    lines = Image.fromarray(np.stack([luma] * 3, -1))
    grain, drift = grain_and_drift(lines, (120.0, 128.0, 128.0), 4, 28)
    middle = np.sort(luma.ravel())[-(-luma.size // 2) - 1]
    off = np.sort(np.abs(luma.astype(int) - middle).ravel())[::-1]
    assert grain == off[int(np.ceil((1 - still.GRAINY) * luma.size - 1e-9)) - 1]
    assert drift == pytest.approx(luma[0, 4:12].mean() - luma[0, 20:28].mean())


@pytest.mark.parametrize(("right", "drift"), [(5, 0.0), (6, 0.0), (7, 7.0), (8, 9.0), (11, 4.5)])
def test_the_drift_of_few_px(right: int, drift: float) -> None:
    """From px 5 on: no px and one px do not drift; of two and three px one at each end is compared.

    Of six px it is two.
    """
    values = np.array([99, 99, 99, 99, 99, 90, 83, 81, 80, 82, 82, 99], np.uint8)
    lines = Image.fromarray(np.stack([values] * 3, -1)[None])
    assert grain_and_drift(lines, (120.0, 128.0, 128.0), 5, right)[1] == pytest.approx(drift)


@pytest.mark.parametrize(
    ("luma", "kept"),
    [(LIGHT_PAGE, "light"), (LIGHT_PAGE - 1, ""), (DARK_PAGE, "dark"), (DARK_PAGE + 1, "")],
)
def test_the_channel_at_its_limit_keeps_still(luma: int, kept: str) -> None:
    """Red stays at 255 (or at 0), the others waver: still for a light (dark) page alone.

    By hand: luma of (255 or 0, v, v) is 0.701 v and a constant; v goes 40 | 60, median 40, so that a
    half of the pixels is off by 0.701 * 20 = 14, and so is one end from the other.
    """
    for limit in ("light", "dark"):
        waver = np.repeat([40, 40, 60, 60], 6).astype(np.uint8)
        red = np.full(24, 255 if limit == "light" else 0, np.uint8)
        lines = Image.fromarray(np.stack([red, waver, waver], -1)[None].repeat(2, 0))
        got = grain_and_drift(lines, (float(luma), 128.0, 128.0), 0, 24)
        want = (0.0, 0.0) if kept == limit else (14.0, -14.0)
        assert got == pytest.approx(want, abs=0.6)


@pytest.mark.parametrize(
    ("step", "contrast", "line", "loose", "found"),
    [
        (still.BAND_STEP, 0.0, 8, 0, True),
        (still.BAND_STEP - 1, 0.0, 8, 0, False),
        # A fifth of 50 codes is 10.
        (10, 10 / still.BAND_SHARE, 8, 0, True),
        (9, 10 / still.BAND_SHARE, 8, 0, False),
        (40, 0.0, 5 + still.BANDS - 1, 0, True),
        (40, 0.0, 5 + still.BANDS, 0, False),
        (40, 0.0, 5, 0, False),
        (40, 0.0, 6, 0, True),
        # 17 of 20 segments are 85 %.
        (40, 0.0, 8, 3, True),
        (40, 0.0, 8, 4, False),
    ],
)
def test_bands_by_hand(step: int, contrast: float, line: int, loose: int, found: bool) -> None:
    """One step of luma at a line, looked for from line 5 on; some segments are far off all along."""
    luma = np.full((24, 20), 100)
    luma[line:] += step
    luma[:, :loose] += NEAR_LUMA + 1
    assert banded(side_of(gray(luma)), list(range(20)), 5, contrast) == found


@pytest.mark.parametrize(("off", "found"), [(NEAR_LUMA, True), (NEAR_LUMA + 1, False)])
def test_a_band_may_waver(off: int, found: bool) -> None:
    """Every fourth segment is off by what a page segment may be off, or by one code more."""
    luma = np.full((24, 20), 100)
    luma[8:] = 160
    luma[:, ::4] += off
    assert banded(side_of(gray(luma)), list(range(20)), 5, 0.0) == found


def test_bands_between_restless_lines_do_not_count() -> None:
    """A level is forgotten where a line is not still."""
    luma = np.full((24, 20), 100)
    luma[9:] = 160
    luma[8] = np.arange(20) * 10
    assert not banded(side_of(gray(luma)), list(range(20)), 5, 0.0)


@pytest.mark.parametrize(("off", "flat"), [(0, True), (blank.FLAT_SPREAD, True), (9, False)])
@pytest.mark.parametrize("size", [(30, 20), (700, 500)])
def test_blank_to_the_last_pixel(off: int, flat: bool, size: tuple[int, int]) -> None:
    """One pixel of one channel off by a known number of codes, where no sample falls."""
    picture = Image.new("RGB", size, (100, 150, 200))
    picture.putpixel((3, 2), (100 + off, 150, 200))
    facts = blank_facts(picture)
    assert (facts["flat"], facts["spread"]) == (flat, off)
    assert facts["color"] == "#6496c8"
