"""Random gaps in random art are found, and none in the art before it was cut."""

from __future__ import annotations

import io
import random

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from PIL import Image

from pytest_webdeliverable.measure.edges import edge_facts

from . import drawn, faults

KINDS = ("texture", "gradient", "landscape", "vignette", "poster")
PAGES = ((255, 255, 255), (250, 247, 238), (0, 0, 0), (128, 128, 128), (220, 30, 90))
PLAIN = 10.0
"""CIEDE2000 all along the gap from which anyone sees it."""


def written(picture: Image.Image, quality: int) -> Image.Image:
    if quality > 100:
        return picture
    buffer = io.BytesIO()
    picture.save(buffer, "JPEG", quality=quality, subsampling=random.Random(quality).choice((0, 2)))
    opened = Image.open(buffer)
    opened.load()
    return opened


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(
    kind=st.sampled_from(KINDS),
    seed=st.integers(0, 10_000),
    side=st.sampled_from(faults.SIDES),
    depth=st.one_of(st.integers(1, 8).map(float), st.floats(1.2, 7.8)),
    length=st.one_of(st.just(1.0), st.floats(0.15, 0.9)),
    place=st.floats(0, 1),
    page=st.sampled_from(PAGES),
    quality=st.integers(80, 110),
)
def test_cut_gaps_are_found(
    kind: str,
    seed: int,
    side: str,
    depth: float,
    length: float,
    place: float,
    page: faults.Color,
    quality: int,
) -> None:
    art = drawn.draw(kind, seed, (480, 360))
    assert edge_facts(written(art, quality))["gaps"] == []
    start = place * (1 - length)
    cut, (truth,) = faults.cut(art, [faults.Fault("gap", side, depth, start, start + length, page)])
    assume(truth.seen >= PLAIN)
    found = [gap for gap in edge_facts(written(cut, quality))["gaps"] if gap["side"] == side]
    assert found
    widest = max(found, key=lambda gap: gap["end"] - gap["start"])
    assert abs(widest["depth"] - depth) <= 1
    assert widest["start"] < truth.end
    assert widest["end"] > truth.start
