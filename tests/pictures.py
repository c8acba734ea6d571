"""Pictures drawn for tests, small, and sound unless a test asks for a fault."""

from __future__ import annotations

from typing import Any

from pytest_webdeliverable.measure.specimen import draw as art
from pytest_webdeliverable.measure.specimen import encode as encoded
from pytest_webdeliverable.measure.specimen import srgb
from pytest_webdeliverable.testing import save

__all__ = ["KINDS", "art", "encoded", "save", "srgb"]

KINDS: dict[str, tuple[str, dict[str, Any]]] = {
    "jpeg": ("JPEG", {"quality": 90}),
    "jpeg-progressive": ("JPEG", {"quality": 90, "progressive": True}),
    "png": ("PNG", {}),
    "webp": ("WEBP", {"quality": 90}),
    "webp-lossless": ("WEBP", {"lossless": True}),
    "avif": ("AVIF", {"quality": 90}),
    "gif": ("GIF", {}),
    "tiff": ("TIFF", {}),
    "tiff-lzw": ("TIFF", {"compression": "tiff_lzw"}),
    "tiff-deflate": ("TIFF", {"compression": "tiff_deflate"}),
    "tiff-jpeg": ("TIFF", {"compression": "jpeg"}),
}
"""Ways of coding that a decoder must know: name and options for Pillow."""
