"""Embedded previews: found wherever they are, opened safely, compared with the picture."""

import base64
import io
import json

import pytest
from metadata_files import header, iim, tiff, xmp
from PIL import Image, ImageDraw

from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS
from pytest_webdeliverable.measure.metadata import preview_facts, preview_images, read_metadata

PICTURE = b"\xff\xd8a picture\xff\xd9"


def images(**parts):
    made = header(**parts)
    return preview_images(made, read_metadata(made, DEFAULT_LIMITS))


def with_thumbnail(data):
    return tiff([{}, {0x0201: (4, "tail"), 0x0202: (4, len(data))}], tail=data)


def thumbnails_in_xmp(*texts):
    items = "".join(
        f'<rdf:li rdf:parseType="Resource"><xmpGImg:format>JPEG</xmpGImg:format>'
        f"<xmpGImg:image>{text}</xmpGImg:image></rdf:li>"
        for text in texts
    )
    return xmp(f"<xmp:Thumbnails><rdf:Alt>{items}</rdf:Alt></xmp:Thumbnails>")


def test_previews_of_all_places():
    in_xmp = base64.b64encode(b"in xmp").decode()
    wrapped = in_xmp[:4] + "&#xA;" + in_xmp[4:]
    assert images(
        exif=with_thumbnail(PICTURE), xmp=(thumbnails_in_xmp(wrapped),), previews=(b"P6 x",)
    ) == [("Exif", PICTURE), ("XMP", b"in xmp"), ("file header", b"P6 x")]


def test_a_preview_in_iptc():
    """IPTC-IIM 4, data set 2:202, ObjectData Preview Data; 2:200 and 2:201 tell its format."""
    stream = iim((2, 200, b"\0\x0b"), (2, 201, b"\0\1"), (2, 202, PICTURE))
    assert images(iptc=stream) == [("IPTC", PICTURE)]
    assert images(iptc=stream, exif=with_thumbnail(PICTURE)) == [("Exif", PICTURE)]
    assert images(iptc=iim((2, 202, b""), (2, 202, b" \0"))) == []
    picture, other = drawn(), Image.new("RGB", (90, 60), "red")
    for shown, same in ((picture.resize((180, 120)), True), (other, False)):
        buffer = io.BytesIO()
        shown.save(buffer, "JPEG", quality=90)
        (found,) = preview_facts(picture, images(iptc=iim((2, 202, buffer.getvalue()))))
        assert (found["place"], found["same"], found["problem"]) == ("IPTC", same, None)


def test_a_file_without_previews():
    assert images() == []
    assert preview_facts(Image.new("RGB", (10, 10)), []) == []


def test_one_preview_in_two_places_is_listed_once():
    assert images(exif=with_thumbnail(PICTURE), previews=(PICTURE,)) == [("Exif", PICTURE)]


def test_the_second_page_of_a_tiff_file_is_no_preview():
    page = {0x0100: (3, 2), 0x0101: (3, 1), 0x0103: (3, 1), 0x0106: (3, 2), 0x0111: (4, "tail")}
    exif = tiff([{}, page], tail=b"rgbRGB")
    assert images(exif=exif) == [("Exif", b"P6 2 1 255\nrgbRGB")]
    assert images(exif=exif, form="tiff") == []
    assert images(exif=with_thumbnail(PICTURE), form="tiff") == [("Exif", PICTURE)]


def test_text_that_is_no_base64_is_a_preview_that_cannot_be_opened():
    (found,) = preview_facts(drawn(), images(xmp=(thumbnails_in_xmp("A"),)))
    assert found["problem"] == "the preview cannot be opened"


def drawn(mode="RGB"):
    """A poster of 900 x 600 with something at every edge."""
    picture = Image.new("RGB", (900, 600), "#e8dcc0")
    draw = ImageDraw.Draw(picture)
    draw.ellipse((60, 80, 420, 440), fill="#b8402a")
    draw.rectangle((480, 60, 560, 560), fill="#1d3a5f")
    draw.polygon([(620, 520), (860, 520), (740, 180)], fill="#3f7d4e")
    for line in range(6):
        draw.rectangle((80, 470 + line * 18, 300 + line * 15, 480 + line * 18), fill="#222222")
    draw.rectangle((800, 20, 880, 90), fill="#f0a020")
    return picture.convert(mode)


