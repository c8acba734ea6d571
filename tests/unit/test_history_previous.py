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
    assert found == {
        "commit": BEFORE.commit,
        "date": BEFORE.date,
        "resaved": False,
        "score": 0.0,
        "same-size": False,
        "same-pixels": False,
    }


def test_another_picture_of_the_same_size_is_not_saved_again():
    assert not facts(photograph(seed=2), photograph())["resaved"]


def test_the_same_numbers_of_another_palette_are_other_pixels():
    first = photograph().convert("P")
    palette = first.getpalette()
    other = first.copy()
    other.putpalette([255 - level for level in palette])
    assert not facts(first, other)["same-pixels"]
    # and the other way round: every color and every number exchanged
    turned = first.point([255 - number for number in range(256)])
    count = len(palette) // 3
    colors = [palette[3 * at : 3 * at + 3] if at < count else [0, 0, 0] for at in range(256)]
    turned.putpalette([level for color in reversed(colors) for level in color])
    assert facts(first, turned)["same-pixels"]


def test_see_through_parts_are_pixels_too():
    first = photograph().convert("RGBA")
    other = first.copy()
    other.putalpha(128)
    assert not facts(first, other)["same-pixels"]
