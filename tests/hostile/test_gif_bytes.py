"""GIF files made to mislead or to exhaust."""

import pytest
from header_files import GIF_CONTROL, GIF_FRAME, GIF_START, XMP_TRAILER, application, gif
from hostile_headers import refused

from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.headers.gif import read


def test_a_hundred_thousand_frames_are_counted():
    header = read(gif((GIF_CONTROL + GIF_FRAME) * 100_000))
    assert (header.frames, header.problems) == (100_000, ())


@pytest.mark.parametrize(
    "filler",
    [b"!\xfe" + b"\x01x" * 2_000_000 + b"\0", b"!\xfe\0" * 2_000_000],
    ids=["tiny sub-blocks", "empty extensions"],
)
def test_millions_of_tiny_blocks_are_refused(filler):
    with pytest.raises(DamagedError, match="more than 1,000,000 blocks"):
        read(gif(GIF_FRAME, filler))


def test_megabytes_of_rubbish_between_blocks_are_skipped():
    header = read(gif(GIF_FRAME, b"\x99" * 30_000_000, GIF_FRAME))
    assert header.frames == 2
    assert header.problems == ("there are stray bytes between the parts of the file",)


def test_too_much_metadata_is_refused():
    packet = application(b"XMP DataXMP", b"\xff" * 17_000_000 + XMP_TRAILER)
    with pytest.raises(DamagedError, match="more than 16 MiB of metadata"):
        read(gif(packet, GIF_FRAME))


def test_a_color_table_that_is_not_there():
    with pytest.raises(DamagedError):
        read(GIF_START[:10] + b"\xf7\0\0" + bytes(100))
    refused(read, gif(GIF_FRAME, GIF_FRAME[:9] + b"\x87" + bytes(50), end=b""))