def encoded(picture, form="JPEG", **options):
    out = io.BytesIO()
    picture.save(out, form, **options)
    return out.getvalue()


def small(picture, size=160):
    copy = picture.copy()
    copy.thumbnail((size, size))
    return copy


def judged(picture, preview, form="JPEG", **options):
    (found,) = preview_facts(picture, [("Exif", encoded(preview, form, **options))])
    assert json.loads(json.dumps(found)) == found
    assert 0 <= found["difference"] <= 1
    assert found["problem"] is None
    return found["same"]


def test_the_facts_of_one_preview():
    assert preview_facts(drawn(), [("Exif", encoded(small(drawn())))]) == [
        {
            "place": "Exif",
            "width": 160,
            "height": 107,
            "difference": pytest.approx(0, abs=0.01),
            "same": True,
            "problem": None,
        }
    ]


@pytest.mark.parametrize("form", ["JPEG", "PNG", "PPM"])
@pytest.mark.parametrize("size", [48, 160, 400])
def test_the_same_view(form, size):
    assert judged(drawn(), small(drawn(), size), form)


@pytest.mark.parametrize("mode", ["1", "P", "L", "LA", "RGBA", "CMYK", "I;16", "I", "F", "YCbCr"])
def test_pictures_of_every_mode(mode):
    assert judged(drawn("L" if mode in {"I;16", "I"} else "RGB").convert(mode), small(drawn()))


def test_a_transparent_picture_against_its_preview_on_black():
    picture = drawn("RGBA")
    picture.paste((0, 0, 0, 0), (0, 0, 450, 60))
    flat = Image.new("RGB", picture.size)
    flat.paste(picture, mask=picture.getchannel("A"))
    assert judged(picture, small(flat))


@pytest.mark.parametrize("turn", list(Image.Transpose))
def test_an_orientation_that_only_one_of_the_two_follows(turn):
    assert judged(drawn(), small(drawn()).transpose(turn))


def test_black_bars_that_fill_a_fixed_shape():
    canvas = Image.new("RGB", (160, 120))
    canvas.paste(small(drawn()), (0, 6))
    assert judged(drawn(), canvas, quality=60)
    tall = Image.new("RGB", (160, 120))
    tall.paste(drawn().rotate(90, expand=True).resize((80, 120)), (40, 0))
    assert judged(drawn(), tall, quality=60)


def test_the_middle_of_the_picture_shows_nothing_more():
    assert judged(drawn(), small(drawn().crop((150, 0, 750, 600))))


@pytest.mark.parametrize(
    "box", [(0, 0, 800, 600), (90, 60, 900, 600), (0, 60, 900, 600), (45, 30, 855, 570)]
)
def test_a_picture_that_was_cropped_after_the_preview(box):
    assert not judged(drawn().crop(box), small(drawn()))


def test_another_picture():
    other = Image.new("RGB", (900, 600), "white")
    ImageDraw.Draw(other).ellipse((500, 200, 880, 580), fill="black")
    assert not judged(drawn(), small(other))


def test_a_part_that_was_painted_over():
    painted = drawn()
    ImageDraw.Draw(painted).rectangle((600, 150, 880, 560), fill="#e8dcc0")
    assert not judged(painted, small(drawn()))


@pytest.mark.parametrize(
    ("picture", "preview", "same"),
    [("white", "white", True), ("white", "#d8d8d8", True), ("white", "black", False)],
)
def test_pictures_of_one_color(picture, preview, same):
    found = judged(Image.new("RGB", (300, 200), picture), Image.new("RGB", (160, 107), preview))
    assert found is same


def test_a_picture_of_one_color_between_black_bars():
    canvas = Image.new("RGB", (160, 120))
    canvas.paste((210, 205, 190), (0, 6, 160, 113))
    assert judged(Image.new("RGB", (900, 600), (210, 205, 190)), canvas)


def test_a_drawn_preview_beside_a_picture_of_one_color():
    assert not judged(Image.new("RGB", (900, 600), "white"), small(drawn()))
    assert not judged(drawn(), Image.new("RGB", (160, 107), "white"))


