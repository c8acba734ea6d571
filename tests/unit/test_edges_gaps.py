"""Each kind of gap, cut into drawn art: side, depth, extent and color are what was cut."""

from __future__ import annotations

import io
import random

import pytest
from PIL import Image, ImageDraw

from pytest_webdeliverable.measure.edges import Gap, edge_facts
from tests.edges import drawn, faults
from tests.edges.faults import Fault

SIDES = ("left", "top", "right", "bottom")
SIZE = (800, 600)


@pytest.fixture(scope="module")
def art() -> Image.Image:
    return drawn.draw("landscape", 3, SIZE)


def gaps_of(picture: Image.Image) -> list[Gap]:
    return edge_facts(picture)["gaps"]


def as_jpeg(picture: Image.Image, quality: int, chroma: str) -> Image.Image:
    buffer = io.BytesIO()
    picture.save(buffer, "JPEG", quality=quality, subsampling=chroma)
    opened = Image.open(buffer)
    opened.load()
    return opened


def test_art_that_runs_to_the_edge_has_no_gap(art: Image.Image) -> None:
    assert gaps_of(art) == []


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("depth", [1.0, 2.0, 3.5, 8.0])
def test_white_lines_along_a_side(art: Image.Image, side: str, depth: float) -> None:
    picture, _ = faults.cut(art, [Fault("full", side, depth, 0, 1, (255, 255, 255))])
    (gap,) = gaps_of(picture)
    assert gap["side"] == side
    assert gap["depth"] == pytest.approx(depth, abs=0.3)
    assert (gap["start"], gap["end"]) == pytest.approx((0, 1), abs=0.02)
    assert gap["color"] == "#ffffff"
    assert gap["delta-e"] > 5


@pytest.mark.parametrize("color", [(250, 247, 238), (128, 128, 128), (0, 0, 0), (200, 30, 120)])
def test_page_of_any_color(art: Image.Image, color: faults.Color) -> None:
    picture, _ = faults.cut(art, [Fault("full", "left", 2, 0, 1, color)])
    (gap,) = gaps_of(picture)
    shown = tuple(bytes.fromhex(gap["color"][1:]))
    assert max(abs(a - b) for a, b in zip(shown, color, strict=True)) <= 3


@pytest.mark.parametrize("quality", [75, 85, 95])
@pytest.mark.parametrize("chroma", ["4:4:4", "4:2:0"])
def test_ringing_and_chroma_spill_do_not_hide_one_line(
    art: Image.Image, quality: int, chroma: str
) -> None:
    picture, _ = faults.cut(art, [Fault("full", side, 1, 0, 1, (255, 255, 255)) for side in SIDES])
    found = {gap["side"]: gap["depth"] for gap in gaps_of(as_jpeg(picture, quality, chroma))}
    assert found == {side: pytest.approx(1, abs=0.5) for side in SIDES}


@pytest.mark.parametrize("share", [0.3, 0.5, 0.8])
def test_part_covered_line(share: float) -> None:
    picture, _ = faults.cut(
        drawn.draw("texture", 5, SIZE), [Fault("part-line", "top", share, 0, 1, (255, 255, 255))]
    )
    (gap,) = gaps_of(picture)
    assert gap["side"] == "top"
    assert gap["depth"] == pytest.approx(share, abs=0.15)


def test_part_of_a_side(art: Image.Image) -> None:
    picture, _ = faults.cut(art, [Fault("partial", "right", 3, 0.2, 0.45, (255, 255, 255))])
    (gap,) = gaps_of(picture)
    assert gap["side"] == "right"
    assert (gap["start"], gap["end"]) == pytest.approx((0.2, 0.45), abs=0.02)
    assert gap["depth"] == pytest.approx(3, abs=0.3)


@pytest.mark.parametrize("rising", [False, True])
def test_wedge(art: Image.Image, rising: bool) -> None:
    picture, (truth,) = faults.wedge(art, "bottom", 0.3, rising, 1.0, (255, 255, 255))
    (gap,) = gaps_of(picture)
    assert gap["side"] == "bottom"
    assert gap["depth"] == pytest.approx(truth.depth, abs=0.5)
    assert gap["end"] - gap["start"] > 0.7


@pytest.mark.parametrize("shape", ["square", "triangle"])
@pytest.mark.parametrize("corner", [("top", "left"), ("bottom", "right")])
def test_corner_nick(art: Image.Image, corner: tuple[str, str], shape: str) -> None:
    picture, _ = faults.nick(art, corner, 6, shape, (255, 255, 255))
    found = gaps_of(picture)
    assert {gap["side"] for gap in found} == set(corner)
    assert all(gap["depth"] == pytest.approx(6, abs=1) for gap in found)
    assert all(gap["end"] - gap["start"] < 0.02 for gap in found)


def test_round_corners_that_match_are_meant(art: Image.Image) -> None:
    picture = art
    for corner in (("top", "left"), ("top", "right"), ("bottom", "left"), ("bottom", "right")):
        picture, _ = faults.nick(picture, corner, 10, "round", (255, 255, 255))
    assert gaps_of(picture) == []


@pytest.mark.parametrize("alpha", [0.0, 0.5])
def test_clear_lines(art: Image.Image, alpha: float) -> None:
    picture, _ = faults.cut(art, [Fault("clear", "left", 2, 0, 1, (0, 0, 0), alpha)])
    (gap,) = gaps_of(picture)
    assert (gap["side"], gap["color"]) == ("left", "transparent")
    assert gap["depth"] == pytest.approx(2, abs=0.1)
    assert gap["alpha"] == pytest.approx(alpha, abs=0.02)


