"""Verdicts and figures on profiles rebuilt from published numbers: these run everywhere.

Primaries, curves and figures are those that a survey of freely packaged profiles and of profiles in
sample photographs read out (see test_icc_survey.py for how). The tolerance of one code value and of
0.005 is the project's; the survey's true sRGB profiles reach 0.48 and 0.00022, others begin at 8.5
and 0.019.
"""

import itertools

import pytest
from PIL import ImageCms
from profiles import (
    SRGB_PARAMETERS,
    assemble,
    gamma,
    gray_profile,
    localized,
    matrix_profile,
    matrix_tags,
    para,
    sampled,
    srgb_light,
)

from pytest_webdeliverable.measure.icc import profile_facts, same_profile

# X, Y, Z of red, green and blue, relative to D50.
PRIMARIES = {
    name: [tuple(map(float, part.split())) for part in numbers.split(",")]
    for name, numbers in {
        "LittleCMS": "0.43604 0.22249 0.01392, 0.38512 0.7169 0.09706, 0.14305 0.06061 0.71391",
        "version 2": "0.43607 0.22249 0.01392, 0.38515 0.71687 0.09708, 0.14307 0.06061 0.7141",
        "Debian": "0.43585 0.22238 0.01392, 0.38533 0.71704 0.09714, 0.14302 0.06059 0.71384",
        "compact": "0.43604 0.22244 0.0139, 0.3851 0.71693 0.09708, 0.14307 0.06062 0.71393",
        "camera": "0.43607 0.2225 0.01392, 0.38507 0.71687 0.09706, 0.14305 0.06061 0.71399",
        "calculated": "0.43604 0.22248 0.01392, 0.38511 0.71691 0.09707, 0.14305 0.06061 0.71391",
        "Bruce RGB": "0.494 0.25204 0.01578, 0.32071 0.68463 0.06294, 0.14949 0.06332 0.74617",
        "PAL": "0.45508 0.23218 0.01454, 0.3678 0.70795 0.10495, 0.14133 0.05988 0.70541",
        "SMPTE C": "0.41611 0.22156 0.01364, 0.39342 0.70343 0.09138, 0.15468 0.07501 0.71986",
        "scanner": "0.45427 0.24263 0.01482, 0.35332 0.67441 0.09042, 0.15662 0.08336 0.71953",
        "Display P3": "0.51512 0.2412 -0.00105, 0.29198 0.69225 0.04189, 0.1571 0.06656 0.78407",
        "BT.601 NTSC": "0.41629 0.22168 0.01364, 0.3932 0.70328 0.09132, 0.15471 0.07504 0.71994",
        "Apple RGB": "0.47537 0.25505 0.01846, 0.33992 0.67274 0.11342, 0.14891 0.0722 0.69302",
        "Apple toe": "0.47554 0.25516 0.01846, 0.33971 0.67259 0.11333, 0.14896 0.07225 0.69312",
        "ColorMatch RGB": "0.50938 0.2749 0.02426, 0.32091 0.65814 0.10878, 0.13391 0.06696 0.69186",
        "Adobe RGB": "0.60974 0.31111 0.01947, 0.20528 0.62567 0.06087, 0.14919 0.06322 0.74457",
        "DCI-P3": "0.48616 0.22668 -0.00079, 0.32385 0.71033 0.04323, 0.15419 0.06299 0.78247",
        "eciRGB v2": "0.65024 0.32027 0, 0.17809 0.60208 0.06784, 0.13588 0.07765 0.75706",
        "Don RGB 4": "0.6458 0.27837 0.00371, 0.19334 0.68797 0.01799, 0.12505 0.03366 0.80321",
        "BT.2020": "0.67348 0.27905 -0.00194, 0.16568 0.67534 0.02998, 0.12505 0.04561 0.79686",
        "ACEScg": "0.68988 0.28452 -0.00604, 0.14977 0.67169 0.01001, 0.12456 0.04379 0.82094",
        "Wide gamut": "0.71614 0.25821 0, 0.10092 0.72493 0.05179, 0.14713 0.01686 0.77312",
        "ProPhoto RGB": "0.79767 0.28804 0, 0.13519 0.71188 0, 0.03134 9e-05 0.82491",
        "swapped": "0.38533 0.71704 0.09714, 0.43585 0.22238 0.01392, 0.14302 0.06059 0.71384",
    }.items()
}
TRUE_SETS = ("LittleCMS", "version 2", "Debian", "compact", "camera", "calculated")
SRGB_CURVES = {
    "para 3, LittleCMS": para(3, *SRGB_PARAMETERS),
    "para 3, compact": para(3, 2.40004, 0.947861, 0.052139, 0.077393, 0.040451),
    "para 4": para(4, *SRGB_PARAMETERS, 0, 0),
    "curv 1024": sampled(1024, srgb_light),
    "curv 4096": sampled(4096, srgb_light),
}