@pytest.mark.parametrize("size", [(1, 1), (1, 3000), (3000, 1), (2, 2)])
def test_pictures_of_next_to_no_size(size):
    assert not judged(Image.new("RGB", size), small(drawn()))
    assert not judged(drawn(), Image.new("RGB", size))


def many_scans():
    data = encoded(drawn(), progressive=True)
    return data.replace(b"\xff\xd9", b"\xff\xda\0\x02" * 20 + b"\xff\xd9")


@pytest.mark.parametrize(
    ("data", "problem"),
    [
        (b"", "the preview cannot be opened"),
        (b"<html>", "the preview cannot be opened"),
        (encoded(drawn(), "GIF"), "the preview cannot be opened"),
        (encoded(drawn())[:900], "the preview cannot be opened"),
        (b"P6 9000 9000 255\n", "the preview is larger than is opened"),
        (many_scans(), "the preview is stored in more scans than are read"),
        (b"\xff\xd8" + b"\xff" * 2000 + encoded(drawn())[2:], "the preview cannot be opened"),
        (b"P6 #" + b"a" * 99 + b"\n2 1 255\nrgbRGB", "the preview cannot be opened"),
        (b"P3 2 1 255\n" + b"1 " * 6, "the preview cannot be opened"),
        (encoded(drawn()) + bytes(4 * 1024 * 1024), "the preview is larger than is opened"),
    ],
)
def test_previews_that_cannot_be_compared(data, problem):
    assert preview_facts(drawn(), [("XMP", data)]) == [
        {
            "place": "XMP",
            "width": 0,
            "height": 0,
            "difference": 1.0,
            "same": False,
            "problem": problem,
        }
    ]


def test_the_number_of_previews_is_limited():
    found = preview_facts(drawn(), [("XMP", b"x")] * 10)
    problems = [fact["problem"] for fact in found]
    assert (
        problems == ["the preview cannot be opened"] * 4 + ["more previews than are looked at"] * 6
    )


def test_the_number_of_previews_told_of_is_limited():
    assert len(preview_facts(drawn(), [("XMP", b"x")] * 1000)) == 16


def test_a_picture_that_cannot_be_reduced():
    (found,) = preview_facts(Image.new("La", (500, 500)), [("Exif", encoded(small(drawn())))])
    assert found["problem"] == "the picture cannot be compared with its preview"


def test_previews_of_later_directories():
    """A third directory and one that the first points at (tag 0x014A of TIFF 6.0's supplement)."""
    later = {0x0201: (4, "tail"), 0x0202: (4, len(PICTURE))}
    third = tiff([{}, {}, later], tail=PICTURE)
    below = tiff([{}], pointers={0x014A: later}, tail=PICTURE)
    for exif in (third, below):
        assert images(exif=exif) == [("Exif", PICTURE)]
        assert images(exif=exif, form="tiff") == [("Exif", PICTURE)]
    page = {0x0111: (4, "tail"), 0x0117: (4, 6)}
    pages = tiff([{}, {}, page], tail=b"rgbRGB")
    assert images(exif=pages) == [("Exif", b"rgbRGB")]
    assert images(exif=pages, form="tiff") == []


def test_a_preview_of_two_directories_is_listed_once():
    place = {0x0201: (4, "tail"), 0x0202: (4, len(PICTURE))}
    assert images(exif=tiff([{}, place, place], tail=PICTURE)) == [("Exif", PICTURE)]


@pytest.mark.parametrize("signature", [b"\xff\xd8\xff\xe0", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"])
def test_a_picture_in_base64_under_whatever_name(signature):
    """More than 200 signs, so that no number or name is taken for one (RFC 4648: 3 bytes in 4)."""
    for size, found in ((153, True), (150, False)):
        data = signature.ljust(size, b"x")
        packet = xmp(f"<dc:source>{base64.b64encode(data).decode()}</dc:source>")
        assert images(xmp=(packet,)) == ([("XMP", data)] if found else [])
    other = base64.b64encode(b"GIF89a".ljust(300, b"x")).decode()
    assert images(xmp=(xmp(f"<dc:source>{other}</dc:source>"),)) == []
