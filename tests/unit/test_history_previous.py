"""A copy beside its previous version: saved again, or not."""

from __future__ import annotations

import pytest
from photographs import as_jpeg, photograph

from pytest_webdeliverable.measure.gitlog import Previous
from pytest_webdeliverable.measure.history.previous import previous_facts

BEFORE = Previous(commit="0123456789", date="2026-03-01T01:00:00+00:00", data=b"")


def facts(now, before):
    return previous_facts(now, before, BEFORE)


def test_the_same_picture_compressed_again_is_saved_again():
    first = as_jpeg(photograph(), 92)
    found = facts(as_jpeg(first, 85), first)
    assert found["resaved"]
    assert found["commit"] == BEFORE.commit


@pytest.mark.parametrize("mode", ["RGB", "L", "P"])
def test_the_same_pixels_are_not_saved_again(mode):
    picture = photograph().convert(mode)
    found = facts(picture, picture.copy())
    assert found["same-pixels"]
    assert not found["resaved"]


def test_another_size_is_not_saved_again():
    found = facts(photograph().resize((400, 300)), photograph())
    assert not found["same-size"]
    assert not found["resaved"]


def test_another_picture_of_the_same_size_is_not_saved_again():
    assert not facts(photograph(seed=2), photograph())["resaved"]
