"""Metadata of any bytes: facts or a sentence, never another exception."""

import io

from hypothesis import given, settings
from hypothesis import strategies as st
from metadata_files import RDF, header, iim, sequence, tiff, xmp
from PIL import Image

from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS
from pytest_webdeliverable.measure.metadata import (
    metadata_facts,
    preview_facts,
)
from pytest_webdeliverable.measure.metadata.exif import read_exif
from pytest_webdeliverable.measure.metadata.iptc import read_iptc
from pytest_webdeliverable.measure.metadata.xmp import read_xmp

FUZZ = settings(max_examples=200, derandomize=True)
GOOD_EXIF = tiff(
    [
        {0x0112: (3, 6), 0x013B: (2, b"Name of somebody\0"), 0x011A: (5, [300, 1])},
        {0x0201: (4, 30)},
    ],
    pointers={0x8825: {2: (5, [1, 2, 3, 4, 5, 6])}, 0x8769: {0xA431: (2, b"123456\0")}},
)
GOOD_XMP = xmp(f"<dc:creator>{sequence('A', 'B')}</dc:creator><photoshop:City>X</photoshop:City>")
GOOD_IPTC = iim((2, 80, b"Name"), (2, 116, b"Rights"), (2, 90, b"City"), utf8=True)
FUZZ_PREVIEWS = settings(FUZZ, max_examples=40)
flips = st.lists(st.tuples(st.integers(0, 5_000), st.integers(0, 255)), max_size=12)


def flipped(data, changes, keep):
    changed = bytearray(data)
    for at, value in changes:
        changed[at % len(changed)] = value
    return bytes(changed[:keep])


@FUZZ_PREVIEWS
@given(st.integers(0, 3), st.lists(st.tuples(st.integers(0, 3_000), st.integers(0, 255))))
def test_flipped_previews(which, changes):
    form = ("JPEG", "PNG", "PPM", "GIF")[which]
    out = io.BytesIO()
    Image.effect_noise((40, 30), 60).save(out, form)
    (fact,) = preview_facts(
        Image.effect_noise((80, 60), 60), [("XMP", flipped(out.getvalue(), changes, 10_000))]
    )
    assert 0 <= fact["difference"] <= 1


def survive(exif, xmp, iptc):
    found = metadata_facts(header(exif=exif, xmp=(xmp,), iptc=iptc), DEFAULT_LIMITS)
    assert all(isinstance(text, str) for text in found["problems"])


@FUZZ
@given(st.binary(max_size=4000))
def test_any_bytes(data):
    survive(data, data, data)


@FUZZ
@given(st.sampled_from([b"II*\0\x08\0\0\0", b"MM\0*\0\0\0\x08", b"II+\0\x08\0\0\0"]), st.binary())
def test_any_bytes_behind_a_byte_order_mark(start, data):
    read_exif(start + data, DEFAULT_LIMITS)


@FUZZ
@given(flips, st.integers(0, 2_000))
def test_flipped_and_cut_metadata(changes, keep):
    survive(*(flipped(data, changes, keep) for data in (GOOD_EXIF, GOOD_XMP, GOOD_IPTC)))


@FUZZ
@given(
    st.lists(
        st.sampled_from(
            [
                b"<a>",
                b"</a>",
                b"<!",
                b"[",
                b"]]>",
                b"&x;",
                b"&#0;",
                b"<?",
                b"\0",
                b'<a b="',
                b'"',
                b" xmlns:r='u'",
                b"<r:a",
                b"/>",
                b"\xff",
            ]
        )
    )
)
def test_any_markup(tokens):
    read_xmp(RDF + b"".join(tokens), DEFAULT_LIMITS)


@FUZZ
@given(st.lists(st.binary(max_size=6).map(lambda tail: b"\x1c\x02" + tail)))
def test_any_data_sets(sets):
    read_iptc(b"".join(sets), DEFAULT_LIMITS)
