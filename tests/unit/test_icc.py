"""ICC profiles as numbers: kinds, curves, versions, damage."""

import json

import profiles
import pytest

from pytest_webdeliverable.measure.icc import (
    DamagedProfileError,
    parse,
    profile_facts,
)
from pytest_webdeliverable.measure.limits import Limits


def test_facts_are_plain_json():
    facts = profile_facts(profiles.matrix_profile())
    assert json.loads(json.dumps(facts)) == facts


def test_facts_tell_header_and_name():
    facts = profile_facts(profiles.matrix_profile(name="House profile"))
    told = [
        facts[key] for key in ("description", "version", "device_class", "space", "pcs", "kind")
    ]
    assert told == ["House profile", "2.1", "mntr", "RGB", "XYZ", "matrix"]
    assert facts["size"] == len(profiles.matrix_profile(name="House profile"))


@pytest.mark.parametrize(
    ("curve", "light"),
    [
        (profiles.table([]), lambda x: x),
        (profiles.gamma(2.0), lambda x: x**2),
        (profiles.table([0, 65535]), lambda x: x),
        (profiles.table([0, 0, 65535]), lambda x: max(0.0, 2 * x - 1)),
        (profiles.para(0, 2.0), lambda x: x**2),
        (profiles.para(1, 2.0, 2.0, -1.0), lambda x: (2 * x - 1) ** 2 if x >= 0.5 else 0.0),
        (
            profiles.para(2, 2.0, 1.0, -0.5, 0.25),
            lambda x: (x - 0.5) ** 2 + 0.25 if x >= 0.5 else 0.25,
        ),
        (profiles.para(3, 2.0, 1.0, 0.0, 0.25, 0.5), lambda x: x**2 if x >= 0.5 else 0.25 * x),
        (
            profiles.para(4, 2.0, 0.5, 0.0, 0.25, 0.5, 0.125, 0.0625),
            lambda x: 0.25 * x**2 + 0.125 if x >= 0.5 else 0.25 * x + 0.0625,
        ),
    ],
    ids=["identity", "gamma", "line", "knee", "para0", "para1", "para2", "para3", "para4"],
)
def test_each_form_of_curve_gives_its_light(curve, light):
    # Formulas of ICC.1:2022, 10.6 and 10.18.
    (read, *_) = parse(profiles.matrix_profile(curve=curve)).curves
    assert read == pytest.approx([light(code / 255) for code in range(256)], abs=2e-5)


@pytest.mark.parametrize(
    "curve",
    [profiles.table([]), profiles.table([0, 65535]), profiles.gamma(2.0), profiles.para(0, 2.0)],
)
def test_curves_end_in_exact_black_and_white(curve):
    (read, *_) = parse(profiles.matrix_profile(curve=curve)).curves
    assert (read[0], read[-1]) == (0.0, 1.0)


def test_results_beyond_white_and_black_are_clipped():
    (read, *_) = parse(
        profiles.matrix_profile(curve=profiles.para(4, 1.0, 4.0, 0.0, -3.0, 0.5, 0.0, 0.0))
    ).curves
    assert (min(read), max(read)) == (0.0, 1.0)


def test_samples_run_from_black_to_white():
    (samples,) = profile_facts(profiles.matrix_profile(curve=profiles.table([])))["samples"]
    # A straight line of light, seen in sRGB codes at codes 0, 8 .. 248, 255.
    assert (len(samples), samples[0], samples[-1]) == (33, 0.0, 255.0)
    assert samples[1] == pytest.approx(255 * (1.055 * (8 / 255) ** (1 / 2.4) - 0.055), abs=0.01)


def test_one_channel_off_is_enough():
    good, bad = profiles.para(3, *profiles.SRGB_PARAMETERS), profiles.gamma(2.2)
    facts = profile_facts(profiles.matrix_profile(curve=[good, good, bad]))
    assert (facts["curve"], facts["srgb"]) == (False, False)
    assert len(facts["samples"]) == 3


