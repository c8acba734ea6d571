"""Our Exif reader against two libraries that others maintain: piexif and exifread.

Files are written by piexif, by Pillow (JPEG, PNG, WebP, TIFF) and byte by byte in both byte orders;
what exifread 3.5 and piexif 1.1 read from them is the truth. Pictures of a registry package
(scikit-image) join in where it is installed. Tag numbers: CIPA DC-008 (Exif 2.32 and 3.0).
"""

import io
import random
from pathlib import Path

import exifread
import piexif
import pytest
from metadata_files import tiff
from PIL import Image

from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS
from pytest_webdeliverable.measure.metadata.directories import Rational
from pytest_webdeliverable.measure.metadata.exif import read_exif

ASCII, SHORT, LONG, RATIONAL, UNDEFINED, SIGNED_RATIONAL = 2, 3, 4, 5, 7, 10

# Tags that each seeded file draws from: directory, tag, type. All in CIPA DC-008.
TAGS = [
    ("0th", 0x010E, ASCII),
    ("0th", 0x010F, ASCII),
    ("0th", 0x0110, ASCII),
    ("0th", 0x0112, SHORT),
    ("0th", 0x011A, RATIONAL),
    ("0th", 0x011B, RATIONAL),
    ("0th", 0x0128, SHORT),
    ("0th", 0x0131, ASCII),
    ("0th", 0x0132, ASCII),
    ("0th", 0x013B, ASCII),
    ("0th", 0x013C, ASCII),
    ("0th", 0x8298, ASCII),
    ("Exif", 0x829A, RATIONAL),
    ("Exif", 0x829D, RATIONAL),
    ("Exif", 0x8827, SHORT),
    ("Exif", 0x9003, ASCII),
    ("Exif", 0x9204, SIGNED_RATIONAL),
    ("Exif", 0xA002, LONG),
    ("Exif", 0xA003, LONG),
    ("Exif", 0xA420, ASCII),
    ("Exif", 0xA430, ASCII),
    ("Exif", 0xA431, ASCII),
    ("Exif", 0xA434, ASCII),
    ("Exif", 0xA435, ASCII),
    ("GPS", 1, ASCII),
    ("GPS", 2, RATIONAL),
    ("GPS", 3, ASCII),
    ("GPS", 4, RATIONAL),
    ("GPS", 6, RATIONAL),
    ("GPS", 29, ASCII),
]
TRIPLES = {("GPS", 2), ("GPS", 4)}
EXIFREAD_NAMES = {"0th": "Image", "Exif": "EXIF", "GPS": "GPS"}


def drawn_value(rng, place, tag, kind):
    if kind == ASCII:
        return (
            "".join(rng.choices("abcdefghij klmnop0123456789", k=rng.randint(1, 40))).strip() or "x"
        )
    if tag == 0x0112:
        return rng.randint(1, 8)
    if tag == 0x0128:
        return rng.randint(1, 3)
    if kind == SHORT:
        return rng.randrange(1, 65536)
    if kind == LONG:
        return rng.randrange(1, 2**32)
    low = -1000 if kind == SIGNED_RATIONAL else 1
    pairs = [(rng.randint(low, 10**6), rng.randint(1, 10**4)) for _ in range(3)]
    return tuple(pairs) if (place, tag) in TRIPLES else pairs[0]


def drawn_tags(seed):
    rng = random.Random(seed)
    chosen = rng.sample(TAGS, rng.randint(3, len(TAGS)))
    return {(place, tag): (kind, drawn_value(rng, place, tag, kind)) for place, tag, kind in chosen}


def thumbnail(seed):
    out = io.BytesIO()
    Image.new("RGB", (16 + seed, 12), (seed * 5 % 256, 90, 160)).save(out, "JPEG")
    return out.getvalue()


def written_by_piexif(seed):
    directories = {"0th": {}, "Exif": {}, "GPS": {}, "1st": {}, "thumbnail": None}
    for (place, tag), (kind, value) in drawn_tags(seed).items():
        directories[place][tag] = value.encode() if kind == ASCII else value
    if seed % 3 == 0:
        directories["thumbnail"] = thumbnail(seed)
    return piexif.dump(directories)[6:]


def written_by_pillow(seed, order=None):
    exif = Image.Exif()
    if order:
        exif.endian = order
    for (place, tag), (kind, value) in drawn_tags(seed).items():
        directory = exif if place == "0th" else exif.get_ifd({"Exif": 0x8769, "GPS": 0x8825}[place])
        directory[tag] = (
            tuple(n / d for n, d in value)
            if (place, tag) in TRIPLES
            else value[0] / value[1]
            if kind in (RATIONAL, SIGNED_RATIONAL)
            else value
        )
    return exif.tobytes()[6:]


def written_here(seed, order):
    parts = {"0th": {}, "Exif": {}, "GPS": {}}
    for (place, tag), (kind, value) in drawn_tags(seed).items():
        flat = value
        if kind == ASCII:
            flat = value.encode() + b"\0"
        elif kind in (RATIONAL, SIGNED_RATIONAL):
            pairs = value if (place, tag) in TRIPLES else [value]
            flat = [number for pair in pairs for number in pair]
        parts[place][tag] = (kind, flat)
    pointers = {0x8769: parts["Exif"], 0x8825: parts["GPS"]}
    return tiff([parts["0th"]], order=order, pointers=pointers)


