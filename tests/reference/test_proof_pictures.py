"""Small pictures of the proof sheet: sizes by hand, pixels against Pillow's own, colors against LittleCMS."""

from __future__ import annotations

import base64
import hashlib
import io

import numpy as np
import pytest
from PIL import Image, ImageCms
from profiles import SRGB_COLORANTS, matrix_profile

from pytest_webdeliverable.measure import proof
from pytest_webdeliverable.measure.proof import Cut, Wish

WIDE = matrix_profile([SRGB_COLORANTS[at] for at in (1, 2, 0)])
"""Primaries exchanged: green where red was, so that no color stays."""


def noise(width, height, mode="RGB"):
    bands = {"RGB": 3, "RGBA": 4}[mode]
    pixels = np.random.default_rng(width).integers(0, 256, (height, width, bands))
    return Image.fromarray(pixels.astype(np.uint8), mode)


def opened(encoded):
    picture = Image.open(io.BytesIO(base64.b64decode(encoded.base64)))
    picture.load()
    return picture


@pytest.mark.parametrize(
    ("size", "longest", "small"),
    [((400, 300), 100, (100, 75)), ((300, 400), 100, (75, 100)), ((400, 3), 100, (100, 1)),
     ((50, 40), 100, (50, 40)), ((400, 1), 100, (100, 1)), ((1, 400), 100, (1, 100))],
)  # fmt: skip
def test_pictures_are_scaled_to_their_long_side_and_never_up(size, longest, small):
    found = proof._small(noise(*size), longest, 72, None)
    assert (found.width, found.height) == small == opened(found).size
    assert found.kind == "jpeg"


def test_scaling_is_pillows_lanczos():
    """A reference without the quick first reduction: the same to a few code values."""
    soft = noise(8, 6).resize((400, 300), Image.Resampling.BICUBIC)
    found = np.asarray(opened(proof._small(soft, 100, 95, None)).convert("RGB"), float)
    expected = np.asarray(soft.resize((100, 75), Image.Resampling.LANCZOS), float)
    assert np.abs(found - expected).mean() < 2


@pytest.mark.parametrize("mode", ["RGB", "RGBA"])
def test_colors_beside_each_other_are_averaged_not_picked(mode):
    """Black and white columns by turns: gray, which no choice of single pixels gives."""
    stripes = Image.fromarray(np.tile(np.array([0, 255], np.uint8), (80, 200))).convert(mode)
    shown = opened(proof._small(stripes, 50, 90, None)).convert("RGBA").convert("L")
    assert shown.getextrema() == (pytest.approx(127, abs=12), pytest.approx(128, abs=12))


def test_modes_that_can_be_scaled_as_they_are():
    for mode in ("L", "RGB", "RGBA", "CMYK", "YCbCr"):
        assert proof._can_scale(Image.new(mode, (2, 2)))
    for mode in ("1", "P", "I;16", "LA"):
        assert not proof._can_scale(Image.new(mode, (2, 2)))
    keyed = Image.new("RGB", (2, 2))
    keyed.info["transparency"] = (0, 0, 0)
    assert not proof._can_scale(keyed)


@pytest.mark.parametrize(
    ("side", "rows", "columns"),
    [("left", np.s_[3:11], np.s_[:5]), ("right", np.s_[3:11], np.s_[15:]),
     ("top", np.s_[:5], np.s_[3:11]), ("bottom", np.s_[7:], np.s_[3:11])],
)  # fmt: skip
def test_strips_are_cut_where_they_are_asked(side, rows, columns):
    picture = noise(20, 12)
    found = proof._strip(picture, Cut(side=side, start=3, end=11, depth=5), None)
    assert (np.asarray(opened(found)) == np.asarray(picture)[rows, columns]).all()
    assert found.kind == "png"


