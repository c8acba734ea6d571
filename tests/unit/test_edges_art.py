"""What is art and not a fault: nothing is found in it, whatever it was saved as."""

from __future__ import annotations

import io

import pytest
from PIL import Image, ImageDraw

from pytest_webdeliverable.measure.edges import edge_facts
from tests.edges import drawn

SIZE = (800, 600)


def saved(picture: Image.Image, codec: str) -> Image.Image:
    if codec == "png":
        return picture
    buffer = io.BytesIO()
    if codec == "webp":
        picture.save(buffer, "WEBP", quality=85)
    else:
        picture.save(buffer, "JPEG", quality=80, subsampling=codec)
    opened = Image.open(buffer)
    opened.load()
    return opened


@pytest.mark.parametrize("codec", ["png", "4:4:4", "4:2:0", "webp"])
@pytest.mark.parametrize(
    "kind",
    [
        "white-ground",
        "mount",
        "fade",
        "stripes",
        "halftone",
        "checks",
        "dark",
        "landscape",
        "vignette",
    ],
)
def test_drawn_art(kind: str, codec: str) -> None:
    for seed in (11, 12):
        facts = edge_facts(saved(drawn.draw(kind, seed, SIZE), codec))
        assert facts["gaps"] == [], (kind, seed)
        assert facts["outline"] is None, (kind, seed)


@pytest.mark.parametrize("height", [1, 2, 3])
def test_a_sloping_horizon_near_the_edge(height: int) -> None:
    picture = drawn.ramp(SIZE, (40, 60, 120), (120, 150, 210), 1.57)
    draw = ImageDraw.Draw(picture)
    edge = [(x, SIZE[1] - height - 6 - 5 * ((x // 60) % 3) / 2) for x in range(0, SIZE[0] + 60, 60)]
    draw.polygon([*edge, (SIZE[0], SIZE[1]), (0, SIZE[1])], fill=(30, 40, 20))
    assert edge_facts(picture)["gaps"] == []


def test_a_wide_margin_is_no_gap() -> None:
    picture = Image.new("RGB", SIZE, "white")
    picture.paste(drawn.draw("texture", 1, (SIZE[0] - 28, SIZE[1] - 28)), (14, 14))
    assert edge_facts(picture)["gaps"] == []


def test_letters_on_white_close_to_the_edge() -> None:
    picture = Image.new("RGB", SIZE, "white")
    draw = ImageDraw.Draw(picture)
    for x in range(20, 700, 24):
        draw.rectangle((x, 5, x + 9, 5 + 18 + (x * 7) % 9), fill="black")
    assert edge_facts(picture)["gaps"] == []


def test_squares_side_by_side_in_two_colors_are_a_pattern() -> None:
    art = Image.new("RGB", SIZE, (120, 90, 60))
    pen = ImageDraw.Draw(art)
    pen.rectangle((296, 0, 359, 2), fill=(30, 60, 200))
    pen.rectangle((360, 0, 423, 2), fill=(230, 60, 40))
    assert edge_facts(art)["gaps"] == []


def test_corners_cut_alike_are_meant() -> None:
    art = Image.new("RGB", SIZE, (40, 90, 60))
    pen = ImageDraw.Draw(art)
    pen.polygon([(0, 0), (4, 0), (0, 4)], fill="white")
    pen.polygon([(799, 0), (795, 0), (799, 4)], fill="white")
    assert edge_facts(art)["gaps"] == []


def test_a_patch_in_a_corner_is_no_gap() -> None:
    art = Image.new("RGB", (200, 150), (40, 60, 120))
    ImageDraw.Draw(art).rectangle((0, 142, 13, 150), fill=(221, 164, 87))
    assert edge_facts(art)["gaps"] == []
