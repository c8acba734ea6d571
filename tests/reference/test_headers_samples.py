"""Headers against what Pillow decodes, over the sample pictures of scikit-image and scikit-learn.

These files were written by many programs. Pillow is asked after decoding, not for what it reports
of the file.
"""

import io
from importlib.util import find_spec
from pathlib import Path

import pytest
from PIL import Image, UnidentifiedImageError

from pytest_webdeliverable.measure.headers import read_header, sniff

MODES = {
    "1": ("gray", 1),
    "L": ("gray", 8),
    "LA": ("gray", 8),
    "I;16": ("gray", 16),
    "F": ("gray", 32),
    "P": ("rgb", 8),
    "RGB": ("rgb", 8),
    "RGBA": ("rgb", 8),
}


def samples():
    for name in ("skimage", "sklearn"):
        found = find_spec(name)
        for place in found.submodule_search_locations if found else ():
            for path in sorted(Path(place).rglob("*.*")):
                if path.suffix in {".png", ".gif", ".tif", ".tiff", ".jpg", ".jpeg", ".webp"}:
                    yield pytest.param(path, id=path.name)


@pytest.mark.parametrize("path", list(samples()))
def test_samples(path):
    data = path.read_bytes()
    header = read_header(data)
    assert header.format == sniff(data)
    assert header.problems == ()
    try:
        picture = Image.open(io.BytesIO(data))
        picture.load()
    except UnidentifiedImageError:
        # 64 bits a sample, more than Pillow reads.
        assert header.bits == 64
        return
    assert (header.width, header.height) == picture.size
    assert header.frames == getattr(picture, "n_frames", 1)
    assert header.icc == picture.info.get("icc_profile")
    mode, bits = MODES[picture.mode]
    assert header.mode == mode
    # Pillow reduces 16-bit color to 8.
    assert header.bits == bits or (header.bits, picture.mode) == (16, "RGB")