def test_other_profiles_are_converted_as_littlecms_does():
    """Profile connection space and back, done here by LittleCMS itself."""
    picture = noise(30, 20)
    expected = ImageCms.profileToProfile(
        picture, ImageCms.ImageCmsProfile(io.BytesIO(WIDE)), ImageCms.createProfile("sRGB")
    )
    assert proof._screen(picture, WIDE).tobytes() == expected.tobytes()
    assert expected.tobytes() != picture.tobytes()
    assert proof._screen(picture, None).tobytes() == picture.tobytes()
    assert proof._screen(picture, b"no profile").tobytes() == picture.tobytes()


def test_see_through_pictures_have_a_palette_and_nothing_beside_pixels():
    picture = noise(40, 30, "RGBA")
    picture.info.update(comment="who", icc_profile=b"what", dpi=(300, 300))
    found = opened(proof._small(picture, 40, 72, None))
    assert found.mode == "P"
    assert len(found.getcolors()) > 200
    assert set(found.info) <= {"transparency"}
    assert found.convert("RGBA").getchannel("A").getextrema() != (255, 255)
    jpeg = noise(40, 30)
    jpeg.info.update(comment=b"who", icc_profile=b"what", dpi=(300, 300), exif=b"Exif\0\0II*\0")
    assert not {"comment", "icc_profile", "exif"} & set(opened(proof._encoded(jpeg, 72)).info)
    assert not set(opened(proof._png(jpeg)).info)


def test_the_color_of_a_palette_that_is_see_through_stays():
    picture = noise(40, 30).quantize(16)
    picture.info["transparency"] = 3
    assert opened(proof._png(picture)).info == {"transparency": 3}
    keyed = noise(40, 30)
    keyed.info["transparency"] = (1, 2, 3)
    assert opened(proof._png(keyed)).info == {}


def written(folder, picture, **options):
    buffer = io.BytesIO()
    picture.save(buffer, "PNG", **options)
    (folder / "a.png").write_bytes(buffer.getvalue())
    return hashlib.sha256(buffer.getvalue()).hexdigest()


def test_a_file_becomes_thumbnail_large_picture_and_strips(tmp_path):
    sha = written(tmp_path, noise(200, 100))
    cut = Cut(side="left", start=0, end=50, depth=4)
    wish = Wish(thumb=40, large=120, cuts=(cut,))
    made = proof.proof(tmp_path, tmp_path, "a.png", wish, sha256=sha)
    assert (made.thumb.width, made.thumb.height) == (40, 20)
    assert (made.large.width, made.large.height) == (120, 60)
    assert [(one, strip.width, strip.height) for one, strip in made.strips] == [(cut, 4, 50)]
    small = proof.proof(tmp_path, tmp_path, "a.png", Wish(thumb=40), sha256=sha)
    assert small.large is None
    assert small.strips == ()
    assert len(small.thumb.base64) == len(made.thumb.base64)
    turned = proof.proof(tmp_path, tmp_path, "a.png", Wish(thumb=40, orientation=6), sha256=sha)
    assert (turned.thumb.width, turned.thumb.height) == (20, 40)


@pytest.mark.parametrize("fault", ["other bytes", "missing", "damaged"])
def test_what_cannot_be_shown_is_left_out(tmp_path, fault):
    sha = written(tmp_path, noise(20, 10))
    name = "a.png"
    if fault == "other bytes":
        sha = "0" * 64
    elif fault == "missing":
        name = "b.png"
    else:
        data = (tmp_path / name).read_bytes()[:-30]
        (tmp_path / name).write_bytes(data)
        sha = hashlib.sha256(data).hexdigest()
    assert proof.proof(tmp_path, tmp_path, name, Wish(thumb=40), sha256=sha) is None


def test_colors_are_converted_only_where_it_is_wished(tmp_path):
    sha = written(tmp_path, noise(20, 10), icc_profile=WIDE)
    cut = (Cut(side="top", start=0, end=20, depth=10),)
    plain, converted = (
        proof.proof(
            tmp_path, tmp_path, "a.png", Wish(thumb=9, cuts=cut, convert=wished), sha256=sha
        )
        for wished in (False, True)
    )
    assert opened(plain.strips[0][1]).tobytes() == noise(20, 10).tobytes()
    assert opened(converted.strips[0][1]).tobytes() != noise(20, 10).tobytes()
