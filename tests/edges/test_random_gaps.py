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


STEP = 25.0
"""Codes of luma between page and art: 4:2:0 spreads a step of chroma alone over four lines and more,
so that no depth is left in the picture to be measured."""


def luma_step(picture: Image.Image, side: str, depth: float) -> float:
    """Return the mean difference of luma between the outermost line and the art inside the gap."""
    turns = {"left": 270, "bottom": 180, "right": 90, "top": 0}
    turned = picture.convert("L").rotate(turns[side], expand=True)
    outer = turned.crop((0, 0, turned.width, 1)).tobytes()
    line = int(depth) + 2
    inner = turned.crop((0, line, turned.width, line + 1)).tobytes()
    return sum(abs(a - b) for a, b in zip(outer, inner, strict=True)) / len(outer)


def written(picture: Image.Image, quality: int) -> Image.Image:
    if quality > 100:
        return picture
    buffer = io.BytesIO()
    picture.save(buffer, "JPEG", quality=quality, subsampling=random.Random(quality).choice((0, 2)))
    opened = Image.open(buffer)
    opened.load()
    return opened


@settings(max_examples=60, derandomize=True, suppress_health_check=list(HealthCheck))
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
    assume(truth.seen >= PLAIN and luma_step(cut, side, depth) >= STEP)
    found = [gap for gap in edge_facts(written(cut, quality))["gaps"] if gap["side"] == side]
    assert found
    widest = max(found, key=lambda gap: gap["end"] - gap["start"])
    assert abs(widest["depth"] - depth) <= 1.5
    assert widest["start"] < truth.end
    assert widest["end"] > truth.start
