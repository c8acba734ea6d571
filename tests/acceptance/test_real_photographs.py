"""Real photographs from packages, as they come: verdicts checked by hand, see docs/real-pictures.md.

The pictures are those that scikit-image and scikit-learn carry. What must fail was read from the files with
other means: chunks and markers in a hex view, ``djpeg -verbose``, ``exiv2 -pa``, LittleCMS, and the eye.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import Any

import pytest
from portfolios import Portfolio

SPEC = """
[spec.raw]
from = "screen"
formats = ["jpeg", "png", "gif", "tiff"]
edges = { outline = true, margin = true }
blank = false
transparency = false
orientation-flag = false
animation = false
jpeg = { chroma = "4:4:4" }
"""
SMALL = "512 x 512 px, expected 1600"

# Every rule that must fail, with a part of what it says; all others pass.
EXPECTED: dict[str, dict[str, str]] = {
    # pHYs 11811 px/m; its iCCP is sRGB by LittleCMS.
    "skimage/data/astronaut.png": {"pixel-size": SMALL, "density": "300 ppi in pHYs"},
    # pHYs 2835 px/m; its iCCP is sRGB.
    "skimage/data/chelsea.png": {"pixel-size": "451 x 300 px"},
    # pHYs 3780 px/m is 96.01 ppi; no chunk says what its colors mean.
    "skimage/data/coffee.png": {
        "pixel-size": "600 x 400 px",
        "density": "96.01 ppi in pHYs",
        "color-profile": "no color profile",
    },
    # LittleCMS: red X 0.6097 and green X 0.2053, sRGB has 0.4361 and 0.3851: off by 0.174 and 0.180.
    "skimage/data/rocket.jpg": {
        "pixel-size": "640 x 427 px",
        "color-profile": "primaries are off by 0.180",
    },
    # djpeg: Y 2 x 2, Cb and Cr 1 x 1; first steps 2 1 1 2 3 5 6 7 are those of quality 94.
    "skimage/data/retina.jpg": {
        "pixel-size": "1411 x 1411 px",
        "density": "150 ppi in JFIF",
        "color-profile": "no color profile",
        "chroma-subsampling": "4:2:0",
    },
    # Exif says 300 and there is no JFIF segment.
    "skimage/data/hubble_deep_field.jpg": {
        "pixel-size": "1000 x 872 px",
        "density": "300 ppi in Exif",
    },
    # pHYs gives 72 x 72 of an unknown unit, so a shape and no density.
    "skimage/data/moon.png": {
        "pixel-size": SMALL,
        "density": "pHYs is there but gives none",
        "color-mode": "is gray",
        "color-profile": "no color profile",
    },
    # The last two columns fall from 73 to 21 and 8 in the lower third: the scan shows its holder.
    "skimage/data/coins.png": {
        "pixel-size": "384 x 303 px",
        "density": "no density",
        "color-mode": "is gray",
        "color-profile": "no color profile",
        "edge-gap": "right edge",
    },
    # A gray press profile ("Dot Gain 20%" in LittleCMS).
    "skimage/data/page.png": {
        "pixel-size": "384 x 191 px",
        "color-mode": "is gray",
        "color-profile": "not sRGB",
    },
    # A display's own profile: red X 0.3944, green Y 0.6785.
    "skimage/data/color.png": {
        "pixel-size": "371 x 370 px",
        "density": "no density",
        "color-profile": "primaries are off by 0.042",
    },
    # 24 image descriptors.
    "skimage/data/no_time_for_that_tiny.gif": {
        "pixel-size": "14 x 25 px",
        "density": "no density",
        "color-profile": "no color profile",
        "single-frame": "24 pictures",
    },
    # 64-bit floating point in separate planes: sound by tiffinfo, but no picture that a browser or Pillow shows.
    "skimage/data/multipage_rgb.tif": {"file-readable": "stores it in an uncommon way"},
    # Photographs as a camera's owner exported them: baseline, 4:4:4, 72 ppi, sRGB; small, and with the
    # camera's serial number (aux:SerialNumber) in an XMP packet whose segment has a spoilt heading.
    "sklearn/datasets/images/china.jpg": {
        "pixel-size": "640 x 427 px",
        "metadata-device": "serial number",
    },
    "sklearn/datasets/images/flower.jpg": {
        "pixel-size": "640 x 427 px",
        "metadata-device": "serial number",
    },
}  # fmt: skip


def packaged(name: str) -> Path:
    """The file of an installed package."""
    package, _, rest = name.partition("/")
    spec = importlib.util.find_spec(package)
    if (
        spec is None
        or spec.origin is None
        or not (path := Path(spec.origin).parent / rest).is_file()
    ):
        pytest.skip(f"{package} with its pictures is not installed")
    return path


@pytest.fixture(scope="module")
def checks(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[dict[str, Any]]]:
    portfolio = Portfolio(tmp_path_factory.mktemp("real"))
    text = SPEC
    for number, name in enumerate(EXPECTED):
        path = packaged(name)
        file = f"picture-{number}{path.suffix}"
        (portfolio.folder / file).write_bytes(path.read_bytes())
        text += (
            f'[[piece]]\nid = "{number}"\nfile = "{file}"\nspec = "raw"\nalt = "What it shows"\n'
        )
    portfolio.manifest(text)
    run = portfolio.run("-q", "-p", "no:cacheprovider")
    assert run.report is not None, run.out
    assert run.report["manifests"], run.out
    pieces = run.report["manifests"][0]["pieces"]
    return {
        name: pieces[number]["checks"]
        for number, name in enumerate(EXPECTED)
        if pieces[number]["id"] == str(number)
    }


@pytest.mark.parametrize("name", EXPECTED)
def test_verdicts_checked_by_hand(name: str, checks: dict[str, list[dict[str, Any]]]) -> None:
    found = {
        check["rule"]: check["message"]
        for check in checks[name]
        if check["outcome"] in {"failed", "advised"}
    }
    assert set(found) == set(EXPECTED[name]), found
    for rule, says in EXPECTED[name].items():
        assert says in found[rule]
