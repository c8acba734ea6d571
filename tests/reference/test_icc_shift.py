"""How far colors shift if a profile is taken for sRGB, against colour-science."""

from __future__ import annotations

import warnings
from itertools import product

import numpy as np
import pytest

from pytest_webdeliverable.measure import icc
from pytest_webdeliverable.measure.icc_curves import power_curve
from pytest_webdeliverable.measure.srgb import COLORANTS_D50, LINEAR

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    colour = pytest.importorskip("colour")

D50 = np.array([0.9642, 1.0, 0.8249])
"""ICC.1:2022, 7.2.16."""
SRGB = np.array([[0.43607, 0.22249, 0.01392], [0.38515, 0.71687, 0.09708], [0.14307, 0.06061, 0.71410]])  # fmt: skip
"""X, Y, Z of red, green and blue, IEC 61966-2-1 adapted to D50 by the Bradford matrix."""
CODES = np.array([0, 32, 64, 96, 128, 159, 191, 223, 255])


def linear(codes):
    values = codes / 255
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def lab(colorants, curves):
    """L*, a*, b* relative to D50 of all colors of nine codes a channel (CIE 15)."""
    rgb = np.array(list(product(*curves)))
    t = rgb @ colorants / D50
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.stack([116 * f[:, 1] - 16, 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])], 1)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("gammas", [None, (1.8, 2.2, 2.6)])
def test_the_shift_is_the_most_over_729_colors(seed, gammas):
    colorants = SRGB + np.random.default_rng(seed).uniform(-0.06, 0.06, (3, 3))
    colorants = np.clip(colorants, 0.001, None)
    ours = [linear(CODES) if gammas is None else (CODES / 255) ** gamma for gamma in gammas or (0,) * 3]  # fmt: skip
    shift = colour.delta_E(lab(colorants, ours), lab(SRGB, [linear(CODES)] * 3), method="CIE 2000")
    given = tuple(tuple(map(float, row)) for row in colorants)
    curves = (LINEAR,) * 3 if gammas is None else tuple(map(power_curve, gammas))
    assert icc._delta_e(given, curves) == pytest.approx(shift.max(), rel=2e-3)


def test_srgb_itself_does_not_shift():
    assert icc._delta_e(COLORANTS_D50, (LINEAR,) * 3) == 0
