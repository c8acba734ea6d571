"""A GIF whose frame has the table of all grays in order, in a file with another: GIF89a, section 21.

"A local color table contains ... the color table to be used for the image": the one of the file does not
count. Each pixel is then its own index, three times.
"""

from __future__ import annotations

import struct
from typing import TYPE_CHECKING

import numpy as np
from header_files import saved
from PIL import Image

from pytest_webdeliverable.measure.content import content_facts
from pytest_webdeliverable.measure.decode import decode
from pytest_webdeliverable.measure.headers import read_header
from pytest_webdeliverable.measure.motion import motion_facts

if TYPE_CHECKING:
    import pytest

FACETS = ("pixels", "edges", "history", "previews", "likeness", "motion")
GRAYS = np.add.outer(3 * np.arange(120), 7 * np.arange(160)).astype(np.uint8)
WARM = b"\xff\x20\0\0\x20\xff"


def gif(*frames: np.ndarray) -> bytes:
    """Frames with the table of grays, in a file whose table has two colors; each is shown for 0.1 s."""
    height, width = frames[0].shape
    parts = [b"GIF89a", struct.pack("<2H3B", width, height, 0xF0, 0, 0), WARM]
    for pixels in frames:
        data = saved(Image.fromarray(pixels), "GIF", interlace=0, optimize=False)
        frame = data.index(b",", 13 + 768)
        parts += [b"!\xf9\4\0\x0a\0\0\0,", struct.pack("<4HB", 0, 0, width, height, 0x87)]
        parts += [data[13 : 13 + 768], data[frame + 10 : -1]]
    return b"".join([*parts, b";"])


def test_grays_are_grays() -> None:
    data = gif(GRAYS)
    picture = decode(data, read_header(data)).picture
    assert picture is not None
    assert (np.asarray(picture.convert("RGB")) == GRAYS[..., None]).all()
    assert (
        np.asarray(picture.crop((5, 5, 90, 70)).convert("RGB")) == GRAYS[5:70, 5:90, None]
    ).all()


def test_every_facet_is_measured() -> None:
    facts = content_facts(gif(GRAYS), FACETS)
    assert "problem" not in facts
    plain = content_facts(saved(Image.fromarray(GRAYS).convert("RGB"), "PNG"), FACETS)
    for facet in ("pixels", "edges", "likeness"):
        assert facts[facet] == plain[facet], facet  # type: ignore[literal-required]


def test_the_first_frame_of_an_animation_is_gray_as_well(monkeypatch: pytest.MonkeyPatch) -> None:
    from pytest_webdeliverable.measure import motion

    seen = []
    take = motion._Sampler.take
    monkeypatch.setattr(
        motion._Sampler,
        "take",
        lambda one, frame, shown: (
            seen.append(np.asarray(frame.convert("RGB"))) or take(one, frame, shown)
        ),
    )
    data = gif(GRAYS, 255 - GRAYS, GRAYS)
    assert motion_facts(data, read_header(data))["frames"] == 3
    for found, expected in zip(seen, (GRAYS, 255 - GRAYS, GRAYS), strict=True):
        assert (found == expected[..., None]).all()
