"""Strips, segments and blank pictures once more: sizes at their borders, against numpy's slices and means."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from pytest_webdeliverable.measure.edges.blank import blank_facts
from pytest_webdeliverable.measure.edges.color import distance, rgb, sharpness
from pytest_webdeliverable.measure.edges.profile import (
    lines_of,
    planes,
    profile,
    sampled,
    segment_length,
    segments,
)
from pytest_webdeliverable.measure.edges.strips import has_alpha, normal, strip
from pytest_webdeliverable.measure.edges.types import SIDES, Side

RNG = np.random.default_rng
LINES_OF = {
    "top": lambda pixels: pixels,
    "bottom": lambda pixels: pixels[::-1],
    "left": lambda pixels: pixels.swapaxes(0, 1),
    "right": lambda pixels: pixels[:, ::-1].swapaxes(0, 1),
}
"""A picture's lines from each side, the outermost first."""


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("size", [(1, 1), (1, 9), (9, 1), (2, 3), (24, 25), (25, 24)])
@pytest.mark.parametrize("lines", [1, 2, 24, 25, 26])
def test_strips_of_tiny_pictures(side: Side, size: tuple[int, int], lines: int) -> None:
    """As many lines as asked for, or all there are."""
    pixels = RNG(1).integers(0, 256, (size[1], size[0], 3), dtype=np.uint8)
    got = np.asarray(strip(Image.fromarray(pixels), side, lines))
    assert np.array_equal(got, LINES_OF[side](pixels)[:lines])


@pytest.mark.parametrize(
    ("size", "lines"),
    [
        ((1, 1), 1),
        ((5, 400), 1),
        ((6, 400), 2),
        ((400, 71), 23),
        ((72, 400), 24),
        ((75, 400), 24),
        ((400, 400), 24),
    ],
)
def test_how_many_lines_are_looked_at(size: tuple[int, int], lines: int) -> None:
    """24 as the manual says, and a third of a smaller picture, so that opposite sides share none."""
    picture = Image.new("RGB", size)
    assert lines_of(picture) == lines
    for side in SIDES:
        assert profile(picture, side).lines == lines
        assert profile(picture, side, 3).lines == min(
            3, size[0] if side in {"left", "right"} else size[1]
        )


@pytest.mark.parametrize(
    ("length", "size"), [(640, 8), (639, 4), (320, 4), (319, 2), (1, 2), (3200, 8), (3201, 16)]
)
def test_segments_of_a_side(length: int, size: int) -> None:
    """8 px from 640 px on, the manual says; twice as much beyond 400 segments, as long as it takes."""
    assert segment_length(length) == size


@pytest.mark.parametrize(("width", "size"), [(7, 8), (8, 8), (9, 8), (16, 8), (1, 2), (5, 2)])
def test_the_last_segment_is_what_is_left(width: int, size: int) -> None:
    """Means by numpy, half a code of rounding; a strip shorter than a segment stays as it is."""
    pixels = RNG(2).integers(0, 256, (3, width), dtype=np.uint8)
    got = np.asarray(segments(Image.fromarray(pixels), size))
    if width < size:
        assert np.array_equal(got, pixels)
        return
    means = np.stack([pixels[:, at : at + size].mean(1) for at in range(0, width, size)], 1)
    assert got.shape == means.shape
    assert np.abs(got - means).max() <= 0.5


@pytest.mark.parametrize("bands", [1, 3, 4])
def test_planes_of_a_picture(bands: int) -> None:
    """numpy's own axes."""
    pixels = RNG(3).integers(0, 256, (4, 5, bands), dtype=np.uint8)
    picture = Image.fromarray(pixels if bands > 1 else pixels[..., 0])
    want = [[bytes(line) for line in pixels[..., band]] for band in range(bands)]
    assert planes(picture) == want


@pytest.mark.parametrize(
    ("count", "step"), [(1, 1), (12, 1), (23, 1), (24, 2), (35, 2), (36, 3), (400, 33)]
)
def test_about_a_dozen_samples(count: int, step: int) -> None:
    """Each so-manieth of them, the first included: twelve fit in once, twice, three times."""
    assert list(sampled(range(count))) == list(range(0, count, step))


