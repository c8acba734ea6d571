"""Order of color statements, against the standards that fix it.

PNG Third Edition (W3C Recommendation, 24 June 2025): cICP before iCCP before sRGB before gAMA and
cHRM; cICP 12 13 0 1 is Display P3, 9 16 0 1 BT.2100 PQ, 9 18 0 1 BT.2100 HLG, 1 1 0 0 BT.709 in video
range (its own examples); gAMA 45455 and cHRM 31270 32900 64000 33000 30000 60000 15000 6000 go with
sRGB. Code points 1 and 13 for sRGB are of ITU-T H.273 (from memory). AVIF: MIAF (ISO/IEC 23000-22)
and HEIF let an ICC profile set the colors beside nclx, whose matrix and range stay in use.
Exif ColorSpace: CIPA DC-008, tag 40961, 1 sRGB, 65535 uncalibrated.
"""

import itertools

import pytest
from profiles import gamma, matrix_profile

from pytest_webdeliverable.measure.color import color_facts
from pytest_webdeliverable.measure.headers.base import ColorSignals, Header

CHRM = tuple(v / 100_000 for v in (31270, 32900, 64000, 33000, 30000, 60000, 15000, 6000))
PNG_ORDER = {
    "cICP": {"cicp": (12, 13, 0, 1)},
    "icc": {"icc": matrix_profile(curve=gamma(1.8))},
    "sRGB chunk": {"srgb_intent": 0},
    "gAMA/cHRM": {"gamma": 45455 / 100_000, "chromaticities": CHRM},
    "Exif": {"exif": 1},
}


def facts_of(kind, *parts, mode="rgb"):
    given = {key: value for part in parts for key, value in part.items()}
    exif, icc = given.pop("exif", None), given.pop("icc", None)
    header = Header(
        format=kind, width=4, height=4, mode=mode, bits=8, icc=icc, signals=ColorSignals(**given)
    )
    return color_facts(header, exif_color_space=exif)


@pytest.mark.parametrize(
    "present",
    [c for n in range(1, 6) for c in itertools.combinations(PNG_ORDER, n)],
    ids=" ".join,
)
def test_of_any_set_of_png_statements_the_first_of_the_order_counts(present):
    assert facts_of("png", *(PNG_ORDER[name] for name in present))["source"] == present[0]


@pytest.mark.parametrize(
    ("code_points", "srgb", "words"),
    [
        ((1, 13, 0, 1), True, "sRGB primaries and sRGB tone curve"),
        ((12, 13, 0, 1), False, "Display P3 primaries and sRGB tone curve"),
        ((9, 16, 0, 1), False, "BT.2020 primaries and PQ tone curve"),
        ((9, 18, 0, 1), False, "BT.2020 primaries and HLG tone curve"),
        ((1, 1, 0, 0), False, "BT.709 tone curve, in video range"),
        ((1, 13, 0, 0), False, "in video range"),
        ((1, 4, 0, 1), False, "number 4"),
    ],
)
def test_png_code_points(code_points, srgb, words):
    facts = facts_of("png", {"cicp": code_points})
    assert (facts["source"], facts["srgb"], facts["problems"]) == ("cICP", srgb, [])
    assert words in facts["reason"]


@pytest.mark.parametrize("code_points", [(1, 13, 1, 1), (1, 13, 6, 1), (1, 13, 0, 2)])
def test_png_code_points_that_are_not_rgb_are_passed_over_and_told(code_points):
    facts = facts_of("png", {"cicp": code_points}, PNG_ORDER["sRGB chunk"])
    assert facts["source"] == "sRGB chunk"
    assert "cICP" in facts["problems"][0]


@pytest.mark.parametrize("mode", ["rgb", "gray"])
def test_srgb_chunk_counts_for_color_and_for_gray(mode):
    facts = facts_of("png", PNG_ORDER["sRGB chunk"], PNG_ORDER["gAMA/cHRM"], mode=mode)
    assert (facts["source"], facts["srgb"], facts["conflicts"]) == ("sRGB chunk", True, [])


def test_gamma_and_primaries_alone_only_come_near_srgb():
    # A plain 1/2.2 is 8.5 code values off sRGB's curve (survey: 8.544 for 2.199997).
    facts = facts_of("png", PNG_ORDER["gAMA/cHRM"])
    assert (facts["source"], facts["srgb"]) == ("gAMA/cHRM", False)
    assert "8.5 code values" in facts["reason"]
    assert "primaries are sRGB's" in facts["reason"]


def test_primaries_alone_leave_the_curve_open():
    assert facts_of("png", {"chromaticities": CHRM})["srgb"] is None


@pytest.mark.parametrize("matrix", [0, 1, 5, 6])
@pytest.mark.parametrize("full_range", [0, 1])
def test_avif_srgb_is_srgb_however_its_samples_are_stored(matrix, full_range):
    facts = facts_of("avif", {"cicp": (1, 13, matrix, full_range)})
    assert (facts["source"], facts["srgb"]) == ("nclx", True)


@pytest.mark.parametrize("code_points", [(12, 13, 6, 1), (9, 16, 9, 1), (1, 1, 1, 0), (1, 8, 0, 1)])
def test_other_avif_code_points_are_not_srgb(code_points):
    assert facts_of("avif", {"cicp": code_points})["srgb"] is False


@pytest.mark.parametrize("code_points", [(2, 2, 6, 1), (1, 2, 6, 1), (2, 13, 6, 1)])
def test_avif_code_points_left_open_say_nothing(code_points):
    facts = facts_of("avif", {"cicp": code_points})
    assert (facts["source"], facts["srgb"]) == ("none", None)


@pytest.mark.parametrize(
    ("icc", "code_points", "srgb", "conflicts"),
    [
        (matrix_profile(), (1, 13, 6, 1), True, 0),
        (matrix_profile(), (12, 13, 6, 1), True, 1),
        (matrix_profile(curve=gamma(1.8)), (1, 13, 6, 1), False, 1),
        (matrix_profile(curve=gamma(1.8)), (2, 2, 6, 1), False, 0),
    ],
)
def test_avif_profile_goes_before_nclx(icc, code_points, srgb, conflicts):
    facts = facts_of("avif", {"icc": icc}, {"cicp": code_points})
    assert (facts["source"], facts["srgb"]) == ("icc", srgb)
    assert len(facts["conflicts"]) == conflicts