@pytest.mark.parametrize("code", range(1, 255, 23))
def test_one_damaged_code_anywhere_is_enough(code):
    entries = [round(65535 * profiles.srgb_light(index / 255)) for index in range(256)]
    entries[code] = 65535 if code < 128 else 0
    assert profile_facts(profiles.matrix_profile(curve=profiles.table(entries)))["srgb"] is False


@pytest.mark.parametrize(("shift", "srgb"), [(0.0048, True), (0.0052, False), (-0.0052, False)])
def test_colorants_count_up_to_the_tolerance(shift, srgb):
    red, green, blue = profiles.SRGB_COLORANTS
    facts = profile_facts(
        profiles.matrix_profile((red, (green[0], green[1] + shift, green[2]), blue))
    )
    assert (facts["gamut"], facts["curve"], facts["srgb"]) == (srgb, True, srgb)


@pytest.mark.parametrize(("off", "srgb"), [(0.9, True), (1.1, False)])
def test_curve_counts_up_to_one_code_value(off, srgb):
    curve = profiles.sampled(4096, lambda x: profiles.srgb_light(min(1.0, x + off / 255)))
    facts = profile_facts(profiles.matrix_profile(curve=curve))
    assert (facts["gamut"], facts["curve"], facts["srgb"]) == (True, srgb, srgb)


@pytest.mark.parametrize("kind", ["mntr", "scnr", "spac"])
def test_classes_that_need_no_table_may_be_srgb(kind):
    assert profile_facts(profiles.matrix_profile(device_class=kind))["srgb"] is True


@pytest.mark.parametrize("kind", ["prtr", "????", "abcd"])
def test_other_classes_with_srgb_numbers_are_told_and_are_not_srgb(kind):
    facts = profile_facts(profiles.matrix_profile(device_class=kind))
    assert (facts["gamut"], facts["curve"], facts["srgb"]) == (True, True, False)
    assert len(facts["oddities"]) == 1


@pytest.mark.parametrize(
    ("kind", "told"), [("nmcl", "named"), ("link", "link"), ("abst", "abstract")]
)
def test_classes_not_for_pictures_are_told(kind, told):
    facts = profile_facts(profiles.matrix_profile(device_class=kind))
    assert (facts["kind"], facts["srgb"], facts["colorants"]) == (told, False, None)
    assert "not meant for pictures" in facts["oddities"][0]


def test_matrix_with_lab_connection_space_is_told():
    facts = profile_facts(profiles.assemble(profiles.matrix_tags(), pcs="Lab "))
    assert facts["srgb"] is False
    assert "connection space" in facts["oddities"][0]


@pytest.mark.parametrize(
    ("numbers", "srgb"),
    [
        ((1, 13), True),
        ((2, 2), True),
        ((1, 2), True),
        ((12, 13), False),
        ((1, 16), False),
        ((9, 18), False),
    ],
)
def test_code_points_beside_the_numbers_count(numbers, srgb):
    """ICC.1:2022, 9.2.17; ITU-T H.273: 12 is P3, 9 BT.2020, 16 PQ, 18 HLG, 2 leaves it open."""
    entry = b"cicp\0\0\0\0" + bytes((*numbers, 0, 1))
    facts = profile_facts(profiles.assemble(profiles.matrix_tags() | {"cicp": entry}))
    assert facts["srgb"] is srgb
    assert (facts["gamut"], facts["curve"]) == (True, True)
    told = ["the color profile's cicp entry names other colors than sRGB"]
    assert facts["oddities"] == ([] if srgb else told)
    damaged = profiles.assemble(profiles.matrix_tags() | {"cicp": b"text" + entry[4:]})
    assert profile_facts(damaged)["srgb"]


@pytest.mark.parametrize("version", [(2, 0), (2, 4), (4, 0), (4, 4)])
def test_versions_in_use_are_fine(version):
    facts = profile_facts(profiles.matrix_profile(version=version))
    assert (facts["srgb"], facts["problems"]) == (True, [])


