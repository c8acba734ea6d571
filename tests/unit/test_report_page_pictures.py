"""The pictures in the proof sheet: pixel-exact edges, no metadata, within their budget."""

from __future__ import annotations

import base64
import io
from typing import TYPE_CHECKING, Any

import numpy as np
import pictures
import profiles
import pytest
from PIL import Image
from sheets import Tags, at, check, piece, report_of

from pytest_webdeliverable.report import pictures as module
from pytest_webdeliverable.report.page import build_page
from pytest_webdeliverable.report.page.drawing import edge_strip
from pytest_webdeliverable.report.pictures import EdgeStrip, Pictures, Shown, make_album

if TYPE_CHECKING:
    from pathlib import Path


def opened(shown: Shown) -> Image.Image:
    data = base64.b64decode(shown.uri.partition(",")[2])
    return Image.open(io.BytesIO(data))


def rgb(shown: Shown) -> Image.Image:
    return opened(shown).convert("RGBA").convert("RGB")


def only(root: Path, file: str, **more: Any) -> Pictures:
    report = report_of([piece(root, file, **more)])
    (made,) = make_album(report, at(root), 1).pictures.values()
    return made


def test_edge_strips_are_the_files_own_pixels(tmp_path: Path) -> None:
    art = pictures.art(90, 70)
    pictures.save(tmp_path / "a.png", art, "PNG")
    pixels = np.asarray(art)
    depth = module.DEPTH
    expected = {
        "top": pixels[:depth],
        "bottom": pixels[-depth:],
        "left": pixels[:, :depth],
        "right": pixels[:, -depth:],
    }
    strips = {
        strip.side: np.asarray(opened(strip.picture)) for strip in only(tmp_path, "a.png").strips
    }
    assert strips.keys() == expected.keys()
    for side, part in expected.items():
        np.testing.assert_array_equal(strips[side], part)


def test_a_gap_is_marked_where_it_is_eight_times_enlarged() -> None:
    strip = EdgeStrip(
        side="left", start=10, end=110, depth=12, picture=Shown(uri="data:", width=12, height=100)
    )
    gap = {"side": "left", "depth": 2.0, "start": 0.25, "end": 0.5, "color": "#ffffff"}
    tags = Tags(edge_strip(strip, [gap], 120))
    mark = next(one for one in tags.all("rect") if one["class"] == "gap")
    # By hand: from 0.25 * 120 = 30 px to 60 px, seen from px 10, times 8.
    assert (mark["x"], mark["width"]) == ("0", "16")
    assert (mark["y"], mark["height"]) == ("160", "240")
    assert tags.text == "2 px"
    assert (tags.all("svg")[0]["width"], tags.all("svg")[0]["height"]) == ("96", "800")


