"""What a header reader may do with bad bytes, and small sound files to make them from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from header_files import saved
from PIL import Image, ImageOps

from pytest_webdeliverable.measure.headers.base import DamagedError, Header

if TYPE_CHECKING:
    from collections.abc import Callable

    Reader = Callable[[bytes], Header]


def survives(read: Reader, data: bytes) -> Header | None:
    """Read; anything but a plausible header or a DamagedError with a sentence is a failure."""
    try:
        header = read(data)
    except DamagedError as error:
        sentence, header = str(error), None
    if header is None:
        assert sentence
        assert sentence.isprintable()
        return None
    assert header.width > 0
    assert header.height > 0
    assert header.frames is not None
    assert 1 <= header.frames <= len(data)
    assert header.bits > 0
    assert all(sentence.isprintable() for sentence in header.problems)
    return header


def refused(read: Reader, data: bytes) -> None:
    """The fault shows, as an error or among the problems."""
    header = survives(read, data)
    assert header is None or header.problems


def gradient() -> Image.Image:
    return Image.radial_gradient("L").resize((40, 30)).convert("RGB")


def animated(file_format: str) -> bytes:
    """Three frames, as Pillow writes them."""
    first = gradient()
    others = [first.rotate(90), ImageOps.invert(first)]
    return saved(first, file_format, save_all=True, append_images=others)