@pytest.mark.parametrize("mode", ["RGBA", "L", "LA", "CMYK", "P", "YCbCr", "LAB", "I", "F"])
def test_modes(art: Image.Image, mode: str) -> None:
    picture, _ = faults.cut(art, [Fault("full", "top", 3, 0, 1, (255, 255, 255))])
    if mode in {"LAB", "I", "F"}:
        picture = picture.convert("L") if mode != "LAB" else picture
    if mode == "LAB":
        from PIL import ImageCms

        to_lab = ImageCms.buildTransformFromOpenProfiles(
            ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB"), "RGB", "LAB"
        )
        picture = ImageCms.applyTransform(picture, to_lab)
        assert picture is not None
    else:
        picture = picture.convert(mode)
    found = [gap for gap in gaps_of(picture) if gap["side"] == "top"]
    assert [gap["depth"] for gap in found] == [pytest.approx(3, abs=0.3)]


def test_sixteen_bits(art: Image.Image) -> None:
    picture, _ = faults.cut(art, [Fault("full", "top", 3, 0, 1, (255, 255, 255))])
    gray = picture.convert("L")
    deep = Image.frombytes("I;16", gray.size, b"".join(bytes((0, code)) for code in gray.tobytes()))
    (gap,) = gaps_of(deep)
    assert (gap["side"], gap["color"]) == ("top", "#ffffff")


@pytest.mark.parametrize("size", [(1, 1), (1, 50), (3, 3), (7, 400), (20, 20), (33, 90)])
def test_tiny_pictures_give_an_answer(size: tuple[int, int]) -> None:
    noise = Image.frombytes("RGB", size, random.Random(1).randbytes(3 * size[0] * size[1]))
    for picture in (noise, noise.convert("RGBA"), Image.new("RGB", size, "white")):
        assert edge_facts(picture)["gaps"] == []


def test_a_gap_nobody_sees_is_no_fault() -> None:
    white = Image.new("RGB", SIZE, (253, 253, 252))
    picture, _ = faults.cut(white, [Fault("full", "top", 2, 0, 1, (255, 255, 255))])
    assert gaps_of(picture) == []


def test_the_same_pixels_give_the_same_facts(art: Image.Image) -> None:
    picture, _ = faults.wedge(art, "left", 0.2, True, 0.8, (255, 255, 255))
    assert edge_facts(picture) == edge_facts(picture.copy())


@pytest.mark.parametrize("size", [(650, 350), (750, 585), (801, 607)])
@pytest.mark.parametrize("side", SIDES)
def test_a_side_that_is_no_multiple_of_a_segment(size: tuple[int, int], side: str) -> None:
    # The last segment is shorter; measured beyond the picture it would be black, and the page not still.
    picture, _ = faults.cut(
        drawn.draw("landscape", 3, size), [Fault("partial", side, 2, 0.7, 1, (255, 255, 255))]
    )
    (gap,) = gaps_of(picture)
    assert (gap["side"], gap["depth"]) == (side, pytest.approx(2, abs=0.3))
    assert gap["end"] == pytest.approx(1, abs=0.02)


def test_chroma_that_takes_four_lines_hides_no_deep_gap() -> None:
    green = Image.new("RGB", (400, 300), (35, 40, 190))
    picture, _ = faults.cut(green, [Fault("partial", "bottom", 3.6, 0.45, 0.6, (35, 239, 3))])
    (gap,) = gaps_of(as_jpeg(picture, 76, "4:2:0"))
    assert gap["side"] == "bottom"
    assert gap["depth"] == pytest.approx(3.6, abs=0.6)


def test_a_line_of_mixed_gray_on_light_and_dark_art_is_seen_along_it() -> None:
    # Gray page is darker than one half of the art and lighter than the other: their mean tells nothing.
    art = drawn.ramp(SIZE, (20, 30, 40), (230, 220, 210), 0)
    art = drawn.with_grain(random.Random(1), art, 6)
    picture, _ = faults.cut(art, [Fault("part-line", "top", 0.6, 0, 1, (125, 125, 125))])
    assert [gap["side"] for gap in gaps_of(picture)] == ["top"]


def test_stripes_that_run_on_do_not_explain_a_gap_that_ends() -> None:
    art = Image.new("RGB", SIZE, (150, 60, 90))
    ImageDraw.Draw(art).rectangle((0, 40, 800, 43), fill="white")
    picture, _ = faults.cut(art, [Fault("partial", "top", 4, 0, 0.6, (255, 255, 255))])
    (gap,) = gaps_of(picture)
    assert gap["end"] == pytest.approx(0.6, abs=0.02)


def test_a_nick_among_light_art_is_known_by_its_exact_color() -> None:
    # Half of what lies around is nearly as light as the page: only exactly its color would be its return.
    art = Image.new("RGB", SIZE, (60, 70, 80))
    ImageDraw.Draw(art).rectangle((12, 0, 40, 600), fill=(225, 225, 225))
    picture, _ = faults.nick(art, ("top", "left"), 6, "triangle", (255, 255, 255))
    assert {gap["side"] for gap in gaps_of(picture)} == {"top", "left"}
