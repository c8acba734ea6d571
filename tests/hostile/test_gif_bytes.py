"""GIF files made to mislead or to exhaust."""

import pytest
from header_files import GIF_CONTROL, GIF_FRAME, GIF_START, XMP_TRAILER, application, gif, saved
from hostile_headers import cut_cases, refused, spoiled, survives
from hypothesis import given, settings
from PIL import Image, ImageOps

from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.headers.gif import read

GRADIENT = Image.radial_gradient("L").resize((40, 30))
FRAMES = [GRADIENT, GRADIENT.rotate(90), ImageOps.invert(GRADIENT)]
SAMPLES = {
    "single": saved(FRAMES[0], "GIF"),
    "animated": saved(FRAMES[0], "GIF", save_all=True, append_images=FRAMES[1:]),
    "with XMP": gif(application(b"XMP DataXMP", b"<x/>" + XMP_TRAILER), GIF_CONTROL, GIF_FRAME),
}


@cut_cases(SAMPLES)
def test_cut_files_are_refused(data):
    refused(read, data)


@settings(max_examples=400, deadline=None)
@given(spoiled(list(SAMPLES.values())))
def test_spoiled_files_get_an_answer(data):
    survives(read, data)


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
