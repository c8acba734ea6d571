"""What a picture's past is told from, on pictures whose past is known because we gave it to them."""

from __future__ import annotations

import json

import pytest
from photographs import as_jpeg, flat_art, gradient, halftone, in_mode, photograph
from PIL import Image, ImageFilter

from pytest_webdeliverable.measure.history import history_facts

KINDS = ("resaved", "cropped", "enlarged")


def found(picture, quality=None):
    form = "jpeg" if quality else "png"
    facts = history_facts(picture, format=form, quality=quality)
    return {kind for kind in KINDS if facts[kind]["found"]}


@pytest.mark.parametrize("quality", [60, 75, 85, 90, 95, 98])
def test_a_picture_saved_once_has_no_past(quality):
    assert found(as_jpeg(photograph(), quality), quality) == set()


def test_a_lossless_picture_has_no_past():
    assert found(photograph()) == set()


@pytest.mark.parametrize(("first", "last"), [(50, 80), (60, 90), (70, 90), (85, 90), (80, 95)])
def test_saved_again_is_found_with_its_first_quality(first, last):
    picture = as_jpeg(as_jpeg(photograph(), first), last)
    facts = history_facts(picture, format="jpeg", quality=last)["resaved"]
    assert facts["found"]
    assert abs(facts["first-quality"] - first) <= 2


def test_saved_again_with_the_same_quality_is_not_told():
    assert "resaved" not in found(as_jpeg(as_jpeg(photograph(), 90), 90), 90)


@pytest.mark.parametrize(("x", "y"), [(3, 5), (4, 4), (0, 1), (7, 0), (4, 0)])
@pytest.mark.parametrize("last", [90, None])
def test_cropped_after_compression_is_found_with_its_offset(x, y, last):
    picture = as_jpeg(photograph(), 75).crop((x, y, *photograph().size))
    shown = as_jpeg(picture, last) if last else picture
    facts = history_facts(shown, format="jpeg" if last else "png", quality=last)
    assert facts["cropped"]["found"]
    assert facts["cropped"]["offset"] == [-x % 8, -y % 8]
    assert not facts["enlarged"]["found"]


def test_a_crop_by_whole_blocks_is_no_finding():
    picture = as_jpeg(photograph(), 75).crop((16, 8, *photograph().size))
    assert "cropped" not in found(as_jpeg(picture, 90), 90)


@pytest.mark.parametrize("factor", [1.25, 4 / 3, 1.5, 1.6, 2.0, 2.5])
@pytest.mark.parametrize("quality", [None, 95])
def test_enlarged_is_found(factor, quality):
    whole = photograph()
    small = whole.resize(
        tuple(round(side / factor) for side in whole.size), Image.Resampling.LANCZOS
    )
    picture = small.resize(whole.size, Image.Resampling.BICUBIC)
    picture = as_jpeg(picture, quality) if quality else picture
    form = "jpeg" if quality else "png"
    facts = history_facts(picture, format=form, quality=quality)["enlarged"]
    assert facts["found"]
    assert facts["factor"] is not None


@pytest.mark.parametrize("draw", [flat_art, gradient, halftone])
@pytest.mark.parametrize("quality", [None, 75, 90])
def test_drawn_art_does_not_alarm(draw, quality):
    picture = as_jpeg(draw(), quality) if quality else draw()
    assert found(picture, quality) == set()


@pytest.mark.parametrize("radius", [0.6, 1.2, 3.0])
@pytest.mark.parametrize("quality", [None, 90])
def test_soft_art_is_not_taken_for_enlarged(radius, quality):
    soft = photograph().filter(ImageFilter.GaussianBlur(radius))
    assert found(as_jpeg(soft, quality) if quality else soft, quality) == set()


@pytest.mark.parametrize(
    "size",
    [(1, 1), (7, 3000), (3000, 7), (64, 64), (130, 130), (400, 300), (250, 1200), (1200, 250)],
)
def test_every_size_gives_an_answer(size):
    picture = Image.effect_noise(size, 60).convert("RGB")
    facts = history_facts(picture, format="jpeg", quality=85)
    assert json.loads(json.dumps(facts)) == facts


@pytest.mark.parametrize(
    "mode", ["1", "L", "LA", "P", "RGB", "RGBA", "CMYK", "YCbCr", "I;16", "I", "F"]
)
def test_every_mode_gives_an_answer(mode):
    shown = in_mode(photograph(320, 240), mode)
    assert set(history_facts(shown, format="tiff", quality=None)) == set(KINDS)


def test_a_plain_picture_says_that_it_cannot_tell():
    facts = history_facts(Image.new("RGB", (800, 600), "red"), format="jpeg", quality=90)
    assert all("plain" in facts[kind]["undecided"] for kind in KINDS)


def test_only_a_jpeg_of_known_quality_shows_an_earlier_one():
    facts = history_facts(photograph(), format="png", quality=None)["resaved"]
    assert facts["undecided"]
    assert not facts["found"]


def test_the_answer_is_the_same_twice():
    picture = as_jpeg(as_jpeg(photograph(), 70), 90)
    once = history_facts(picture, format="jpeg", quality=90)
    assert history_facts(picture, format="jpeg", quality=90) == once


def test_a_large_picture_is_looked_at_in_the_middle():
    whole = Image.new("RGB", (2700, 2300))
    for x in range(0, 2700, 800):
        for y in range(0, 2300, 600):
            whole.paste(photograph(), (x, y))
    picture = as_jpeg(whole, 70).crop((3, 5, *whole.size))
    facts = history_facts(picture, format="png", quality=None)
    assert facts["cropped"]["offset"] == [5, 3]
