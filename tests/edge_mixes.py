"""Part-covered outermost lines computed anew with numpy: what the steps of part.py are held against.

From its docstrings and the usual formulas: running means by convolution, weighted least squares by
numpy.polyfit, chi squared and log likelihood of normal errors, the best stretch by trying all of them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from edge_strips import seen

from pytest_webdeliverable.measure.edges.part import (
    CHROMA_LINE,
    CLIP,
    FLOOR,
    INNER,
    RIVALS,
    WEIGHTS,
)

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.edges.profile import Profile

Array = np.ndarray
Stretch = tuple[int, int, float, float, float]
NOTHING: Stretch = (0, 0, 0.0, 0.0, 0.0)


def codes_of(profile: Profile) -> Array:
    """Return ``codes[band, line, segment]``."""
    planes = (profile.luma, profile.blue, profile.red)
    return np.array([[list(row) for row in plane] for plane in planes], float)


def running_mean(values: Array, reach: int) -> Array:
    """Return a running mean by numpy.convolve; at the ends over what there is."""
    kernel = np.ones(2 * reach + 1)
    inner = slice(reach, reach + len(values))
    return np.convolve(values, kernel)[inner] / np.convolve(np.ones(len(values)), kernel)[inner]


def noise_of(codes: Array) -> Array:
    """Return the weighted variance between lines 1 to INNER and the next, smoothed, on a floor."""
    change = np.diff(codes, axis=1)[:, 1 : INNER + 1] ** 2
    return FLOOR**2 + running_mean(np.tensordot(WEIGHTS, change, 1).mean(0), 2)


class Products:
    """Per segment: offset times way to the page, way squared, and the noise."""

    def __init__(self, along: Array, squared: Array, noise: Array) -> None:
        self.along, self.squared, self.noise = along, squared, np.asarray(noise, float)

    @property
    def weight(self) -> Array:
        """One over the variance of each segment's share."""
        return self.squared / self.noise

    @property
    def share(self) -> Array:
        """Each segment's share of page by itself."""
        none = np.zeros_like(self.along)
        return np.divide(self.along, self.squared, out=none, where=self.squared > 0)


class Mixed(Products):
    """One line against where the next ones lead, for one page color."""

    def __init__(self, codes: Array, line: int, page: tuple[float, ...], noise: Array) -> None:
        one, three = codes[:, line + 1], codes[:, line + 3]
        lead = one + np.array([running_mean(rise, 3) for rise in (one - three) / 2])
        self.way = np.array(page)[:, None] - lead
        self.off = codes[:, line] - lead
        weights = np.array(WEIGHTS)
        super().__init__(weights @ (self.way * self.off), weights @ self.way**2, noise)


def seed(along: Array, squared: Array, noise: Array) -> tuple[float, float]:
    """Return share and chi squared (sum of w s)^2 / sum of w of the loudest half-overlapping window."""
    size, best = len(noise), (0.0, 0.0)
    for parts in (1, 3, 8, 14):
        length = max(4, size // parts)
        starts = np.arange(0, size - length + 1, max(1, length // 2))
        window = (starts[:, None] + np.arange(length)).astype(int)
        above, below = (along / noise)[window].sum(1), (squared / noise)[window].sum(1)
        chi = np.where(above > 0, above**2 / np.maximum(below, 1e-300), 0.0)
        if len(chi) and chi.max() > best[1]:
            best = float((above / below)[chi.argmax()]), float(chi.max())
    return best


def speak(mixed: Products, shares: Array) -> Array:
    """Return the log likelihood ratio of each segment under normal errors, clipped."""
    before = mixed.noise**-1 * (0.0 - mixed.share) ** 2 * mixed.squared
    after = mixed.noise**-1 * (shares - mixed.share) ** 2 * mixed.squared
    return np.where(shares > 0, np.clip((before - after) / 2, -CLIP, CLIP), -0.05)


def best_stretch(scores: Array) -> tuple[int, int, float]:
    """Return the stretch with the greatest sum, of all there are; of equals the shortest."""
    sums = np.concatenate([[0.0], np.cumsum(scores)])
    ends = np.arange(len(sums))
    gain = np.triu(sums[None, :] - sums[:, None], 1)
    first, last = np.unravel_index(
        np.argmax(gain - 1e-9 * (ends[None, :] - ends[:, None])), gain.shape
    )
    return int(first), int(last), float(gain[first, last])


def fit(mixed: Products, first: int, last: int) -> tuple[float, float]:
    """Return the weighted mean share, or the line where its slope is plain and five times its error."""
    own = slice(first, last)
    at, share, weight = np.arange(first, last), mixed.share[own], mixed.weight[own]
    if not weight.sum():
        return 0.0, 0.0
    spread = np.sum(weight * (at - np.average(at, weights=weight)) ** 2)
    slope, base = np.polyfit(at, share, 1, w=np.sqrt(weight))
    if abs(slope) >= 5 / np.sqrt(spread) and abs(slope) * (last - first) >= 0.25:
        return float(base), float(slope)
    return float(np.average(share, weights=weight)), 0.0


def stretch(mixed: Products) -> Stretch:
    """Return the best stretch: from the loudest window's share, fitted three times."""
    share, power = seed(mixed.along, mixed.squared, mixed.noise)
    if power < 12 or share < 0.065 or share > 1.3:
        return NOTHING
    found: Stretch = (0, 0, min(share, 1.0), 0.0, 0.0)
    for _ in range(3):
        at = np.arange(len(mixed.noise))
        scores = speak(mixed, np.clip(found[2] + found[3] * at, 0, 1))
        first, last, score = best_stretch(scores)
        if last - first < 3:
            return NOTHING
        found = (first, last, *fit(mixed, first, last), score)
    return found


def part_run(codes: Array, page: tuple[float, ...], noise: Array) -> dict[str, Any] | None:
    """Return what is to be told of the outermost line, or None."""
    mixed = Mixed(codes, 0, page, noise)
    first, last, base, slope, score = stretch(mixed)
    own, at = slice(first, last), np.arange(first, last)
    if score < 16 or not 0.13 <= np.mean(base + slope * at) <= 0.97:
        return None
    shares = np.clip(base + slope * at, 0, 1)
    weight = np.minimum(mixed.weight, 50)[own]
    agree = (mixed.share[own] >= 0.4 * shares) & (mixed.share[own] <= 1.6 * shares)
    whole = np.array(WEIGHTS) @ mixed.off[:, own] ** 2
    left = np.array(WEIGHTS) @ (mixed.off[:, own] - shares * mixed.way[:, own]) ** 2
    art = np.stack([codes[0, 1], codes[1, CHROMA_LINE], codes[2, CHROMA_LINE]])[:, own].T
    blend = art + shares[:, None] * (np.array(page) - art)
    step = max(1, len(at) // 12)
    return {
        "first": first,
        "last": last,
        "share_first": base + slope * first,
        "share_last": base + slope * (last - 1),
        "page": page,
        "speaks": score,
        "agree": np.average(agree, weights=weight),
        "told": 1 - left.sum() / whole.sum(),
        "art": tuple(art.mean(0)),
        "line": tuple(codes[:, 0, own].mean(1)),
        "seen": np.mean([seen(*pair) for pair in zip(art[::step], blend[::step], strict=True)]),
    }


def rival(codes: Array, page: tuple[float, ...], noise: Array) -> float:
    """Return the loudest of the lines next to the side, or half the loudest of all looked at."""
    lines = range(1, min(RIVALS, codes.shape[1] - 3))
    loud = [stretch(Mixed(codes, line, page, noise))[4] for line in lines]
    return max([*loud[: INNER - 1], max(loud) / 2])
