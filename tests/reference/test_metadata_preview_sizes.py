"""How a picture and its preview are brought to a small size before they are compared."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from pytest_webdeliverable.measure.metadata import previews


@pytest.mark.parametrize(
    ("size", "reduced"),
    [((95, 400), (95, 400)), ((191, 400), (191, 400)), ((192, 400), (96, 200)), ((960, 961), (96, 97))],
)  # fmt: skip
def test_no_side_falls_below_96_pixels(size, reduced):
    assert previews._small_rgb(Image.new("RGB", size)).size == reduced


@pytest.mark.parametrize(
    ("size", "reduced"),
    [
        ((767, 800), (110, 115)),  # 767 < 2 x 384: averages of 7 x 7
        ((768, 800), (96, 100)),  # every second pixel, averages of 4 x 4
        ((1000, 800), (125, 100)),
        ((1152, 1200), (96, 100)),  # every third
    ],
)
def test_palettes_are_thinned_out_first(size, reduced):
    """Down to four times 96 px by leaving out pixels, then by averages."""
    found = previews._small_rgb(Image.new("P", size))
    assert found.size == reduced
    assert found.mode == "RGB"


def test_every_second_pixel_of_a_palette_is_taken():
    stripes = Image.fromarray(np.tile(np.array([0, 255], np.uint8), (768, 384))).convert("P")
    assert len(set(previews._small_rgb(stripes).tobytes())) == 1


def test_see_through_parts_are_black():
    picture = Image.new("RGBA", (100, 100), (200, 100, 50, 128))
    assert previews._small_rgb(picture).getpixel((5, 5)) == pytest.approx((100, 50, 25), abs=1)


def test_deep_samples_are_spread_over_all_levels():
    deep = Image.fromarray(np.array([[1000, 2000, 3000]], np.float32))
    assert list(previews._spread(deep).tobytes()) == [0, 127, 255]
    assert set(previews._spread(Image.new("F", (3, 1), 7.0)).tobytes()) == {0}


@pytest.mark.parametrize(("side", "opened"), [(2000, True), (2001, False)])
def test_the_largest_preview_that_is_opened(side, opened):
    """4 megapixels."""
    buffer = io.BytesIO()
    Image.new("1", (side, 2000)).save(buffer, "PNG")
    fact = previews._fact(Image.new("RGB", (96, 96)), "XMP", buffer.getvalue())
    assert (fact["problem"] is None) == opened


@pytest.mark.parametrize(("scans", "read"), [(16, True), (17, False)])
def test_the_most_scans_of_a_preview(scans, read):
    """Start-of-scan marks are counted wherever they stand (ITU-T T.81, B.2.3)."""
    buffer = io.BytesIO()
    Image.linear_gradient("L").save(buffer, "JPEG")
    data = buffer.getvalue()
    data += b"\xff\xda" * (scans - data.count(b"\xff\xda"))
    fact = previews._fact(Image.new("RGB", (96, 96)), "XMP", data)
    assert (fact["problem"] is None) == read
