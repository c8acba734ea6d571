"""Previews of real pictures, as cameras and editors write them: piexif embeds, Pillow scales.

The pictures come from registry packages (scikit-image, scikit-learn) and belong to the half that was
not used for choosing the thresholds. How previews are made is common practice, no source: 160 x 120
with black bars, strong compression, another orientation, another development of the raw data.
Figures over many more pictures stand in the docstring of metadata/view.py.
"""

import io
from pathlib import Path

import piexif
import pytest
from metadata_files import header
from PIL import Image, ImageEnhance

from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS
from pytest_webdeliverable.measure.metadata import preview_facts, preview_images, read_metadata

NAMES = [
    "camera.png",
    "china.jpg",
    "coffee.png",
    "coins.png",
    "flower.jpg",
    "retina.jpg",
    "rocket.jpg",
    "text.png",
]


def picture(name):
    package = "sklearn" if name in {"china.jpg", "flower.jpg"} else "skimage"
    module = pytest.importorskip(package, reason=f"the pictures of {package} are not installed")
    folder = Path(module.__file__).parent
    folder = folder / "datasets" / "images" if package == "sklearn" else folder / "data"
    with Image.open(folder / name) as image:
        return image.convert("RGB")


def judged(published, preview, quality=75):
    """Write ``preview`` into Exif with piexif, find it with ours and compare."""
    out = io.BytesIO()
    preview.save(out, "JPEG", quality=quality)
    exif = piexif.dump({"0th": {}, "1st": {}, "thumbnail": out.getvalue()})
    made = header(exif=exif[6:])
    previews = preview_images(made, read_metadata(made, DEFAULT_LIMITS))
    assert previews == [("Exif", piexif.load(exif)["thumbnail"])]
    (found,) = preview_facts(published, previews)
    assert (found["width"], found["height"]) == preview.size
    return found["same"]


def small(image, size=(160, 160)):
    copy = image.copy()
    copy.thumbnail(size)
    return copy


@pytest.mark.parametrize("name", NAMES)
def test_an_honest_preview_is_the_same(name):
    whole = picture(name)
    bars = Image.new("RGB", (160, 120))
    inside = small(whole, (160, 120))
    bars.paste(inside, ((160 - inside.width) // 2, (120 - inside.height) // 2))
    brighter = ImageEnhance.Brightness(whole).enhance(1.15)
    assert judged(whole, small(whole))
    assert judged(whole, bars, quality=50)
    assert judged(whole, small(whole).transpose(Image.Transpose.ROTATE_90))
    assert judged(whole, small(ImageEnhance.Color(brighter).enhance(0.5)), quality=60)


@pytest.mark.parametrize("name", NAMES)
def test_a_preview_from_before_the_crop_is_not_the_same(name):
    whole = picture(name)
    width, height = whole.size
    preview = small(whole)
    assert not judged(whole.crop((0, 0, width * 4 // 5, height)), preview)
    assert not judged(whole.crop((0, height // 5, width, height)), preview)
    box = (width // 10, height // 10, width * 9 // 10, height * 9 // 10)
    assert not judged(whole.crop(box), preview)


@pytest.mark.parametrize(("name", "other"), list(zip(NAMES, NAMES[1:] + NAMES[:1], strict=True)))
def test_the_preview_of_another_picture_is_not_the_same(name, other):
    assert not judged(picture(name), small(picture(other)))
