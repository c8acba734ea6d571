"""What shows a page color, and how far it goes on: numpy's own answers on random strips."""

from __future__ import annotations

import numpy as np
import pytest
from edge_strips import side_of
from PIL import Image

from pytest_webdeliverable.measure.edges import pages
from pytest_webdeliverable.measure.edges.pages import (
    NEAR_CHROMA,
    NEAR_LUMA,
    near_lines,
)
from pytest_webdeliverable.measure.edges.profile import Profile, alpha_profile

RNG = np.random.default_rng
PAGES = [(255, 128, 128), (251, 131, 124), (0, 128, 128), (3, 125, 133), (120, 90, 160)]
PAGES += [
    (pages.LIGHT_PAGE, 128, 128),
    (pages.DARK_PAGE, 128, 128),
    (199, 128, 128),
    (56, 128, 128),
]
"""Light, dark and neither, and both borders: only light and dark ones can be clipped."""


def _codes(lines: Profile) -> np.ndarray:
    """The means of a side's segments, ``[line, segment, band]``."""
    return np.asarray(lines.means).astype(int)


def _strip(seed: int, page: tuple[int, int, int], count: int = 240, lines: int = 24) -> Profile:
    """Art of one color per segment under page lines that are off by about what is allowed them.

    The page's chroma is off by up to what 4:2:0 may spill of the art's, its luma by what that clips.
    """
    rng = RNG(seed)
    art = np.repeat(rng.integers(0, 256, (1, count, 3)), lines, axis=0)
    art[..., 1:] = 128 + (art[..., 1:] - 128) * rng.uniform(0, 1, (1, count, 1))
    art = art + rng.integers(-2, 3, art.shape)
    depth = rng.integers(0, lines + 4, count)
    depth[::3] = rng.integers(0, 9, len(depth[::3]))
    covered = (np.arange(lines)[:, None] < depth)[..., None]
    noise = rng.integers(-1, 2, art.shape) * rng.integers(0, [8, 20, 20], art.shape)
    some = rng.random((lines, count, 1)) < 0.3
    spill = np.array([0, 1, 1]) * rng.choice([0.0, 0.5, 0.7, 0.75], (lines, count, 1))
    spill[..., 0] = rng.choice([0.0, 0.0, 0.3], (lines, count))
    own = np.array(page) + noise * some
    own = own + spill * (art - own) * (rng.random((lines, count, 1)) < 0.4)
    # Some plain segments, one that ends at each of the lines.
    covered[:, :lines] = np.tri(lines, k=-1)[..., None]
    own[:, :lines], art[:, :lines] = page, ((page[0] + 128) % 256, 128, 128)
    return side_of(np.where(covered, own, art))


def _further(chroma: np.ndarray, lines: int) -> np.ndarray:
    """What lies some lines further in, 0 where there is nothing."""
    return np.vstack([chroma, np.zeros((lines, chroma.shape[1]), int)])[lines:]


def _clipped(lines: Profile, goal: np.ndarray, chroma: np.ndarray) -> np.ndarray:
    """Luma that white or black may lose to clipping: chroma / 0.564 (BT.601), where a channel is at its limit."""
    rgb = np.asarray(lines.means.convert("RGB")).astype(int)
    white = (rgb.max(-1) >= pages.WHITEST) & (goal >= pages.LIGHT_PAGE)
    black = (rgb.min(-1) <= pages.BLACKEST) & (goal <= pages.DARK_PAGE)
    return np.where(white | black, np.floor(chroma / 0.564 + 1e-9), 0)


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("seed", range(3))
def test_near_lines_by_numpy(seed: int, page: tuple[int, int, int]) -> None:
    """Luma less what clipping takes, within 6 codes; chroma within 9 or what is spilt.

    Spilt are 0.7 of the chroma three lines further in, or 0.14 of that of the next block, 8 lines in.
    """
    lines = _strip(seed, page)
    off = np.abs(_codes(lines) - page)
    chroma = off[..., 1:].max(-1)
    luma = off[..., 0] - _clipped(lines, np.full(chroma.shape, page[0]), chroma)
    spilt = np.maximum(9, np.floor(0.7 * _further(chroma, 3)))
    spilt = np.maximum(spilt, np.floor(0.14 * _further(chroma, 8)))
    want = (luma <= 6) & (chroma <= spilt)
    got = np.array([list(row) for row in near_lines(lines, page)]) != 0
    assert 0.1 < want.mean() < 0.9
    assert np.array_equal(got, want)


