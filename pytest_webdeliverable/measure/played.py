"""The frames of an animation one after the other, as browsers show them, and how long each is shown."""

from __future__ import annotations

from contextlib import contextmanager
from itertools import islice
from typing import TYPE_CHECKING, Final

from PIL import Image

from pytest_webdeliverable.measure import gif_frames, png_frames
from pytest_webdeliverable.measure.headers.webp import ALPHA_FLAG

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pytest_webdeliverable.measure.headers.base import Header
    from pytest_webdeliverable.measure.limits import Limits

SHORTEST_SHOWN: Final = 10
"""Milliseconds up to which browsers show a frame for DEFAULT_SHOWN instead (Gecko, Blink, WebKit)."""
DEFAULT_SHOWN: Final = 100
"""Milliseconds that browsers show such a frame."""
_WEBP_FLAGS: Final = 20
"""Place of the flags of VP8X, which an animation begins with (RFC 9649, 2.7)."""


class StoppedError(Exception):
    """The rest of an animation is not looked at; the text says why."""


def play(
    opened: Image.Image, data: bytes, header: Header, most: int, limits: Limits
) -> Iterator[tuple[Image.Image, int]]:
    """Yield at most so many frames of the file that was opened, with the milliseconds each is shown.

    Raises StoppedError at a frame that cannot be shown.
    """
    size = header.width, header.height
    match header.format:
        case "gif":
            yield from _played_gif(data, most, size)
        case "png":
            yield from _played_png(png_frames.Frames(data, header, limits), most, size)
        case _:
            yield from _played(opened, most, size)


def shown_for(frame: Image.Image) -> int:
    """Milliseconds that a browser shows the frame."""
    return _at_least(frame.info.get("duration") or 0)


def _at_least(duration: float) -> int:
    return DEFAULT_SHOWN if duration <= SHORTEST_SHOWN else round(duration)


def _played(
    opened: Image.Image, most: int, size: tuple[int, int]
) -> Iterator[tuple[Image.Image, int]]:
    """Step through the frames of a WebP or AVIF, each fully decoded."""
    for number in range(most):
        try:
            with _told(number + 1):
                opened.seek(number)
                _check_place(number + 1, (0, 0, *opened.size), size)
                opened.load()
        except EOFError:
            return
        yield opened, shown_for(opened)


def _played_gif(data: bytes, most: int, size: tuple[int, int]) -> Iterator[tuple[Image.Image, int]]:
    """Step through the frames of a GIF as ``_played`` does, with the time that each is shown."""
    canvas = Image.new("RGBA", size)
    for number, part in enumerate(islice(gif_frames.parts(data), most), 1):
        _check_place(number, part.box, size)
        with _told(number):
            canvas, before = gif_frames.lay(data, part, canvas)
        yield canvas, _at_least(part.milliseconds)
        canvas = gif_frames.dispose(part, canvas, before)
        before = None  # both may be large


def _played_png(
    frames: png_frames.Frames, most: int, size: tuple[int, int]
) -> Iterator[tuple[Image.Image, int]]:
    """Step through the frames of a PNG in the same way."""
    canvas = Image.new("RGBA", size)
    for number, part in enumerate(islice(frames.parts(), most), 1):
        _check_place(number, part.box, size)
        with _told(number):
            before = frames.lay(part, canvas)
        yield canvas, _at_least(part.milliseconds)
        png_frames.dispose(part, canvas, before)
        before = None


def _check_place(number: int, box: tuple[int, int, int, int], size: tuple[int, int]) -> None:
    if box[2] > size[0] or box[3] > size[1]:
        raise StoppedError(f"frame {number} is larger than the animation")


@contextmanager
def _told(number: int) -> Iterator[None]:
    """Say of which frame it is that it cannot be shown."""
    try:
        yield
    except (StoppedError, EOFError):
        raise
    except MemoryError:
        raise StoppedError(f"frame {number} needs more memory than there is") from None
    except Exception:  # decoders raise anything
        raise StoppedError(f"frame {number} cannot be decoded") from None


def on_clear_canvas(data: bytes) -> bytes:
    """Say of a WebP that it has transparency: else the decoder fills with black what no frame covers.

    Browsers show the page there (Gecko, Blink, WebKit); RFC 9649, 2.7.1.1, leaves it to them.
    """
    flags = data[_WEBP_FLAGS] | ALPHA_FLAG
    return data[:_WEBP_FLAGS] + bytes((flags,)) + data[_WEBP_FLAGS + 1 :]