@pytest.mark.parametrize("name", ["a.jpg", "a.png"])
def test_no_metadata_comes_along(tmp_path: Path, name: str) -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8825)[1] = "N"
    exif[0x013B] = "Somebody"
    options: dict[str, Any] = {"exif": exif}
    if name == "a.jpg":
        options |= {"comment": b"private words", "xmp": b"<x:xmpmeta/>"}
    kind = "JPEG" if name == "a.jpg" else "PNG"
    pictures.save(tmp_path / name, pictures.art(500, 400), kind, **options)
    made = only(tmp_path, name)
    assert made.large is not None
    for shown in (made.thumb, made.large, *(strip.picture for strip in made.strips)):
        data = base64.b64decode(shown.uri.partition(",")[2])
        with Image.open(io.BytesIO(data)) as picture:
            assert not dict(picture.getexif())
            assert set(picture.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
        for word in (b"Exif", b"ICC_PROFILE", b"iCCP", b"eXIf", b"private", b"xmp", b"Somebody"):
            assert word not in data


def test_pictures_stand_upright(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # CIPA DC-008: turn by 90 degrees clockwise to show
    art = pictures.art(160, 120)
    pictures.save(tmp_path / "a.jpg", art, exif=exif)
    made = only(tmp_path, "a.jpg")
    shown = np.asarray(opened(made.thumb).convert("L"), dtype=float)
    assert shown.shape == (160, 120)
    turned = np.asarray(art.rotate(-90, expand=True).convert("L"), dtype=float)
    assert abs(shown - turned).mean() < 12


def test_other_profiles_are_converted_to_srgb(tmp_path: Path) -> None:
    # Linear light: code 128 is 0.50196 of the light, whose sRGB code is 187.5 (IEC 61966-2-1).
    profile = profiles.matrix_profile(curve=profiles.gamma(1.0))
    gray = Image.new("RGB", (64, 64), (128, 128, 128))
    pictures.save(tmp_path / "a.png", gray, "PNG", icc_profile=profile)
    made = only(tmp_path, "a.png")
    for shown in (made.thumb, made.strips[0].picture):
        color = opened(shown).convert("RGB").getpixel((5, 5))
        assert color == pytest.approx((187.5,) * 3, abs=2)


def test_see_through_pictures_stay_see_through(tmp_path: Path) -> None:
    art = pictures.art(100, 80).convert("RGBA")
    art.paste((0, 0, 0, 0), (0, 0, 50, 80))
    pictures.save(tmp_path / "a.png", art, "PNG")
    shown = opened(only(tmp_path, "a.png").thumb).convert("RGBA")
    assert shown.getpixel((10, 40))[3] == 0
    assert shown.getpixel((90, 40))[3] == 255


def test_animations_stand_still(tmp_path: Path) -> None:
    frames = [pictures.art(64, 48, seed) for seed in range(4)]
    frames[0].save(tmp_path / "a.gif", save_all=True, append_images=frames[1:], duration=40)
    one = piece(tmp_path, "a.gif")
    report = report_of([one])
    album = make_album(report, at(tmp_path), 1)
    for shown in next(iter(album.pictures.values())).strips:
        assert getattr(opened(shown.picture), "n_frames", 1) == 1
    page = Tags(build_page(report, album))
    assert all(not src.startswith("data:image/gif") for src in page.values())
    assert "Only its first picture is shown here, still" in page.text


@pytest.mark.parametrize("mode", ["L", "CMYK", "I;16", "P", "1", "LA"])
def test_every_mode_can_be_shown(tmp_path: Path, mode: str) -> None:
    gray = pictures.art().convert("L")
    art = Image.frombytes(
        "I;16", gray.size, np.asarray(gray).astype("<u2").__mul__(257).astype("<u2").tobytes()
    ) if mode == "I;16" else gray.convert(mode)  # fmt: skip
    art.save(tmp_path / "a.tif")
    # Compared over cells, since a bitmap is gray only on average.
    shown = rgb(only(tmp_path, "a.tif").thumb).convert("L").reduce(10)
    assert shown.size == (16, 12)
    difference = np.asarray(shown, dtype=float) - np.asarray(gray.reduce(10), dtype=float)
    assert abs(difference).max() < 12


def test_a_file_that_changed_is_not_shown(tmp_path: Path) -> None:
    pictures.save(tmp_path / "a.jpg")
    report = report_of([piece(tmp_path, "a.jpg")])
    pictures.save(tmp_path / "a.jpg", pictures.art(seed=8))
    assert make_album(report, at(tmp_path), 1).pictures == {}


def test_pictures_keep_to_their_budget(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in "abc":
        pictures.save(tmp_path / f"{name}.jpg", pictures.art(600, 400, ord(name) % 7))
    report = report_of([piece(tmp_path, f"{name}.jpg") for name in "abc"])
    whole = make_album(report, at(tmp_path), 1)
    assert whole.left_out == ""
    sizes = [
        (len(one.thumb.uri), sum(len(strip.picture.uri) for strip in one.strips))
        for one in whole.pictures.values()
    ]
    thumbs, strips = (sum(column) for column in zip(*sizes, strict=True))
    for most, large, edges, count in (
        (thumbs + strips, 0, 3, 3),
        (thumbs + sizes[0][1], 0, 1, 3),
        (thumbs, 0, 0, 3),
        (thumbs - 1, 0, 0, 0),
    ):
        monkeypatch.setattr(module, "PAGE_BYTES", most)
        album = make_album(report, at(tmp_path), 1)
        made = album.pictures.values()
        assert len(made) == count
        assert sum(one.large is not None for one in made) == large
        assert sum(bool(one.strips) for one in made) == edges
        assert "left out" in album.left_out


def test_many_pieces_keep_what_needs_a_look(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    art = pictures.art(160, 120)
    art.paste("white", (0, 0, 2, 120))
    pictures.save(tmp_path / "gap.jpg", art)
    pictures.save(tmp_path / "sound.jpg")
    gap = piece(tmp_path, "gap.jpg", checks=[check(outcome="failed")])
    assert [one["side"] for one in gap["measured"]["edges"]["gaps"]] == ["left"]
    report = report_of([gap, piece(tmp_path, "sound.jpg")])
    monkeypatch.setattr(module, "FEW", 0)
    monkeypatch.setattr(module, "MANY", 1)
    bad, good = make_album(report, at(tmp_path), 1).pictures.values()
    assert [strip.side for strip in bad.strips] == ["left"]
    assert bad.large is not None
    assert not good.strips
    assert good.large is None


@pytest.mark.parametrize(
    ("gaps", "place"),
    [
        ([], 0.5),
        ([(0, 1)], 0.5),
        ([(0.3, 0.5)], 0.3),
        ([(0, 0.2)], 0.2),
        ([(0.99, 1), (0, 1)], 0.99),
    ],
)
def test_a_strip_starts_where_a_gap_shows(gaps: list[tuple[float, float]], place: float) -> None:
    assert module.where_to_look([{"start": one, "end": two} for one, two in gaps]) == place