def test_near_lines_of_a_color_between_codes() -> None:
    """A median may lie between two codes: 250.6 is 251, 127.6 is 128, 131.2 is 131."""
    lines = _strip(9, (251, 128, 131))
    assert near_lines(lines, (250.6, 127.6, 131.2)) == near_lines(lines, (251.0, 128.0, 131.0))
    assert near_lines(lines, (250.6, 127.6, 131.2)) != near_lines(lines, (250.0, 128.0, 131.0))


@pytest.mark.parametrize("center", [0, 77, 255])
def test_near_lines_of_alpha(center: int) -> None:
    """Alpha is one band: within NEAR_LUMA of it or not, from clear to opaque."""
    alpha = RNG(center).integers(max(0, center - 12), min(256, center + 13), (9, 60))
    lines = alpha_profile(Image.fromarray(alpha.astype(np.uint8)), "top")
    got = np.array([list(row) for row in near_lines(lines, (float(center), 128.0, 128.0))]) != 0
    assert np.array_equal(got, np.abs(np.asarray(lines.means).astype(int) - center) <= NEAR_LUMA)


def _reach(lines: Profile) -> np.ndarray:
    """Per segment the first line whose color is another one than the outermost line's, -1 for none."""
    codes = _codes(lines)
    off = np.abs(codes - codes[0])
    chroma = off[..., 1:].max(-1)
    goal = np.broadcast_to(codes[0, :, 0], chroma.shape)
    luma = off[..., 0] - _clipped(lines, goal, chroma)
    on_the_way = np.maximum(NEAR_CHROMA, np.floor(0.7 * _further(chroma, 3)))
    away = (luma > NEAR_LUMA) | ((chroma > 2 * NEAR_CHROMA) & (chroma > on_the_way))
    away = away[: min(22, lines.lines - 3)]
    return np.where(away.any(0), away.argmax(0), -1)


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("height", [24, 25, 26, 30, 11, 7])
def test_how_far_a_segment_keeps_its_color(height: int, page: tuple[int, int, int]) -> None:
    """Ends by luma or by chroma, less clipping and what is on the way to three lines further in.

    Of 24 lines those up to the 21st are looked at, of more the 22 outermost.
    """
    lines = _strip(height, page, lines=height)
    want = _reach(lines)
    assert pages._own_reach(lines) == list(want)
    assert {-1, 1, min(22, height - 3) - 1} <= set(want)


def test_how_far_alpha_keeps_its_value() -> None:
    """One band: the first line that is off by more than NEAR_LUMA."""
    alpha = np.full((20, 90), 200, np.uint8)
    alpha[5:, :30] = 200 - NEAR_LUMA
    alpha[6:, 30:60] = 200 + NEAR_LUMA + 1
    lines = alpha_profile(Image.fromarray(alpha), "top")
    assert pages._own_reach(lines) == [-1] * 15 + [6] * 15 + [-1] * 15


@pytest.mark.parametrize("height", [6, 7, 8, 11, 24])
@pytest.mark.parametrize("alpha", [False, True])
def test_where_something_stirs_by_numpy(height: int, alpha: bool) -> None:
    """The greatest change between lines two apart: luma, or half of chroma, of 5 codes."""
    rng = RNG(height)
    strip = np.full((height, 400, 3), 100) + rng.integers(0, 2, (height, 400, 3))
    at = np.arange(400)
    kick = rng.integers(-7, 8, (400, 3)) * [1, 2, 2] * rng.integers(0, 2, (400, 3))
    strip[rng.integers(0, height, 400), at] += kick
    lines = side_of(strip)
    if alpha:
        lines = alpha_profile(Image.fromarray(strip[..., 0].astype(np.uint8).repeat(8, 1)), "top")
    codes = np.asarray(lines.means).astype(int).reshape(height, lines.count, -1)
    change = np.abs(codes[2:] - codes[:-2]).max(0)
    half = change[:, 1:].max(-1, initial=0) // 2
    want = np.maximum(change[:, 0], half) >= 5
    assert 0.02 < want.mean() < 0.98
    assert np.array_equal(np.frombuffer(pages._stirred(lines), np.uint8) != 0, want)
