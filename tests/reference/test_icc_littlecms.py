"""Curves and primaries as LittleCMS (through Pillow) takes them, color by color."""

import io

import pytest
from PIL import Image, ImageCms
from profiles import (
    SRGB_PARAMETERS,
    assemble,
    gamma,
    gray_profile,
    matrix_profile,
    matrix_tags,
    para,
    sampled,
    srgb_light,
    table,
)

from pytest_webdeliverable.measure.icc import SAMPLED_CODES, profile_facts

SRGB = ImageCms.createProfile("sRGB")
CURVES = {
    "identity": table([]),
    "gamma 1.8": gamma(1.80078),
    "gamma 2.2": gamma(2.19922),
    "table of 2": table([0, 65535]),
    "table of 20": sampled(20, lambda x: x**2),
    "table of 1024": sampled(1024, srgb_light),
    "uneven table": table([0, 9000, 9500, 40000, 65535]),
    "para 0": para(0, 2.6),
    "para 1": para(1, 2.4, 1.1, -0.1),
    "para 2": para(2, 2.4, 0.9, -0.1, 0.1),
    "para 3": para(3, *SRGB_PARAMETERS),
    "para 4": para(4, 2.2, 0.9, 0.05, 0.3, 0.1, 0.02, 0.0),
}


def through_littlecms(profile, picture):
    """What LittleCMS shows of a picture in sRGB, relative colorimetric, no black point tricks."""
    return ImageCms.profileToProfile(
        picture,
        ImageCms.ImageCmsProfile(io.BytesIO(profile)),
        SRGB,
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        outputMode="RGB",
        flags=ImageCms.Flags.NOOPTIMIZE | ImageCms.Flags.HIGHRESPRECALC,
    )


def ramp(mode):
    """A picture one pixel high with the sampled codes as grays."""
    picture = Image.new("L", (len(SAMPLED_CODES), 1))
    picture.putdata(SAMPLED_CODES)
    return picture.convert(mode)


@pytest.mark.parametrize("curve", CURVES)
def test_grays_of_a_matrix_profile(curve):
    data = matrix_profile(curve=CURVES[curve], version=(4, 2))
    shown = through_littlecms(data, ramp("RGB")).getchannel("G").tobytes()
    (samples,) = profile_facts(data)["samples"]
    # Half a code for rounding to 8 bits, half for the fixed-point sums of LittleCMS.
    assert list(shown) == pytest.approx(samples, abs=1.0)


@pytest.mark.parametrize("curve", CURVES)
def test_grays_of_a_gray_profile(curve):
    data = gray_profile(CURVES[curve])
    shown = through_littlecms(data, ramp("L")).getchannel("G").tobytes()
    (samples,) = profile_facts(data)["samples"]
    assert list(shown) == pytest.approx(samples, abs=1.0)


@pytest.mark.parametrize("exponent", [1.0, 0.8, 1.25])
def test_grays_of_a_gray_profile_with_lightness(exponent):
    data = gray_profile(sampled(1024, lambda x: x**exponent), pcs="Lab ")
    shown = through_littlecms(data, ramp("L")).getchannel("G").tobytes()
    (samples,) = profile_facts(data)["samples"]
    assert list(shown) == pytest.approx(samples, abs=1.0)


def test_littlecms_reads_what_the_tests_write():
    profile = ImageCms.ImageCmsProfile(io.BytesIO(assemble(matrix_tags(name="written here"))))
    assert profile.profile.profile_description == "written here"
    assert profile.profile.version == pytest.approx(2.1)
    assert profile.profile.red_colorant[0] == pytest.approx((0.43607, 0.22249, 0.01392), abs=2e-5)


@pytest.mark.parametrize("size", [12, 100])
def test_littlecms_too_reads_a_profile_with_bytes_behind_it(size):
    data = matrix_profile() + bytes(size)
    assert ImageCms.ImageCmsProfile(io.BytesIO(data)).profile.xcolor_space == "RGB "
    assert profile_facts(data)["srgb"] is True
