"""Header readers: what a picture file says of itself, read from its bytes before any decoding.

One module per format, each with ``read(data, limits) -> Header``. None of them imports PIL, which
invents values (a density that is not stored) and forgives faults (a wrong checksum, data behind the
end) that a deliverable must not have. ``DamagedError`` is all they raise.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.headers.sniff import describe, sniff
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.headers.base import Header

__all__ = ["describe", "read_header", "sniff"]


def read_header(data: bytes, limits: Limits = DEFAULT_LIMITS) -> Header:
    """Read the header of a whole file held in memory, whichever of the six formats it is.

    Raises DamagedError, with a sentence for a designer, when the content is none of the formats or
    is too broken to tell its size.
    """
    match sniff(data):
        case "jpeg":
            from pytest_webdeliverable.measure.headers import jpeg

            return jpeg.read(data, limits)
        case "png":
            from pytest_webdeliverable.measure.headers import png

            return png.read(data, limits)
        case "webp":
            from pytest_webdeliverable.measure.headers import webp

            return webp.read(data, limits)
        case "avif":
            from pytest_webdeliverable.measure.headers import avif

            return avif.read(data, limits)
        case "gif":
            from pytest_webdeliverable.measure.headers import gif

            return gif.read(data, limits)
        case "tiff":
            from pytest_webdeliverable.measure.headers import tiff

            return tiff.read(data, limits)
    raise DamagedError(
        f"the file is {describe(data)}; only JPEG, PNG, WebP, AVIF, GIF and TIFF can be checked"
    )
