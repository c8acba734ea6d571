"""Two ICC profiles held against each other, and facts that are worked out once."""

import profiles
import pytest

from pytest_webdeliverable.measure import icc
from pytest_webdeliverable.measure.icc import (
    profile_facts,
    same_profile,
)


def test_the_same_content_under_another_date_maker_or_id_is_the_same():
    plain = profiles.matrix_profile()
    other = bytearray(plain)
    other[24:36], other[48:56], other[84:100] = b"x" * 12, b"y" * 8, b"z" * 16
    one, two = profile_facts(plain), profile_facts(bytes(other))
    assert one["sha256"] != two["sha256"]
    assert one["content_sha256"] == two["content_sha256"]
    assert same_profile(one, two)


def test_the_same_numbers_in_another_form_are_the_same():
    para_form = profile_facts(profiles.matrix_profile(name="one"))
    table_form = profile_facts(
        profiles.matrix_profile(curve=profiles.sampled(1024, profiles.srgb_light), name="two")
    )
    three = [
        profiles.sampled(1024, profiles.srgb_light),
        profiles.sampled(1025, profiles.srgb_light),
        profiles.para(3, *profiles.SRGB_PARAMETERS),
    ]
    assert same_profile(para_form, table_form)
    assert same_profile(para_form, profile_facts(profiles.matrix_profile(curve=three)))


def test_other_numbers_are_another_profile():
    srgb = profile_facts(profiles.matrix_profile())
    red, green, blue = profiles.SRGB_COLORANTS
    assert not same_profile(srgb, profile_facts(profiles.matrix_profile(curve=profiles.gamma(2.2))))
    assert not same_profile(srgb, profile_facts(profiles.matrix_profile((green, red, blue))))
    assert not same_profile(
        srgb, profile_facts(profiles.gray_profile(profiles.sampled(1024, profiles.srgb_light)))
    )


def test_tables_are_the_same_by_content_only():
    one, other = profiles.table_profile(), profiles.table_profile()[:-1] + b"\1"
    assert same_profile(profile_facts(one), profile_facts(one))
    assert not same_profile(profile_facts(one), profile_facts(other))


def test_grays_are_compared_by_their_curve():
    one, other = (
        profiles.gray_profile(profiles.gamma(2.2)),
        profiles.gray_profile(profiles.para(0, 2.19922)),
    )
    assert same_profile(profile_facts(one), profile_facts(other))
    assert not same_profile(
        profile_facts(one), profile_facts(profiles.gray_profile(profiles.gamma(1.8)))
    )


def test_facts_are_worked_out_once_for_equal_bytes(monkeypatch):
    data = profiles.matrix_profile(name="only once")
    first = profile_facts(data)
    monkeypatch.setattr(icc, "parse", lambda *_: pytest.fail("read again"))
    assert profile_facts(bytes(bytearray(data))) == first


def test_changing_the_facts_one_got_changes_nothing_for_others():
    data = profiles.matrix_profile(name="mine")
    profile_facts(data)["description"] = "yours"
    assert profile_facts(data)["description"] == "mine"


def test_more_profiles_than_are_kept_are_fine(monkeypatch):
    monkeypatch.setattr(icc, "KEPT_FACTS", 3)
    names = [f"profile {index}" for index in range(8)]
    told = [profile_facts(profiles.matrix_profile(name=name))["description"] for name in names]
    assert told == names
