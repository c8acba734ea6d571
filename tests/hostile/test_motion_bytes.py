"""Animations of any bytes: facts, or a reason why flashes are not known; nothing is raised."""

from __future__ import annotations

import io
import json
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from pytest_webdeliverable.measure.headers import read_header
from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.motion import motion_facts

KINDS = ("GIF", "PNG", "WEBP", "AVIF")


@cache
def sound(kind):
    frames = [Image.effect_noise((40, 30), 20 * number).convert("RGB") for number in (1, 5, 2, 6)]
    file = io.BytesIO()
    frames[0].save(file, kind, save_all=True, append_images=frames[1:], duration=40, loop=0)
    return file.getvalue()


def check(data):
    try:
        header = read_header(data)
    except DamagedError:
        return
    facts = motion_facts(data, header)
    json.dumps(facts)
    assert facts["counted"] is (facts["undecided"] is None)
    for flashes in (facts["general"], facts["red"]):
        assert flashes["flashes_per_second"] >= 0
        assert 0 <= flashes["at"] <= facts["seconds"]


@pytest.mark.parametrize("kind", KINDS)
def test_every_cut(kind):
    data = sound(kind)
    for end in range(0, len(data), max(1, len(data) // 60)):
        check(data[:end])


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=80)
@given(data=st.data())
def test_flipped_bytes(kind, data):
    damaged = bytearray(sound(kind))
    places = st.tuples(st.integers(0, len(damaged) - 1), st.integers(0, 255))
    for place, value in data.draw(st.lists(places, min_size=1, max_size=10)):
        damaged[place] = value
    check(bytes(damaged))
