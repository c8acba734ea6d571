"""Frames near the border, margins around the art, and blank pictures."""

from __future__ import annotations

import io
import random

import pytest
from PIL import Image, ImageDraw

from pytest_webdeliverable.measure.edges import edge_facts
from tests.edges import drawn

SIZE = (800, 600)
ALL = ["left", "top", "right", "bottom"]


def framed(inset: int, width: int, color: str) -> Image.Image:
    picture = drawn.draw("landscape", 3, SIZE)
    box = inset, inset, SIZE[0] - 1 - inset, SIZE[1] - 1 - inset
    ImageDraw.Draw(picture).rectangle(box, outline=color, width=width)
    return picture


@pytest.mark.parametrize(("inset", "width"), [(2, 1), (6, 1), (10, 2), (16, 3)])
@pytest.mark.parametrize("color", ["#00ffff", "#000000", "#ffffff"])
def test_frame(inset: int, width: int, color: str) -> None:
    outline = edge_facts(framed(inset, width, color))["outline"]
    assert outline is not None
    assert outline["sides"] == ALL
    assert outline["inset"] == pytest.approx(inset, abs=1)
    assert outline["width"] == pytest.approx(width, abs=1)
    assert outline["color"] == color


def test_frame_open_on_one_side() -> None:
    picture = drawn.draw("landscape", 3, SIZE)
    draw = ImageDraw.Draw(picture)
    width, height = SIZE
    draw.line([(6, height), (6, 6), (width - 7, 6), (width - 7, height)], fill="#ff00ff")
    outline = edge_facts(picture)["outline"]
    assert outline is not None
    assert outline["sides"] == ["left", "top", "right"]


def test_frame_after_jpeg() -> None:
    buffer = io.BytesIO()
    framed(5, 1, "#ff0000").save(buffer, "JPEG", quality=85, subsampling="4:2:0")
    with Image.open(buffer) as picture:
        picture.load()
        assert edge_facts(picture)["outline"] is not None


def test_lines_that_cross_the_picture_are_no_frame() -> None:
    picture = drawn.draw("landscape", 3, SIZE)
    draw = ImageDraw.Draw(picture)
    for at in (8, SIZE[0] - 9):
        draw.line((at, 0, at, SIZE[1]), fill="#ff0000")
    for at in (8, SIZE[1] - 9):
        draw.line((0, at, SIZE[0], at), fill="#ff0000")
    assert edge_facts(picture)["outline"] is None


def mounted(left: int, top: int, color: str = "white") -> Image.Image:
    picture = Image.new("RGB", SIZE, color)
    picture.paste(drawn.draw("texture", 1, (SIZE[0] - 2 * left, SIZE[1] - 2 * top)), (left, top))
    return picture


def test_letterbox() -> None:
    margins = edge_facts(mounted(0, 40, "#000000"))["margins"]
    assert margins is not None
    assert [(band["side"], band["color"]) for band in margins["bands"]] == [
        ("top", "#000000"),
        ("bottom", "#000000"),
    ]
    assert margins["bands"][0]["depth"] == pytest.approx(40, abs=1)
    assert margins["art"] == {"width": 800, "height": 520}


@pytest.mark.parametrize(("left", "top"), [(30, 20), (110, 20), (130, 130), (200, 150)])
def test_page_around_the_art(left: int, top: int) -> None:
    margins = edge_facts(mounted(left, top))["margins"]
    assert margins is not None
    assert [band["side"] for band in margins["bands"]] == ALL
    assert margins["art"] == {"width": SIZE[0] - 2 * left, "height": SIZE[1] - 2 * top}


def test_type_on_a_ground_has_no_margin() -> None:
    picture = Image.new("RGB", SIZE, "white")
    drawn.lettering(random.Random(4), picture, 3)
    assert edge_facts(picture)["margins"] is None


@pytest.mark.parametrize("color", ["#ffffff", "#000000", "#336699"])
def test_blank(color: str) -> None:
    blank = edge_facts(Image.new("RGB", SIZE, color))["blank"]
    assert blank == {"flat": True, "color": color, "spread": 0}


@pytest.mark.parametrize("mode", ["RGBA", "LA", "PA"])
@pytest.mark.parametrize(("alpha", "blank"), [(0, True), (8, True), (60, False), (255, False)])
def test_what_nobody_sees_is_blank(mode: str, alpha: int, blank: bool) -> None:
    """A hidden layer keeps its colors: they show as far as alpha goes (W3C PNG 3rd edition, 12.4)."""
    picture = drawn.draw("landscape", 3, SIZE)
    picture.putalpha(alpha)
    facts = edge_facts(picture.convert(mode))["blank"]
    assert facts["flat"] == blank
    assert (facts["color"] == "transparent") == blank


def test_small_art_on_a_flat_ground_is_not_blank() -> None:
    picture = Image.new("RGB", SIZE, "white")
    picture.paste("#222222", (401, 301, 406, 304))
    blank = edge_facts(picture)["blank"]
    assert not blank["flat"]
    assert blank["spread"] >= 200
