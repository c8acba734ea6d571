"""A picture in small is the same in whatever mode its colors are stored."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from pytest_webdeliverable.likeness.signature import coarse, planes
from pytest_webdeliverable.measure.likeness import signature

GRAY = np.kron(np.random.default_rng(3).integers(0, 256, (6, 8)), np.ones((4, 4))).astype(np.uint8)
"""8 x 6 patches of 4 x 4 px, each of one gray."""


def luma(picture):
    return np.array([list(row) for row in planes(signature(picture))[0].rows], dtype=int)


def of_samples(mode, samples):
    picture = Image.new(mode, (32, 24))
    picture.putdata(np.asarray(samples).ravel().tolist())
    return picture


@pytest.mark.parametrize(
    "picture",
    [
        Image.fromarray(GRAY),
        Image.fromarray(GRAY).convert("RGB"),
        Image.fromarray(GRAY).convert("LA"),
        Image.fromarray(GRAY).convert("RGBA"),
        Image.fromarray(GRAY).convert("RGBA").convert("RGBa"),
        Image.fromarray(GRAY).convert("P"),
        Image.fromarray(GRAY).convert("RGBX"),
        Image.fromarray(GRAY).convert("YCbCr"),
        Image.fromarray(GRAY).convert("CMYK"),
        of_samples("I;16", GRAY.astype(int) * 257),
        of_samples("I;16B", GRAY.astype(int) * 257),
        of_samples("I", GRAY.astype(int) * 257),
        of_samples("F", GRAY / 255.0),
    ],
    ids=lambda picture: picture.mode,
)
def test_gray_patches_in_every_mode(picture):
    """The grid is the picture's own, so each cell is one pixel; 16 bits are cut to 8."""
    assert np.abs(luma(picture) - GRAY).max() <= 1


def test_black_and_white_art_is_averaged():
    """A fine board of 192 x 192 px: every cell of 96 x 96 is half of it, not one of its pixels."""
    y, x = np.mgrid[:192, :192]
    board = Image.fromarray(((x + y) % 2 * 255).astype(np.uint8)).convert("1")
    assert np.abs(luma(board) - 127.5).max() <= 1


@pytest.mark.parametrize("mode", ["RGBA", "LA", "RGBa", "PA"])
@pytest.mark.parametrize("opacity", [0, 51, 128, 255])
def test_ink_that_is_half_see_through_lies_on_white(mode, opacity):
    """Black ink of opacity a on white is 255 - a."""
    ink = Image.new("RGBA", (16, 16), (0, 0, 0, opacity))
    if mode in {"LA", "PA"}:
        ink = Image.new(mode, (16, 16), (0, opacity))
    elif mode == "RGBa":
        ink = ink.convert("RGBa")
    assert np.abs(luma(ink) - (255 - opacity)).max() <= 1


def test_a_see_through_color_of_a_palette_is_white():
    picture = Image.new("P", (16, 16), 0)
    picture.putpalette([0, 0, 0, 200, 0, 0])
    picture.paste(1, (8, 0, 16, 16))
    solid = luma(picture)
    assert solid[0, 0] == 0
    # 0.299 x 200
    assert solid[0, 12] == pytest.approx(60, abs=1)
    picture.info["transparency"] = 0
    shown = luma(picture)
    assert shown[0, 0] == 255
    assert shown[0, 12] == pytest.approx(60, abs=1)


def test_large_pictures_are_averaged_and_not_sampled():
    """960 x 960 px of noise into cells of 100 px: their deviation is a tenth of 255 / sqrt(12).

    About a tenth, since steps of the averaging may cut cells at whole pixels.
    """
    noise = np.random.default_rng(1).integers(0, 256, (960, 960)).astype(np.uint8)
    assert luma(Image.fromarray(noise)).std() == pytest.approx(25.5 / 12**0.5, abs=1)


def test_the_coarse_picture_is_made_of_lightness_and_both_colors():
    """8 x 8 cells each of Y, Cb, Cr; JFIF 1.02 for one red: Y 76, Cb 85, Cr 255."""
    data = coarse(signature(Image.new("RGB", (40, 30), (255, 0, 0))))
    assert len(data) == 192
    for band, value in enumerate((76, 85, 255)):
        assert set(data[64 * band : 64 * band + 64]) <= {value - 1, value, value + 1}