def test_the_mean_of_an_odd_mode() -> None:
    """Pictures in other modes are turned to R, G, B first: a palette of two colors, a line of each."""
    picture = Image.new("P", (8, 9), 0)
    picture.putpalette([10, 200, 30, 240, 20, 90])
    picture.paste(1, (0, 1, 8, 2))
    own = profile(picture, "top")
    assert own.pixels.mode == "RGB"
    assert own.pixels.getpixel((0, 0)) == (10, 200, 30)
    # BT.601: 0.299 * 10 + 0.587 * 200 + 0.114 * 30 and 0.299 * 240 + 0.587 * 20 + 0.114 * 90, which
    # Pillow cuts off rather than rounds.
    assert [line[0] for line in own.luma[:2]] == pytest.approx([123.81, 93.76], abs=1)
    # Of a picture that could be seen through, the colors alone.
    assert profile(picture.convert("RGBA"), "top").pixels == own.pixels
    assert has_alpha(Image.new("LA", (1, 1)))
    assert not has_alpha(picture)
    assert normal(picture).getpixel((3, 1)) == (240, 20, 90)


@pytest.mark.parametrize(
    ("top", "codes"), [(255, [255, 0, 100]), (256, [1, 0, 0]), (65535, [255, 0, 0])]
)
def test_integers_of_a_byte_or_of_two(top: int, codes: list[int]) -> None:
    """Of 32 bits: up to 255 they are codes of 8 bits, from 256 on of 16."""
    values = np.array([[top, 0, 100]], dtype="<i4")
    picture = Image.frombytes("I", (3, 1), values.tobytes())
    assert np.asarray(normal(picture))[0, :, 1].tolist() == codes


@pytest.mark.parametrize(("top", "codes"), [(1.0, [255, 127]), (1.05, [1, 0]), (254.0, [254, 0])])
def test_floats_are_shares_or_codes(top: float, codes: list[int]) -> None:
    """Up to 1 they are shares of white, which is 255: a half is 127.5. Beyond they are codes."""
    values = np.array([[top, 0.5]], dtype="<f4")
    picture = Image.frombytes("F", (2, 1), values.tobytes())
    assert np.asarray(normal(picture))[0, :, 0].tolist() == codes


@pytest.mark.parametrize(("off", "flat"), [(8, True), (9, False)])
@pytest.mark.parametrize("mode", ["RGB", "L", "RGBA", "LA"])
def test_how_flat_a_blank_picture_is(mode: str, off: int, flat: bool) -> None:
    """Eight codes from end to end, in any mode."""
    picture = Image.new("L", (30, 20), 60)
    picture.putpixel((9, 9), 60 + off)
    facts = blank_facts(picture.convert(mode))
    assert (facts["flat"], facts["spread"]) == (flat, off)


def test_samples_that_just_look_flat_are_not_trusted() -> None:
    """Halves 8 codes apart, and one px that no sample hits: in 700 px every 14th or 15th is one."""
    picture = Image.new("RGB", (700, 500), (100, 100, 100))
    picture.paste((108, 108, 108), (350, 0, 700, 500))
    assert blank_facts(picture)["flat"]
    picture.putpixel((1, 1), (150, 100, 100))
    facts = blank_facts(picture)
    assert (facts["flat"], facts["spread"]) == (False, 50)


@pytest.mark.parametrize("across", [True, False])
def test_every_px_of_a_small_picture_is_a_sample(across: bool) -> None:
    """Up to 48 px each way: the spread is exact wherever the one line is that is far off."""
    for at in range(48):
        luma = np.where(np.arange(48) % 2, 100, 120).astype(np.uint8)
        luma[at] = 160
        pixels = np.repeat(luma[None], 48, axis=0)
        picture = Image.fromarray(pixels if across else np.ascontiguousarray(pixels.T))
        assert blank_facts(picture)["spread"] == 60, at


def test_one_px_is_blank() -> None:
    """All its pixels are one color; so are those of a line."""
    for size in ((1, 1), (1, 90), (90, 1)):
        assert blank_facts(Image.new("RGB", size, (1, 2, 3))) == {
            "flat": True,
            "color": "#010203",
            "spread": 0,
        }


@pytest.mark.parametrize(("off", "want"), [(0.0, 0.0), (0.5, 0.5), (1.0, 1.0), (2.0, 1.0)])
def test_hardly_any_step_is_not_sharp(off: float, want: float) -> None:
    """Steps of less than a code are measured by a code: half a code is not a whole step."""
    page, other = (100.0, 128.0, 128.0), (100.0 + off, 128.0, 128.0)
    assert sharpness(page, other, page) == want
    assert distance(page, other) == off
    assert rgb(page) == (100.0, 100.0, 100.0)
