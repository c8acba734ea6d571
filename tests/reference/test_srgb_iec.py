"""sRGB against IEC 61966-2-1, as colour-science 0.4.7 holds it, and against WCAG 2.2."""

import warnings

import numpy as np
import pytest

from pytest_webdeliverable.measure import srgb

with warnings.catch_warnings():
    # It warns on import of optional parts that are not installed.
    warnings.simplefilter("ignore")
    colour = pytest.importorskip("colour")


@pytest.fixture(scope="module")
def space():
    return colour.RGB_COLOURSPACES["sRGB"]


def test_decoding_equals_colour_science_on_all_codes():
    codes = np.arange(256) / 255
    assert np.abs(colour.models.eotf_sRGB(codes) - srgb.LINEAR).max() < 1e-15


def test_encoding_equals_colour_science():
    light = np.linspace(0, 1, 4097)
    ours = [srgb.encode(float(value)) for value in light]
    assert np.abs(colour.models.eotf_inverse_sRGB(light) - ours).max() < 1e-14


def test_primaries_and_white_equal_colour_science(space):
    assert np.array_equal(space.primaries, srgb.PRIMARIES_XY)
    assert np.array_equal(space.whitepoint, srgb.WHITE_XY)


def test_matrix_equals_the_one_worked_out_from_the_primaries(space):
    worked_out = colour.normalised_primary_matrix(space.primaries, space.whitepoint)
    assert np.abs(worked_out - srgb.RGB_TO_XYZ_D65).max() < 5e-8


def test_colorants_are_the_primaries_adapted_to_d50_by_bradford(space):
    matrix = colour.normalised_primary_matrix(space.primaries, space.whitepoint)
    d65 = matrix @ np.ones(3)
    d50 = np.array([0.9642, 1.0, 0.8249])  # ICC.1:2022, white of the connection space
    adaptation = colour.adaptation.matrix_chromatic_adaptation_VonKries(d65, d50, "Bradford")
    assert np.abs((adaptation @ matrix).T - srgb.COLORANTS_D50).max() < 1e-5


# WCAG 2.2, definition of relative luminance; its older knee 0.03928 gives the same for 8-bit codes.
def _wcag(rgb):
    parts = [
        c / 255 / 12.92 if c / 255 <= 0.03928 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in rgb
    ]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


@pytest.mark.parametrize(
    "rgb", [(1, 2, 3), (10, 11, 12), (118, 118, 118), (255, 165, 0), (64, 0, 255)]
)
def test_relative_luminance_as_wcag_defines_it(rgb):
    weighted = zip(srgb.LUMINANCE_WEIGHTS, rgb, strict=True)
    assert sum(weight * srgb.LINEAR[code] for weight, code in weighted) == pytest.approx(
        _wcag(rgb), abs=1e-15
    )
