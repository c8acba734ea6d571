"""The credit lines of a picture, wherever they stand, and whether they agree."""

import pytest
from metadata_files import facts, iim, languages, sequence, tiff, xmp


def credited(exif=None, xmp_names=(), iptc_names=(), rights=(None, None, None)):
    entries = {0x013B: (2, exif.encode() + b"\0")} if exif else {}
    if rights[0]:
        entries[0x8298] = (2, rights[0].encode() + b"\0")
    body = f"<dc:creator>{sequence(*xmp_names)}</dc:creator>" if xmp_names else ""
    if rights[1]:
        body += f"<dc:rights>{languages(x_default=rights[1], de='Anders')}</dc:rights>"
    sets = [(2, 80, name.encode()) for name in iptc_names]
    if rights[2]:
        sets.append((2, 116, rights[2].encode()))
    return facts(exif=tiff([entries]), xmp=(xmp(body),), iptc=iim(*sets, utf8=True))["credit"]


def test_credit_of_all_places():
    found = credited("A; B", ("A", "B"), ("B", "A"), ("© X", "© X", "© X"))
    assert found == {
        "creator": {"Exif": ["A", "B"], "XMP": ["A", "B"], "IPTC": ["B", "A"]},
        "copyright": {"Exif": ["© X"], "XMP": ["© X", "Anders"], "IPTC": ["© X"]},
        "disagree": [],
    }


@pytest.mark.parametrize(
    ("exif", "in_xmp", "in_iptc", "disagree"),
    [
        ("Mara Quill", ("mara  quill",), (), []),
        ("Mara Quill", ("Other",), (), ["creator"]),
        ("Mara Quill", (), ("Other",), ["creator"]),
        (None, ("Mara Quill",), ("Other",), ["creator"]),
        ("Mara Quill", ("Mara Quill", "Other"), (), ["creator"]),
        (
            None,
            ("A name that is longer than 32 bytes",),
            ("A name that is longer than 32 byt",),
            [],
        ),
        (None, ("A name",), ("A na",), ["creator"]),
        ("Zoe\u0308", ("Zo\u00eb",), (), []),
    ],
)
def test_creators_that_disagree(exif, in_xmp, in_iptc, disagree):
    assert credited(exif, in_xmp, in_iptc)["disagree"] == disagree


@pytest.mark.parametrize(
    ("rights", "disagree"),
    [
        (("(C) X", "© X", None), []),
        (("Anders", "© X", None), []),
        (("© X", "© Y", None), ["copyright"]),
        (("© X", None, "© Y"), ["copyright"]),
        ((None, "© " + "x" * 200, "© " + "x" * 124), []),
    ],
)
def test_notices_that_disagree(rights, disagree):
    assert credited(rights=rights)["disagree"] == disagree


def test_other_places_of_a_creator_in_exif():
    photographer = tiff([{}], pointers={0x8769: {0xA437: (2, b"P\0")}})
    assert facts(exif=photographer)["credit"]["creator"] == {"Exif": ["P"]}
    author = tiff([{0x9C9D: (1, "Zoë\0".encode("utf-16-le"))}])
    assert facts(exif=author)["credit"]["creator"] == {"Exif": ["Zoë"]}
    assert facts(exif=tiff([{0x013B: (3, 7)}]))["credit"]["creator"] == {}
    assert facts(exif=tiff([{0x013B: (7, b"Bytes")}]))["credit"]["creator"] == {"Exif": ["Bytes"]}


def test_photographer_and_editor_of_a_notice():
    found = facts(exif=tiff([{0x8298: (2, b"Photo\0Edit\0")}]))["credit"]
    assert found["copyright"] == {"Exif": ["Photo", "Edit"]}


def test_values_are_plain_and_short():
    found = facts(iptc=iim((2, 80, "a\x1b[31m\u202e\n::b".encode()), (2, 116, b"x" * 900)))
    assert found["credit"]["creator"]["IPTC"] == ["a\\x1b[31m\\u202e\\n: :b"]
    assert len(found["credit"]["copyright"]["IPTC"][0]) == 200