FILES = {
    **{f"piexif-{seed}": (written_by_piexif, (seed,)) for seed in range(16)},
    **{f"pillow-{seed}": (written_by_pillow, (seed,)) for seed in range(100, 112)},
    **{f"pillow-big-endian-{seed}": (written_by_pillow, (seed, ">")) for seed in range(112, 118)},
    **{f"bytes-ii-{seed}": (written_here, (seed, "<")) for seed in range(200, 208)},
    **{f"bytes-mm-{seed}": (written_here, (seed, ">")) for seed in range(208, 216)},
}


def plain(value):
    """A value of any of the three readers in one common form: a list."""
    if isinstance(value, bytes):
        value = value.decode("latin-1")
    if isinstance(value, str):
        return [value.rstrip("\0").strip()]
    if isinstance(value, Rational):
        return [ratio(value.num, value.den)]
    if isinstance(value, tuple | list):
        if len(value) == 2 and type(value) is tuple and not isinstance(value[0], tuple):
            return [ratio(*value)]  # how piexif gives a rational
        return [part for item in value for part in plain(item)]
    if hasattr(value, "num"):  # how exifread gives a rational
        return [ratio(value.num, value.den)]
    return [value]


def ratio(num, den):
    return pytest.approx(num / den, rel=1e-6) if den else ("no number", num, den)


def ours(data):
    exif = read_exif(data, DEFAULT_LIMITS)
    assert exif.problems == ()
    return {"0th": exif.ifd0, "Exif": exif.exif, "GPS": exif.gps or {}}, exif


@pytest.mark.parametrize("name", FILES)
def test_values_agree_with_exifread(name):
    make, arguments = FILES[name]
    data = make(*arguments)
    mine, _ = ours(data)
    theirs = exifread.process_file(io.BytesIO(data), details=False, strict=True)
    compared = 0
    for key, found in theirs.items():
        group, _, _ = key.partition(" ")
        place = {name: place for place, name in EXIFREAD_NAMES.items()}.get(group)
        if place is None or found.tag in (0x8769, 0x8825) or found.field_type == UNDEFINED:
            continue
        assert plain(mine[place][found.tag]) == plain(found.values), key
        compared += 1
    drawn = drawn_tags(arguments[0])
    assert compared == len(drawn)
    assert all(tag in mine[place] for place, tag in drawn)


@pytest.mark.parametrize("name", FILES)
def test_values_agree_with_piexif(name):
    make, arguments = FILES[name]
    data = make(*arguments)
    mine, exif = ours(data)
    theirs = piexif.load(b"Exif\0\0" + data)
    for place, directory in mine.items():
        pointers = {0x8769, 0x8825}
        assert directory.keys() - pointers == theirs[place].keys() - pointers
        for tag in directory.keys() - pointers:
            assert plain(directory[tag]) == plain(theirs[place][tag]), (place, hex(tag))
    assert exif.thumbnail == theirs["thumbnail"]


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "TIFF"])
def test_values_agree_with_pillow_in_whole_files(form):
    out = io.BytesIO()
    data = written_by_piexif(3)
    Image.new("RGB", (20, 10), "teal").save(out, form, exif=b"Exif\0\0" + data)
    with Image.open(out) as image:
        theirs = image.getexif()
        inside = out.getvalue() if form == "TIFF" else image.info["exif"].removeprefix(b"Exif\0\0")
    mine = read_exif(inside, DEFAULT_LIMITS)
    assert mine.problems == ()
    assert mine.orientation == theirs.get(0x0112)
    assert mine.exif.keys() == theirs.get_ifd(0x8769).keys()
    assert (mine.gps or {}).keys() == theirs.get_ifd(0x8825).keys()


# DC-008 and TIFF 6.0: 118.11 px/cm are 300 px/inch. The files are written by Pillow's TIFF writer.
@pytest.mark.parametrize(
    ("stored", "unit", "expected"),
    [(300, 2, 300.0), (72, 2, 72.0), (118.11, 3, 300.0), (28.3465, 3, 72.0), (300, 1, None)],
)
def test_density_of_files_written_by_pillow(stored, unit, expected):
    out = io.BytesIO()
    Image.new("L", (4, 4)).save(
        out, "TIFF", x_resolution=stored, y_resolution=stored, resolution_unit=unit
    )
    density = read_exif(out.getvalue(), DEFAULT_LIMITS).density
    assert density is not None
    assert density.x == pytest.approx(expected, abs=0.01)
    assert density.y == pytest.approx(expected, abs=0.01)


def package_pictures():
    skimage = pytest.importorskip("skimage", reason="scikit-image is not installed")
    folder = Path(skimage.__file__).parent / "data"
    # multipage_rgb.tif is written in a form that Pillow does not open.
    return [
        path
        for path in sorted(folder.iterdir())
        if path.suffix in {".tif", ".jpg", ".png"} and path.name != "multipage_rgb.tif"
    ]


def test_pictures_of_a_registry_package_agree_with_pillow():
    compared = 0
    for path in package_pictures():
        with Image.open(path) as image:
            exif = image.info.get("exif")
            theirs = image.getexif()
            if image.format == "TIFF":
                exif = path.read_bytes()
            if not exif:
                continue
            mine = read_exif(exif.removeprefix(b"Exif\0\0"), DEFAULT_LIMITS)
            assert mine.orientation == theirs.get(0x0112), path.name
            for tag, value in mine.ifd0.items():
                if isinstance(value, int | str) and not isinstance(theirs[tag], tuple):
                    assert plain(value) == plain(theirs[tag]), (path.name, hex(tag))
                    compared += 1
    assert compared > 0
