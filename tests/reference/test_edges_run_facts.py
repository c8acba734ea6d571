"""Every fact of a run, computed once more by numpy on random strips, and its borders by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from edge_strips import cut, gray, seen, side_of

from pytest_webdeliverable.measure.edges.color import sharpness
from pytest_webdeliverable.measure.edges.depths import Depths, depths
from pytest_webdeliverable.measure.edges.pages import CONTRAST
from pytest_webdeliverable.measure.edges.profile import SAMPLES, Profile
from pytest_webdeliverable.measure.edges.still import banded, grain_and_drift
from pytest_webdeliverable.measure.edges.whole import (
    FURTHER,
    OPEN,
    SHALLOWEST,
    SMEAR,
    STEP_DEPTH,
    _describe,
)

RNG = np.random.default_rng
WHITE = (255.0, 128.0, 128.0)


def _strip(seed: int, slope: float, lines: int, count: int = 50, segment: int = 8) -> Profile:
    """White to about 2 px (and more by a slope), on art that fades, with spots of white and many faults.

    The last segment is 3 px short.
    """
    rng = RNG(seed)
    art = gray(rng.integers(20, 190, (1, count)) + np.zeros((lines, 1)))
    art[..., 0] += rng.uniform(-3, 3, (1, count)) * np.arange(lines)[:, None]
    art[..., 1:] = rng.integers(100, 156, (1, count, 2))
    art[:, rng.random(count) < 0.2] = (243, 70, 190)  # told by chroma alone
    art[rng.random((lines, count)) < 0.02] = WHITE
    deep = 2.2 + slope * np.arange(count) + rng.uniform(-0.2, 0.2, count)
    deep[rng.random(count) < 0.15] = 0
    deep[rng.random(count) < 0.1] = lines
    deep[rng.random(count) < 0.1] += 1.3
    deep = np.where(rng.random(count) < 0.15, rng.uniform(1, lines - 1, count), deep)
    strip = cut(art, np.array(WHITE), deep)
    strip[..., 0] -= (strip[..., 0] > 250) * rng.integers(0, 4, (lines, count))
    side = side_of(strip, segment)
    length = count * segment - 3
    return replace(side, length=length, pixels=side.pixels.crop((0, 0, length, lines)))


def _opens(
    lines: Profile, found: Depths, first: int, last: int, base: float, slope: float, far: float
) -> int:
    """Ends beyond which, the segment beside left out, the page color goes on along the outermost line.

    On a straight run that ends in stairs, all that lies beyond up to the corner's two segments is one
    step deeper.
    """
    opens = 0
    for at, beyond in (
        (first - 2, range(2, first - 1)),
        (last + 1, range(last + 1, lines.count - 2)),
    ):
        if not 2 <= at < lines.count - 2:
            continue
        color = np.asarray(lines.means)[0, at].astype(float)
        off = np.abs(color - WHITE)
        shows = found.near[0][at] or off[0] + off[1:].max() / 2 <= OPEN * far
        stairs = slope == 0 and all(
            found.contrast[one] >= CONTRAST and 0 <= (found.depth[one] or 0) - base <= STEP_DEPTH
            for one in beyond
        )
        opens += bool(shows and not stairs)
    return opens


@pytest.mark.parametrize("slope", [0.0, 0.04, -0.04])
@pytest.mark.parametrize("height", [24, 16, 9])
@pytest.mark.parametrize("seed", range(4))
def test_the_facts_of_a_run_by_numpy(seed: int, height: int, slope: float) -> None:
    """Of any stretch and any segments inside it: what ``Run`` says of each field."""
    lines = _strip(100 * seed + height, slope, height)
    found, rng = depths(lines, WHITE), RNG(seed)
    codes = np.asarray(lines.means).astype(float)
    base = 2.2
    depth = np.array([np.nan if one is None else one for one in found.depth])
    tells = np.array(found.contrast) >= CONTRAST
    for _ in range(6):
        first, last = sorted(rng.choice(51, 2, replace=False))
        inside = [at for at in range(first, last) if tells[at] and rng.random() < 0.8]
        if not inside:
            continue
        run = _describe(lines, WHITE, found, inside=inside, ends=(first, last), line=(base, slope))
        deep = np.minimum(depth[inside].astype(int), height - 4)
        art, soon, later = (codes[deep + step, inside] for step in (2, 1, 3))
        further = codes[np.minimum(deep + FURTHER, height - 1), inside]
        sharp = [sharpness(WHITE, *pair) for pair in zip(soon, later, strict=True)]
        lasting = [sharpness(WHITE, *pair) for pair in zip(soon, further, strict=True)]
        near = np.array([list(row) for row in found.near]) != 0
        back = [near[one + 2 :, at].any() for one, at in zip(deep, inside, strict=True)]
        far = np.mean([found.contrast[at] for at in inside])
        assert run.sharp == pytest.approx(np.median(sharp))
        assert run.lasting == pytest.approx(np.median(lasting))
        assert run.back == pytest.approx(np.mean(back))
        assert run.art == pytest.approx(tuple(art.mean(0)))
        assert run.spread == pytest.approx(art.std(0) @ [1, 0.5, 0.5])
        assert run.contrast == pytest.approx(far)
        assert run.ground == np.mean(np.isinf(depth[first:last]))
        assert (run.depth_first, run.depth_last) == (
            base + slope * first,
            base + slope * (last - 1),
        )
        assert run.banded == banded(lines, inside, max(deep) + 2, float(far))
        step = max(1, len(inside) // SAMPLES)
        each = [seen(np.array(WHITE), one) for one in art[::step]]
        assert run.seen == pytest.approx(np.mean(each), abs=0.3)
        assert run.opens == _opens(lines, found, first, last, base, slope, float(far))
        # Segments that show art, or that tell (but for what smeared chroma may explain) could have told.
        at = np.arange(first, last)
        off = depth[at] - (base + slope * at)
        smeared = np.array(found.soft)[at] & (-SMEAR[0] <= off) & (off <= SMEAR[1])
        could = np.isin(at, inside) | np.isnan(depth[at]) | (tells[at] & ~smeared)
        could &= (slope == 0) | (base + slope * at > 0.7)
        assert run.told == len(inside)
        assert run.share == pytest.approx(len(inside) / max(1, could.sum()))
        assert (run.grain, run.drift) == pytest.approx(_still(lines, inside, base, slope))


def _still(lines: Profile, inside: list[int], base: float, slope: float) -> tuple[float, float]:
    """Grain of the whole page lines of all segments inside, drift of those that are all page."""
    expected = base + slope * np.array(inside)
    whole = max(1, int(expected.min() + 0.1))
    left, right = inside[0] * 8, min(inside[-1] * 8 + 8, lines.length)
    plain = np.array(inside)[(slope == 0) | (expected >= SHALLOWEST)]
    ends = (0, 0)
    if len(plain):
        ends = int(plain[0] * 8 - left), int(min(plain[-1] * 8 + 8, lines.length) - left)
    return grain_and_drift(lines.pixels.crop((left, 0, right, whole)), WHITE, *ends)
