"""sRGB's curve and luminance, against the values its standard and WCAG state."""

import pytest

from pytest_webdeliverable.measure.srgb import (
    LINEAR,
    RGB_TO_XYZ_D65,
    decode,
    encode,
)


def test_black_and_white_keep_their_ends():
    assert (decode(0.0), decode(1.0)) == (0.0, 1.0)
    assert (encode(0.0), encode(1.0)) == (0.0, pytest.approx(1.0))


def test_encoding_undoes_decoding_for_all_codes():
    assert [255 * encode(light) for light in LINEAR] == pytest.approx(range(256), abs=1e-4)


def test_branches_meet_at_the_knee_as_closely_as_the_standard_lets_them():
    # 0.0031308049535603713 and 0.0031308072830676845: the two branches at 0.04045 (IEC 61966-2-1).
    assert decode(0.04045) == pytest.approx(0.0031308049535603713, abs=1e-15)
    assert decode(0.04045 + 1e-12) == pytest.approx(0.0031308072830676845, abs=1e-11)


def test_middle_luminance_row_adds_up_to_white():
    assert sum(RGB_TO_XYZ_D65[1]) == pytest.approx(1.0, abs=1e-6)
