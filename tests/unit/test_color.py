"""Which color statement counts, what it says, and what contradicts it."""

import json

import pytest
from profiles import (
    SRGB_COLORANTS,
    assemble,
    gamma,
    gray_profile,
    matrix_profile,
    matrix_tags,
    sampled,
    srgb_light,
    table,
    table_profile,
)

from pytest_webdeliverable.measure.color import color_facts
from pytest_webdeliverable.measure.headers.base import ColorSignals, Header
from pytest_webdeliverable.measure.limits import Limits

SRGB = matrix_profile()
P3 = matrix_profile(
    ((0.51512, 0.2412, -0.00105), (0.29198, 0.69225, 0.04189), (0.1571, 0.06656, 0.78407))
)
GAMMA_22 = matrix_profile(curve=gamma(2.2))
SRGB_GRAY = gray_profile(sampled(1024, srgb_light))
CHRM = (0.3127, 0.329, 0.64, 0.33, 0.3, 0.6, 0.15, 0.06)


def header(kind="jpeg", mode="rgb", icc=None, icc_problem=None, **signals):
    return Header(
        format=kind,
        width=8,
        height=6,
        mode=mode,
        bits=8,
        icc=icc,
        icc_problem=icc_problem,
        signals=ColorSignals(**signals),
    )


def test_facts_are_plain_json():
    facts = color_facts(header("png", icc=P3, srgb_intent=0, gamma=0.45455, chromaticities=CHRM))
    assert json.loads(json.dumps(facts)) == facts


@pytest.mark.parametrize("kind", ["jpeg", "png", "webp", "avif", "gif", "tiff"])
def test_a_file_that_says_nothing(kind):
    facts = color_facts(header(kind))
    assert (facts["source"], facts["srgb"], facts["embedded"]) == ("none", None, False)
    assert (facts["fits"], facts["conflicts"], facts["problems"]) == (True, [], [])


@pytest.mark.parametrize("kind", ["jpeg", "png", "webp", "avif", "gif", "tiff"])
@pytest.mark.parametrize(("icc", "srgb"), [(SRGB, True), (P3, False), (GAMMA_22, False)])
def test_a_profile_decides_in_every_format(kind, icc, srgb):
    facts = color_facts(header(kind, icc=icc))
    assert (facts["source"], facts["srgb"], facts["embedded"]) == ("icc", srgb, True)
    assert facts["profile"]["srgb"] is srgb


def test_the_reason_gives_the_figures():
    assert color_facts(header(icc=P3))["reason"] == (
        "the embedded profile is not sRGB: its primaries are off by 0.093 (at most 0.005)"
    )
    assert color_facts(header(icc=GAMMA_22))["reason"] == (
        "the embedded profile is not sRGB: its tone curve is off by 8.5 code values (at most 1)"
    )


@pytest.mark.parametrize(
    ("mode", "icc", "fits"),
    [
        ("rgb", SRGB, True),
        ("rgb", SRGB_GRAY, False),
        ("rgb", table_profile("CMYK"), False),
        ("rgb", table_profile("RGB "), True),
        ("gray", SRGB_GRAY, True),
        ("gray", SRGB, False),
        ("cmyk", table_profile("CMYK"), True),
        ("cmyk", SRGB, False),
        ("lab", table_profile("Lab ", "spac"), True),
        ("lab", SRGB, False),
        ("other", SRGB, True),
        ("rgb", matrix_profile(device_class="nmcl"), False),
        ("rgb", matrix_profile(device_class="link"), False),
        ("rgb", matrix_profile(device_class="abst"), False),
    ],
)
def test_a_profile_fits_the_mode_of_the_picture_or_not(mode, icc, fits):
    facts = color_facts(header(mode=mode, icc=icc))
    assert facts["fits"] is fits
    assert facts["embedded"] is True
    if not fits:
        assert facts["srgb"] is False


def test_gray_srgb_in_a_gray_picture_is_srgb():
    assert color_facts(header(mode="gray", icc=SRGB_GRAY))["srgb"] is True


@pytest.mark.parametrize(
    ("mode", "icc", "words"),
    [
        ("gray", SRGB, "for RGB colors but the picture is GRAY"),
        ("rgb", matrix_profile(device_class="nmcl"), "not meant for pictures"),
        ("rgb", table_profile("RGB "), "color tables"),
        ("rgb", assemble(matrix_tags() | {"A2B0": b"mAB " + bytes(28)}), "color tables"),
        ("cmyk", table_profile("CMYK"), "for CMYK colors"),
        ("rgb", matrix_profile(device_class="prtr"), "lacks the color tables that its class needs"),
    ],
)
def test_profiles_that_cannot_be_srgb_say_why(mode, icc, words):
    facts = color_facts(header(mode=mode, icc=icc))
    assert facts["srgb"] is False
    assert words in facts["reason"]