@pytest.mark.parametrize(
    ("colorants", "curve"), list(itertools.product(TRUE_SETS, SRGB_CURVES)), ids=str
)
def test_each_published_form_of_srgb_is_srgb(colorants, curve):
    facts = profile_facts(matrix_profile(PRIMARIES[colorants], SRGB_CURVES[curve]))
    assert (facts["gamut"], facts["curve"], facts["srgb"]) == (True, True, True)
    assert facts["curve_deviation"] < 0.03
    assert facts["colorant_deviation"] <= 0.00023
    assert facts["problems"] == []


def test_pillow_srgb_is_srgb():
    facts = profile_facts(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    assert facts["srgb"] is True
    assert facts["curve_deviation"] == pytest.approx(0.002, abs=0.001)
    assert facts["colorant_deviation"] == pytest.approx(1e-5, abs=1e-5)
    assert (facts["version"], facts["description"]) == ("4.4", "sRGB built-in")


LSTAR = para(3, 3.0, 0.862076, 0.137924, 0.110703, 0.080002)
BT709 = para(3, 2.222244, 0.909912, 0.090088, 0.222229, 0.081009)
# Name, primaries, curve, then the survey's curve figure, colorant figure and color difference.
OTHER = [
    ("Bruce RGB", "Bruce RGB", para(0, 2.199997), 8.544, 0.0644, 3.408),
    ("sRGB primaries, L* curve", "LittleCMS", LSTAR, 8.643, 2e-05, 3.503),
    ("PAL", "PAL", para(0, 2.199997), 8.544, 0.01904, 3.774),
    ("sRGB primaries, gamma 2.2", "LittleCMS", gamma(2.19922), 8.528, 2e-05, 3.841),
    ("sRGB primaries, gamma 2.2, version 4", "LittleCMS", para(0, 2.199219), 8.528, 2e-05, 3.841),
    ("camera that says sRGB", "camera", gamma(2.19922), 8.528, 8e-05, 3.841),
    ("SMPTE C", "SMPTE C", para(0, 2.199997), 8.544, 0.01993, 4.444),
    ("scanner", "scanner", gamma(2.19922), 8.528, 0.0425, 5.727),
    ("Display P3", "Display P3", para(3, 2.40004, *SRGB_PARAMETERS[1:]), 0.001, 0.09314, 7.147),
    ("BT.601 NTSC", "BT.601 NTSC", BT709, 15.79, 0.01975, 7.26),
    ("BT.709", "LittleCMS", BT709, 15.79, 2e-05, 7.352),
    ("sRGB primaries, gamma 1.8", "LittleCMS", gamma(1.80078), 19.252, 2e-05, 7.583),
    ("Apple RGB", "Apple RGB", para(0, 1.800003), 19.292, 0.04519, 8.319),
    (
        "Apple toe",
        "Apple toe",
        para(3, 1.800003, 1.0, 0.0, 0.03125, 0.013138),
        19.292,
        0.04541,
        8.322,
    ),
    ("ColorMatch RGB", "ColorMatch RGB", para(0, 1.800003), 19.292, 0.07334, 10.093),
    ("Adobe RGB (1998)", "Adobe RGB", gamma(2.19922), 8.528, 0.17984, 10.217),
    (
        "Adobe RGB, sRGB curve",
        "Adobe RGB",
        para(3, *SRGB_PARAMETERS),
        0.002,
        0.17984,
        10.178,
    ),
    ("Adobe RGB primaries, linear", "Adobe RGB", gamma(1.0), 73.219, 0.17984, 30.148),
    ("DCI-P3", "DCI-P3", para(0, 2.600006), 17.974, 0.06856, 10.263),
    ("eciRGB v2", "eciRGB v2", LSTAR, 8.643, 0.2142, 12.399),
    ("Don RGB 4", "Don RGB 4", para(0, 2.199997), 8.544, 0.20976, 12.402),
    ("BT.2020, gamma 2.4", "BT.2020", para(0, 2.399994), 12.797, 0.23744, 13.972),
    (
        "BT.2020",
        "BT.2020",
        para(3, 2.222244, 0.909668, 0.090332, 0.222229, 0.081009),
        15.85,
        0.23744,
        16.936,
    ),
    ("ACEScg, sRGB curve", "ACEScg", para(3, *SRGB_PARAMETERS), 0.002, 0.25384, 14.92),
    ("Wide gamut", "Wide gamut", para(0, 2.199219), 8.528, 0.28419, 18.718),
    ("sRGB primaries, linear", "LittleCMS", gamma(1.0), 73.219, 2e-05, 28.717),
    ("ProPhoto RGB", "ProPhoto RGB", para(0, 1.800003), 19.292, 0.36163, 38.471),
    ("red and green swapped", "swapped", para(3, *SRGB_PARAMETERS), 0.002, 0.49456, 96.736),
]


@pytest.mark.parametrize(
    ("colorants", "curve", "off", "aside", "delta_e"),
    [row[1:] for row in OTHER],
    ids=[row[0] for row in OTHER],
)
def test_each_other_published_space_is_not_srgb_and_its_figures_hold(
    colorants, curve, off, aside, delta_e
):
    facts = profile_facts(matrix_profile(PRIMARIES[colorants], curve, "sRGB IEC61966-2.1"))
    assert facts["srgb"] is False
    assert facts["curve_deviation"] == pytest.approx(off, abs=0.0021)
    assert facts["colorant_deviation"] == pytest.approx(aside, abs=0.000021)
    assert facts["delta_e"] == pytest.approx(delta_e, abs=0.006)
    assert facts["curve"] is (off <= 1)
    assert facts["gamut"] is (aside <= 0.005)


def test_no_other_published_space_is_taken_for_the_same_profile_as_srgb():
    srgb = profile_facts(matrix_profile())
    assert not any(
        same_profile(srgb, profile_facts(matrix_profile(PRIMARIES[colorants], curve)))
        for _, colorants, curve, *_ in OTHER
    )


def test_gray_curve_is_compared_with_srgb():
    assert profile_facts(gray_profile(sampled(1024, srgb_light)))["srgb"] is True
    assert profile_facts(gray_profile(gamma(2.19922)))["curve_deviation"] == pytest.approx(
        8.528, abs=0.002
    )


def test_gray_curve_of_a_lab_connection_space_gives_lightness():
    # The survey's L* gray: a straight line from black to white in L*, 8.64 code values off sRGB.
    assert profile_facts(gray_profile(gamma(1.0), pcs="Lab "))["curve_deviation"] == pytest.approx(
        8.643, abs=0.002
    )


def test_four_damaged_codes_of_256_are_found():
    # A sample photograph's profile: sRGB by name and primaries, 4 of 256 codes off by up to 66.8.
    entries = [round(65535 * srgb_light(index / 1023)) for index in range(1024)]
    for code in (100, 101, 102, 103):
        for index in range(1023 * code // 255 - 1, 1023 * code // 255 + 2):
            entries[index] = 65535
    curve = (
        b"curv\0\0\0\0"
        + (1024).to_bytes(4, "big")
        + b"".join(e.to_bytes(2, "big") for e in entries)
    )
    facts = profile_facts(matrix_profile(curve=curve, name="sRGB IEC61966-2.1"))
    assert (facts["gamut"], facts["curve"], facts["srgb"]) == (True, False, False)
    assert facts["curve_deviation"] > 100
    assert facts["problems"] == [
        "the color profile is damaged: a tone curve runs backwards in places"
    ]
    assert not same_profile(facts, profile_facts(matrix_profile()))


def test_a_foreign_name_does_not_hide_srgb():
    tags = matrix_tags() | {"desc": localized(("de", "Blau"), ("en", "Blue"))}
    facts = profile_facts(assemble(tags, version=(4, 4)))
    assert (facts["description"], facts["srgb"]) == ("Blue", True)


def test_unadapted_d65_primaries_are_not_srgb_and_the_cast_is_told():
    # Columns of the matrix for D65 (IEC 61966-2-1): programs read colorants as adapted to D50.
    unadapted = ((0.4124, 0.2126, 0.0193), (0.3576, 0.7152, 0.1192), (0.1805, 0.0722, 0.9505))
    facts = profile_facts(matrix_profile(unadapted))
    assert (facts["gamut"], facts["curve"], facts["srgb"]) == (False, True, False)
    assert any("grays get a cast" in oddity for oddity in facts["oddities"])