@pytest.mark.parametrize("version", [(0, 0), (1, 0)])
def test_versions_before_the_standard_are_told(version):
    facts = profile_facts(profiles.matrix_profile(version=version))
    assert (facts["srgb"], len(facts["oddities"])) == (True, 1)


@pytest.mark.parametrize("version", [(5, 0), (255, 0)])
def test_versions_that_no_program_reads_are_refused(version):
    with pytest.raises(DamagedProfileError, match=f"version {version[0]}"):
        parse(profiles.matrix_profile(version=version))


def test_table_profile_is_told_without_numbers():
    facts = profile_facts(profiles.table_profile())
    assert (facts["kind"], facts["space"], facts["srgb"]) == ("table", "CMYK", False)
    assert (facts["gamut"], facts["curve"], facts["delta_e"]) == (None, None, None)


def test_table_beside_primaries_goes_first_and_both_are_told():
    tags = profiles.matrix_tags() | {"A2B0": b"mAB " + bytes(28)}
    facts = profile_facts(profiles.assemble(tags, version=(4, 2)))
    assert (facts["kind"], facts["gamut"], facts["curve"]) == ("table", True, True)
    assert facts["srgb"] is False


def test_damaged_primaries_beside_a_table_are_a_problem_only():
    tags = profiles.matrix_tags() | {"A2B0": b"mft2" + bytes(48), "gTRC": b"junk" + bytes(8)}
    facts = profile_facts(profiles.assemble(tags))
    assert (facts["kind"], facts["colorants"]) == ("table", None)
    assert "gTRC" in facts["problems"][0]


def test_header_that_is_shorter_than_what_is_embedded_is_told_and_judged_by_numbers():
    facts = profile_facts(profiles.matrix_profile() + bytes(12))
    assert facts["srgb"] is True
    size = len(profiles.matrix_profile())
    assert facts["problems"] == []
    assert facts["oddities"] == [
        f"the color profile says it has {size} bytes, but {size + 12} are embedded"
    ]


def test_a_profile_over_the_limit_is_refused_with_both_sizes():
    data = profiles.matrix_profile()
    profile_facts(data)
    with pytest.raises(DamagedProfileError, match=rf"{len(data)} bytes; at most 100"):
        profile_facts(data, Limits(profile_bytes=100))


@pytest.mark.parametrize("missing", ["rXYZ", "bXYZ", "gTRC"])
def test_a_missing_entry_is_named(missing):
    tags = profiles.matrix_tags()
    del tags[missing]
    with pytest.raises(DamagedProfileError, match=missing):
        parse(profiles.assemble(tags))


def test_gray_without_a_curve_and_press_without_a_table_are_refused():
    with pytest.raises(DamagedProfileError, match="kTRC"):
        parse(profiles.assemble({"desc": profiles.text("x")}, space="GRAY"))
    with pytest.raises(DamagedProfileError, match="color tables"):
        parse(profiles.assemble({"desc": profiles.text("x")}, space="CMYK", device_class="prtr"))


def test_two_entries_of_one_name_are_refused():
    data = bytearray(profiles.matrix_profile())
    # The second entry (wtpt) becomes another rXYZ; LittleCMS refuses such a profile too.
    data[132 + 12 : 132 + 16] = b"rXYZ"
    with pytest.raises(DamagedProfileError, match="two rXYZ entries"):
        parse(bytes(data))


def test_small_steps_back_are_noise_and_large_ones_damage():
    # Code 128 stands for 14145 of 65535; one code value there is about 240.
    light = [round(65535 * profiles.srgb_light(code / 255)) for code in range(256)]
    noisy, broken = list(light), list(light)
    noisy[129] = noisy[128] - 100
    broken[129] = broken[128] - 600
    assert profile_facts(profiles.matrix_profile(curve=profiles.table(noisy)))["problems"] == []
    assert profile_facts(profiles.matrix_profile(curve=profiles.table(broken)))["problems"] == [
        "the color profile is damaged: a tone curve runs backwards in places"
    ]