@pytest.mark.parametrize("icc", [b"", b"junk", SRGB[:-1], SRGB[:200]])
def test_a_damaged_profile_counts_as_none_and_is_told(icc):
    facts = color_facts(header(icc=icc))
    assert (facts["source"], facts["srgb"], facts["embedded"]) == ("none", None, False)
    assert facts["profile"] is None
    assert len(facts["problems"]) == 1
    assert "damaged" in facts["reason"]


def test_a_profile_that_could_not_be_put_together_is_told():
    facts = color_facts(header(icc_problem="part 1 of 2 of the color profile is missing"))
    assert facts["problems"] == ["part 1 of 2 of the color profile is missing"]
    assert facts["embedded"] is False


def test_a_profile_over_the_limit_is_told():
    facts = color_facts(header(icc=SRGB), Limits(profile_bytes=50))
    assert "at most 50" in facts["problems"][0]


def test_problems_of_the_profile_are_handed_on():
    backwards = matrix_profile(curve=table([0, 65535, 30000, 65535]))
    assert "backwards" in color_facts(header(icc=backwards))["problems"][0]


def test_bytes_behind_the_profile_are_no_problem():
    facts = color_facts(header(icc=SRGB + b"tail"))
    assert (facts["srgb"], facts["problems"]) == (True, [])
    assert "are embedded" in facts["profile"]["oddities"][0]


def test_a_damaged_profile_leaves_the_word_to_the_next_statement():
    facts = color_facts(header("png", icc=SRGB[:-1], srgb_intent=0))
    assert (facts["source"], facts["srgb"]) == ("sRGB chunk", True)
    assert len(facts["problems"]) == 1


@pytest.mark.parametrize(
    ("space", "source", "srgb"), [(1, "Exif", None), (0xFFFF, "Exif", None), (7, "none", None)]
)
def test_exif_has_the_word_where_nothing_else_has(space, source, srgb):
    facts = color_facts(header(), exif_color_space=space)
    assert (facts["source"], facts["srgb"], facts["embedded"]) == (source, srgb, False)


def test_exif_that_contradicts_the_profile_is_told():
    facts = color_facts(header(icc=P3), exif_color_space=1)
    assert (facts["source"], facts["srgb"]) == ("icc", False)
    assert "Exif data says sRGB" in facts["conflicts"][0]


@pytest.mark.parametrize(("icc", "space"), [(SRGB, 1), (SRGB, 0xFFFF), (P3, 0xFFFF)])
def test_exif_that_does_not_contradict_is_silent(icc, space):
    assert color_facts(header(icc=icc), exif_color_space=space)["conflicts"] == []


@pytest.mark.parametrize(
    "signals",
    [
        {"gamma": 0.45455},
        {"chromaticities": CHRM},
        {"gamma": 0.45455, "chromaticities": CHRM},
        {"gamma": 0.4545, "chromaticities": CHRM},
    ],
)
def test_companions_of_the_srgb_chunk_are_no_contradiction(signals):
    assert color_facts(header("png", srgb_intent=1, **signals))["conflicts"] == []
    assert color_facts(header("png", icc=SRGB, **signals))["conflicts"] == []


@pytest.mark.parametrize(
    "signals",
    [
        {"gamma": 1.0},
        {"gamma": 0.55556},
        {"chromaticities": (0.3127, 0.329, 0.68, 0.32, 0.265, 0.69, 0.15, 0.06)},
    ],
)
def test_companions_with_other_values_are_a_contradiction(signals):
    facts = color_facts(header("png", srgb_intent=1, **signals))
    assert (facts["srgb"], len(facts["conflicts"])) == (True, 1)


def test_srgb_chunk_beside_a_wide_profile_is_a_contradiction():
    facts = color_facts(header("png", icc=P3, srgb_intent=0))
    assert (facts["source"], facts["srgb"], len(facts["conflicts"])) == ("icc", False, 1)


def test_gamma_of_a_wide_profile_says_nothing_about_its_primaries():
    assert color_facts(header("png", icc=P3, gamma=0.45455))["conflicts"] == []


@pytest.mark.parametrize("gamma_value", [0.0, 1e-5, 42949.67295])
def test_gammas_that_cannot_be_are_judged_all_the_same(gamma_value):
    facts = color_facts(header("png", gamma=gamma_value))
    assert (facts["source"], facts["srgb"]) == ("gAMA/cHRM", False)


@pytest.mark.parametrize("count", [0, 7, 9])
def test_chromaticities_of_the_wrong_number_are_not_srgb(count):
    facts = color_facts(header("png", chromaticities=(*CHRM, 0.1)[:count]))
    assert (facts["source"], facts["srgb"]) == ("gAMA/cHRM", False)


def test_signals_of_another_format_are_not_read():
    facts = color_facts(header("jpeg", srgb_intent=0, cicp=(1, 13, 0, 1)))
    assert facts["source"] == "none"


def test_swapped_primaries_do_not_pass():
    red, green, blue = SRGB_COLORANTS
    assert color_facts(header(icc=matrix_profile((green, red, blue))))["srgb"] is False
