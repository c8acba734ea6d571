"""Our Exif reader against exifread on sample pictures that this project does not carry.

``METADATA_PICTURES`` names folders of pictures, such as Tests/images of Pillow's source
distribution, with which this was tried (13.0.0: 163 files with Exif, 2,725 values that agree).
Skipped where it is not set.
"""

import io
import logging
import os
import warnings
from pathlib import Path

import exifread
import pytest
from PIL import Image

from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS
from pytest_webdeliverable.measure.metadata.directories import Rational
from pytest_webdeliverable.measure.metadata.exif import read_exif

FOLDERS = [Path(part) for part in os.environ.get("METADATA_PICTURES", "").split(os.pathsep) if part]

# Damaged on purpose: entries of a wrong type, a tag stated twice, a text that is a number.
DIFFERENT = {
    "exif_gps_typeerror.jpg",
    "exif_typeerror.jpg",
    "invalid-exif-without-x-resolution.jpg",
    "no_rows_per_strip.tif",
    "old-style-jpeg-compression-no-samplesperpixel.tif",
}


def exif_of(path):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            with Image.open(path) as image:
                data = path.read_bytes() if image.format == "TIFF" else image.info.get("exif")
        except Exception:
            return None
    return data.removeprefix(b"Exif\0\0") if data else None


def same(mine, theirs):
    if isinstance(mine, str):
        text = theirs.decode("latin-1") if isinstance(theirs, bytes) else str(theirs)
        return mine.strip("\0 ") == text.strip("\0 ")
    if isinstance(mine, bytes):
        return True  # exifread decodes undefined bytes as it sees fit
    values = mine if isinstance(mine, tuple) and not isinstance(mine, Rational) else (mine,)
    return len(values) == len(theirs) and all(
        one.num * other.den == one.den * other.num if isinstance(one, Rational) else one == other
        for one, other in zip(values, theirs, strict=True)
    )


@pytest.mark.skipif(not FOLDERS, reason="METADATA_PICTURES names no folder of sample pictures")
def test_sample_pictures_agree_with_exifread():
    logging.getLogger("exifread").setLevel(logging.CRITICAL)
    files = compared = 0
    for path in sorted(path for folder in FOLDERS for path in folder.rglob("*") if path.is_file()):
        data = exif_of(path)
        mine = read_exif(data, DEFAULT_LIMITS) if data else None
        if mine is None or mine.problems or path.name in DIFFERENT:
            continue
        places = {"Image": mine.ifd0, "EXIF": mine.exif, "GPS": mine.gps or {}}
        files += 1
        for key, found in exifread.process_file(io.BytesIO(data), details=False).items():
            place = places.get(key.partition(" ")[0])
            if place is not None and hasattr(found, "tag") and found.tag in place:
                assert same(place[found.tag], found.values), (path.name, key)
                compared += 1
    assert files >= 40
    assert compared >= 500
