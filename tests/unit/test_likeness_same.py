"""A copy and its piece, a copy and another piece: judged from signatures alone."""

from __future__ import annotations

import json

import pytest
from photographs import as_jpeg, flat_art, in_mode, photograph
from PIL import Image, ImageDraw, ImageFilter

from pytest_webdeliverable.likeness import compare_original, near_duplicates, same_picture
from pytest_webdeliverable.likeness.signature import LONG_SIDE, planes
from pytest_webdeliverable.measure.likeness import signature

LANCZOS, BICUBIC, BOX = (
    Image.Resampling.LANCZOS,
    Image.Resampling.BICUBIC,
    Image.Resampling.BOX,
)


def poster(title="harbor", ink="#20435c", motif=0):
    picture = Image.new("RGB", (776, 1200), "#f0e8d8")
    draw = ImageDraw.Draw(picture)
    draw.text((40, 40), title, font_size=110, fill=ink)
    for i in range(6):
        shape = draw.rectangle if i == motif else draw.ellipse
        x, y = 90 + i % 2 * 320, 260 + i // 2 * 290
        shape((x, y, x + 250, y + 250), fill=ink)
    return picture


def thumbnail(picture, quality=80, how=LANCZOS):
    scale = min(400 / picture.width, 300 / picture.height)
    size = round(picture.width * scale), round(picture.height * scale)
    return as_jpeg(picture.resize(size, how), quality)


@pytest.mark.parametrize("draw", [poster, photograph, flat_art])
@pytest.mark.parametrize("how", [LANCZOS, BICUBIC, BOX])
@pytest.mark.parametrize("quality", [50, 75, 100])
def test_a_thumbnail_is_its_piece(draw, how, quality):
    found = same_picture(signature(thumbnail(draw(), quality, how)), signature(draw()))
    assert found["same"]
    assert found["crop"] == [0.0, 0.0, 1.0, 1.0]


def test_mild_sharpening_does_not_matter():
    sharp = thumbnail(poster()).filter(ImageFilter.UnsharpMask(1, 60, 2))
    assert same_picture(signature(sharp), signature(poster()))["same"]


@pytest.mark.parametrize(
    "other",
    [poster(title="orchard"), poster(ink="#5c2043"), poster(motif=3), photograph(776, 1200)],
)
def test_a_swapped_thumbnail_is_found(other):
    assert not same_picture(signature(thumbnail(other)), signature(poster()))["same"]


def test_a_gray_copy_is_marked():
    found = same_picture(signature(thumbnail(poster()).convert("L")), signature(poster()))
    assert found["same"]
    assert found["gray"]


def test_a_gray_copy_of_another_poster_is_still_found():
    gray = thumbnail(poster(title="orchard")).convert("L")
    assert not same_picture(signature(gray), signature(poster()))["same"]


def card(picture, top):
    high = picture.width * 630 / 1200
    y = top * (picture.height - high)
    return as_jpeg(picture.resize((1200, 630), BICUBIC, (0, y, picture.width, y + high)), 85)


def test_a_social_card_from_the_middle_is_its_piece():
    found = same_picture(signature(card(poster(), 0.5)), signature(poster()))
    assert found["same"]
    assert found["crop"] == pytest.approx([0.0, 0.3302, 1.0, 0.6698], abs=0.001)


def test_a_social_card_from_the_top_is_found_there():
    found = same_picture(signature(card(poster(), 0.0)), signature(poster()))
    assert found["same"]
    assert found["crop"][1] == pytest.approx(0.0, abs=0.02)


def test_a_social_card_of_another_poster_is_found():
    found = same_picture(signature(card(poster(motif=2), 0.5)), signature(poster(motif=3)))
    assert not found["same"]


def test_a_declared_crop_is_where_it_is_looked_for():
    part = poster().crop((78, 240, 466, 720))
    box = (78 / 776, 240 / 1200, 466 / 776, 720 / 1200)
    assert same_picture(signature(part), signature(poster()), box)["same"]
    elsewhere = (0.4, 0.2, 0.9, 0.6)
    assert not same_picture(signature(part), signature(poster()), elsewhere)["same"]


def test_a_part_of_a_few_cells_says_too_little():
    part = poster().crop((0, 0, 40, 40))
    found = same_picture(signature(part), signature(poster()), (0.0, 0.0, 40 / 776, 40 / 1200))
    assert not found["same"]
    assert found["undecided"]


@pytest.mark.parametrize("size", [(1, 1), (2, 3000), (3000, 2), (5, 5), (97, 31)])
def test_every_size_has_a_signature(size):
    one = signature(Image.new("RGB", size, "teal"))
    assert json.loads(json.dumps(one)) == one
    assert max(one["grid"]) <= LONG_SIDE
    assert same_picture(one, one)["score"] == 1.0


@pytest.mark.parametrize(
    "mode", ["1", "L", "LA", "P", "PA", "RGB", "RGBA", "CMYK", "I", "F", "LAB"]
)
def test_every_mode_has_a_signature(mode):
    shown = in_mode(flat_art(400, 300), mode)
    assert len(planes(signature(shown))) == 3


def test_see_through_parts_are_laid_on_white():
    clear = Image.new("RGBA", (200, 100), (0, 0, 0, 0))
    white = Image.new("RGB", (200, 100), "white")
    assert signature(clear)["luma"] == signature(white)["luma"]


@pytest.mark.parametrize("damage", ["", "!!", "0000"])
def test_a_damaged_signature_is_a_value_error(damage):
    good = signature(poster())
    with pytest.raises(ValueError, match=r".*"):
        same_picture({**good, "luma": damage}, good)


def test_a_signature_that_unpacks_to_too_much_is_a_value_error():
    from pytest_webdeliverable.likeness.signature import pack

    good = signature(poster())
    with pytest.raises(ValueError, match="cells it states"):
        same_picture({**good, "luma": pack(bytes(5_000_000))}, good)


def test_near_duplicates_are_pairs_and_series_are_not():
    pieces = [
        ("a", signature(poster())),
        ("b", signature(thumbnail(poster()))),
        ("c", signature(poster(title="orchard"))),
        ("d", signature(photograph())),
    ]
    assert near_duplicates(pieces).pairs == [("a", "b")]


def test_an_original_tells_the_part_shown():
    master = photograph(900, 700)
    part = (0.03, 0.02, 0.98, 0.97)
    box = [round(f * side) for f, side in zip(part, (900, 700, 900, 700), strict=True)]
    copy = as_jpeg(master.crop(box).resize((570, 443), LANCZOS), 90)
    found = compare_original(signature(copy), signature(master))
    assert found["crop"] == pytest.approx(part, abs=0.006)
    assert found["cropped"]


def test_an_original_shown_whole_is_neither_cropped_nor_shifted():
    copy = as_jpeg(photograph().resize((400, 300), LANCZOS), 85)
    found = compare_original(signature(copy), signature(photograph()))
    assert found["same"]
    assert not found["cropped"]
    assert not found["shifted"]


def test_the_color_of_a_cmyk_original_is_not_decided():
    master = photograph().convert("CMYK")
    found = compare_original(signature(photograph()), signature(master))
    assert found["same"]
    assert found["color undecided"]


def test_another_picture_is_not_the_original():
    assert not compare_original(signature(photograph(seed=2)), signature(photograph()))["same"]


def test_a_plain_original_cannot_place_the_copy():
    plain = signature(Image.new("RGB", (400, 300), "navy"))
    assert compare_original(plain, plain)["undecided"]
