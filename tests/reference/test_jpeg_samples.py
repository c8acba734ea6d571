"""Real photographs of the sample sets of scikit-image and scikit-learn, read by us and by Pillow."""

from __future__ import annotations

import importlib.util
import io
from pathlib import Path

import pytest
from jpegs import cut_and_closed
from PIL import Image, JpegImagePlugin

from pytest_webdeliverable.measure.headers.jpeg import read
from pytest_webdeliverable.measure.headers.jpeg_scan import PictureFeed


def samples() -> list[Path]:
    found: list[Path] = []
    for package in ("skimage", "sklearn"):
        spec = importlib.util.find_spec(package)
        if spec and spec.origin:
            found += sorted(Path(spec.origin).parent.rglob("*.jpg"))
    return found


pytestmark = pytest.mark.skipif(not samples(), reason="scikit-image, scikit-learn not installed")
each_sample = pytest.mark.parametrize("path", samples(), ids=lambda path: path.name)


@each_sample
def test_header_agrees_with_pillow(path: Path) -> None:
    data = path.read_bytes()
    header = read(data)
    assert header.problems == ()
    assert header.jpeg is not None
    with Image.open(path) as picture:
        assert (header.width, header.height) == picture.size
        assert header.icc == picture.info.get("icc_profile")
        named = {0: "4:4:4", 1: "4:2:2", 2: "4:2:0"}
        assert header.jpeg["sampling"] == named[JpegImagePlugin.get_sampling(picture)]
        exif = picture.info.get("exif")
        assert header.exif == (exif.removeprefix(b"Exif\0\0") if exif else None)
        density = next((d for d in header.densities if d.place == "JFIF" and d.x), None)
        if density:
            assert picture.info["dpi"] == (density.x, density.y)


@each_sample
def test_sound_photograph_is_used_up_exactly(path: Path) -> None:
    data = path.read_bytes()
    feed = PictureFeed(data)
    with Image.open(feed, formats=["JPEG"]) as picture, Image.open(io.BytesIO(data)) as usual:
        picture.load()
        assert feed.problem(picture) is None
        assert picture.tobytes() == usual.tobytes()


@each_sample
def test_photograph_cut_at_every_tenth_and_closed(path: Path) -> None:
    data = path.read_bytes()
    missing = []
    for tenth in range(1, 10):
        feed = PictureFeed(cut_and_closed(data, tenth / 10))
        with Image.open(feed, formats=["JPEG"]) as picture:
            picture.load()
            missing.append(feed.missing_tail(picture) or 0)
    # The data is spread unevenly over the height, but every cut shows, and a later one less.
    assert min(missing) > 0
    assert missing == sorted(missing, reverse=True)
