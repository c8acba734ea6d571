"""Verdicts and figures on profiles in free packages, as a survey measured them.

The figures are from a survey of 212 RGB profiles made with another parser and cross-read by
LittleCMS (median difference 0.002 in CIEDE2000). Its tone curve figure is the most that a curve is
off sRGB's over 256 codes, its colorant figure the most that an X, Y, Z is off. This file reads the
profiles of the Debian packages colord-data 1.4.6, icc-profiles-free 2.0.1 and libgs-common 10.0.0
where they are installed; test_icc_published.py rebuilds profiles from the published numbers.
"""

from pathlib import Path

import pytest

from pytest_webdeliverable.measure.icc import profile_facts, same_profile

FOLDER = Path("/usr/share/color/icc")  # where Debian's packages put them

# File, tone curve figure (code values), colorant figure, color difference figure.
TRUE_SRGB = [
    ("colord/Bluish.icc", 0.002, 1e-05, 0.003),
    ("colord/Gamma5000K.icc", 0.002, 1e-05, 0.003),
    ("colord/Gamma5500K.icc", 0.002, 1e-05, 0.003),
    ("colord/Gamma6500K.icc", 0.002, 1e-05, 0.003),
    ("colord/sRGB.icc", 0.002, 0.00022, 0.012),
    ("sRGB.icc", 0.025, 0.00022, 0.012),
    ("ghostscript/default_rgb.icc", 0.025, 0.00018, 0.033),
    ("ghostscript/srgb.icc", 0.025, 0.00018, 0.033),
]
OTHER_RGB = [
    ("colord/BruceRGB.icc", 8.544, 0.0644, 3.408),
    ("colord/PAL-RGB.icc", 8.544, 0.01904, 3.774),
    ("colord/SMPTE-C-RGB.icc", 8.544, 0.01993, 4.444),
    ("colord/Rec709.icc", 15.791, 0.00022, 7.35),
    ("colord/AppleRGB.icc", 19.292, 0.04519, 8.319),
    ("colord/ColorMatchRGB.icc", 19.292, 0.07334, 10.093),
    ("colord/AdobeRGB1998.icc", 8.528, 0.17971, 10.211),
    ("compatibleWithAdobeRGB1998.icc", 8.528, 0.17984, 10.217),
    ("ghostscript/a98.icc", 8.528, 0.17984, 10.217),
    ("colord/ECI-RGBv2.icc", 8.643, 0.2142, 12.399),
    ("LStar-RGB.icc", 8.644, 0.21423, 12.4),
    ("colord/DonRGB4.icc", 8.544, 0.20976, 12.402),
    ("colord/BetaRGB.icc", 8.544, 0.23524, 13.19),
    ("colord/BestRGB.icc", 8.544, 0.19665, 13.796),
    ("colord/NTSC-RGB.icc", 8.544, 0.19987, 15.162),
    ("colord/ECI-RGBv1.icc", 19.292, 0.2142, 17.843),
    ("colord/WideGamutRGB.icc", 8.528, 0.28419, 18.718),
    ("colord/EktaSpacePS5.icc", 8.544, 0.15788, 22.157),
    ("CineonLog_M_Knee_60.icc", 57.402, 0.00018, 23.185),
    ("CineonLog_M_Knee_30.icc", 75.993, 0.00018, 23.669),
    ("CineonLog_M.icc", 84.0, 0.00018, 24.593),
    ("ghostscript/scrgb.icc", 73.219, 0.00018, 28.713),
    ("colord/CIE-RGB.icc", 8.544, 0.10786, 29.792),
    ("ghostscript/ps_rgb.icc", 73.219, 0.17984, 30.147),
    ("ghostscript/esrgb.icc", 95.237, 0.00018, 36.103),
    ("colord/ProPhotoRGB.icc", 19.292, 0.36163, 38.471),
    ("ghostscript/rommrgb.icc", 19.252, 0.36166, 38.485),
    ("colord/SwappedRedAndGreen.icc", 0.002, 0.49456, 96.736),
]
OTHERS = [
    ("colord/Crayons.icc", "named", "Lab"),
    ("colord/x11-colors.icc", "named", "Lab"),
    ("CineLogCurve.icc", "abstract", "Lab"),
    ("Gray-CIE_L.icc", "gray", "GRAY"),
    ("Gray.icc", "gray", "GRAY"),
    ("ITULab.icc", "table", "Lab"),
    ("LCMSXYZI.ICM", "table", "XYZ"),
    ("ghostscript/default_cmyk.icc", "table", "CMYK"),
    ("ghostscript/gray_to_k.icc", "table", "CMYK"),
    ("ghostscript/ps_cmyk.icc", "table", "CMYK"),
    ("ghostscript/ps_gray.icc", "gray", "GRAY"),
    ("ghostscript/sgray.icc", "gray", "GRAY"),
]


def facts_of(name):
    path = FOLDER / name
    if not path.is_file():
        pytest.skip(
            f"{name} is not installed (Debian: colord-data, icc-profiles-free, libgs-common)"
        )
    return profile_facts(path.read_bytes())


@pytest.mark.parametrize(("name", "curve", "colorant", "delta_e"), TRUE_SRGB + OTHER_RGB)
def test_figures_equal_the_survey(name, curve, colorant, delta_e):
    facts = facts_of(name)
    assert facts["kind"] == "matrix"
    assert facts["curve_deviation"] == pytest.approx(curve, abs=0.0011)
    assert facts["colorant_deviation"] == pytest.approx(colorant, abs=0.000011)
    assert facts["delta_e"] == pytest.approx(delta_e, abs=0.003)
    assert facts["problems"] == []


@pytest.mark.parametrize("name", [row[0] for row in TRUE_SRGB])
def test_true_srgb_is_srgb(name):
    assert facts_of(name)["srgb"] is True


@pytest.mark.parametrize("name", [row[0] for row in OTHER_RGB])
def test_any_other_rgb_space_is_not(name):
    assert facts_of(name)["srgb"] is False


@pytest.mark.parametrize(("name", "kind", "space"), OTHERS)
def test_other_kinds_are_told_and_are_not_srgb(name, kind, space):
    facts = facts_of(name)
    assert (facts["kind"], facts["space"], facts["srgb"]) == (kind, space, False)


def test_gray_with_srgb_curve_counts_as_srgb():
    assert facts_of("ghostscript/default_gray.icc")["srgb"] is True


def test_all_true_srgb_profiles_are_the_same_and_no_other_is():
    true = [facts_of(name) for name, *_ in TRUE_SRGB]
    others = [facts_of(name) for name, *_ in OTHER_RGB]
    assert all(same_profile(one, two) for one in true for two in true)
    assert not any(same_profile(one, two) for one in true for two in others)
