"""Samples that fuzzing starts from, made by the writers of the tests and by Pillow.

    python tests/hostile/fuzz_seeds.py FOLDER

writes them, a folder for each target of ``parser_targets.TARGETS``.
"""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

import jpegs
import metadata_files
import profiles
from header_files import (
    FTYP,
    GIF_CONTROL,
    GIF_FRAME,
    animated_png,
    anmf,
    application,
    avif,
    chunk,
    gif,
    ihdr,
    ispe,
    png,
    riff_chunk,
    saved,
    sub_blocks,
    vp8l,
    vp8x,
    webp,
)
from metadata_files import iim, languages, sequence, tiff, xmp
from PIL import Image

PORTFOLIOS = sorted((Path(__file__).parents[2] / "example_portfolio").glob("*.toml"))

EXIF = [
    tiff([{0x10F: (2, b"maker\0"), 0x112: (3, 6), 0x11A: (5, [72, 1]), 0x128: (3, 2)}]),
    tiff(
        [{0x13B: (2, b"somebody\0"), 0x8298: (2, b"2020\0")}, {0x201: (4, 200), 0x202: (4, 20)}],
        order=">",
        pointers={
            0x8769: {0x9003: (2, b"2020:01:02 03:04:05\0"), 0xA001: (3, 1), 0xA430: (2, b"o\0")},
            0x8825: {1: (2, b"N\0"), 2: (5, [1, 1, 2, 1, 3, 1]), 3: (2, b"E\0"), 4: (5, [1] * 6)},
        },
        tail=b"\xff\xd8\xff\xd9",
    ),
]
XMP = [
    xmp(
        f"<dc:creator>{sequence('A & B'.replace('&', '&amp;'))}</dc:creator>"
        f"<dc:rights>{languages(x_default='all', de='alle')}</dc:rights>"
        "<exif:GPSLatitude>1,2.3N</exif:GPSLatitude><xmp:Label>a</xmp:Label>"
    ),
    xmp("", attributes='photoshop:City="x" tiff:Orientation="6" exifEX:CameraOwnerName="y"'),
    xmp("<dc:title>x</dc:title>").decode().encode("utf-16-le"),
]
IPTC = [
    iim((2, 5, b"title"), (2, 80, b"somebody"), (2, 116, b"2020"), utf8=True),
    iim((2, 90, b"town"), (2, 0, b"\0\2"), (2, 25, b"k" * 40_000)),
    b"Photoshop 3.0\0" + b"8BIM\4\4\0\0\0\0\0\x0c" + iim((2, 5, b"title"), (2, 80, b"")),
]
MANIFESTS = [
    b'[[piece]]\nid = "a"\nfile = "a.jpg"\ntrim = "210 x 297 mm"\nalt = "Soft shapes"\n',
    (
        b'[spec.a]\nfrom = "screen"\nbox = [160, 120]\nfile-name = "{piece}-{n}"\nppi = 72\n'
        b'[[piece]]\nid = "b"\nfile = "b.jpg"\nspec = "a"\nwaive = { "edge-gap" = "meant" }\n'
    ),
]


def picture(mode: str = "RGB", size: tuple[int, int] = (24, 16)) -> Image.Image:
    return jpegs.noise(mode, size)


@cache
def seeds(target: str) -> list[bytes]:
    """Sound and odd samples of what the target reads, most below 4 kB."""
    small = picture()
    moving = {
        "save_all": True,
        "append_images": [picture("RGB", (24, 16)).rotate(90)],
        "duration": 90,
    }
    match target:
        case "jpeg":
            icc = b"ICC_PROFILE\0\1\1" + profiles.matrix_profile()
            extra = [
                jpegs.segment(0xE1, b"Exif\0\0" + EXIF[0]),
                jpegs.segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0" + XMP[0]),
                jpegs.segment(0xE2, icc),
                jpegs.segment(0xED, IPTC[2]),
                jpegs.segment(0xFE, b"a comment"),
            ]
            return [
                *(jpegs.saved(picture(mode), quality=80) for mode in ("L", "RGB", "CMYK")),
                jpegs.saved(small, quality=60, progressive=True),
                jpegs.saved(
                    small, quality=90, restart_marker_blocks=1, subsampling=0, dpi=(72, 72)
                ),
                jpegs.with_segments(jpegs.saved(small, quality=70), *extra),
                saved(small, "MPO", save_all=True, append_images=[small], quality=50),
                *(jpegs.assembled(marker) for marker in (0xC0, 0xC1, 0xC2, 0xC3, 0xC9, 0xCA)),
            ]
        case "png":
            kinds = ("1", "L", "LA", "P", "RGB", "RGBA", "I;16")
            text = b"XML:com.adobe.xmp\0\0\0\0\0" + XMP[0]
            return [
                *(saved(Image.new(mode, (9, 7), 1), "PNG", dpi=(72, 72)) for mode in kinds),
                saved(small, "PNG", icc_profile=profiles.matrix_profile(), exif=EXIF[0]),
                saved(small, "PNG", **moving),
                png(chunk(b"iTXt", text), chunk(b"tEXt", b"a\0b"), chunk(b"gAMA", b"\0\0\xb1\x8f")),
                png(
                    chunk(b"cICP", b"\x09\x10\0\1"),
                    chunk(b"sRGB", b"\0"),
                    chunk(b"cHRM", b"\1" * 32),
                ),
                png(head=ihdr(kind=3)),
                animated_png(3),
                animated_png(2, claimed=2**31 - 1),
            ]
        case "gif":
            return [
                saved(small.quantize(9), "GIF", comment=b"a comment"),
                saved(small, "GIF", loop=0, transparency=0, **moving),
                gif(GIF_CONTROL + GIF_FRAME, b"!\xfe" + sub_blocks(b"a" * 300), GIF_FRAME),
                gif(
                    application(b"XMP DataXMP", XMP[0] + bytes([1, *range(255, -1, -1), 0])),
                    GIF_FRAME,
                ),
                gif(application(b"ICCRGBG1012", sub_blocks(profiles.matrix_profile())), GIF_FRAME),
            ]
        case "webp":
            return [
                saved(small, "WEBP", quality=50, exif=EXIF[0], xmp=XMP[0]),
                saved(small.convert("RGBA"), "WEBP", lossless=True),
                saved(small, "WEBP", **moving),
                webp(vp8x(2), riff_chunk(b"ANIM", bytes(6)), anmf(), anmf(left=1)),
                webp(vp8x(32), riff_chunk(b"ICCP", profiles.matrix_profile()), vp8l()),
                webp(riff_chunk(b"JUNK", b"a")),
            ]
        case "avif":
            return [
                saved(small, "AVIF", quality=40, speed=9, exif=EXIF[0], xmp=XMP[0]),
                saved(small.convert("RGBA"), "AVIF", quality=40, speed=9),
                saved(small, "AVIF", speed=9, **moving),
                avif(),
                avif(properties=(ispe(60_000, 60_000),)),
                FTYP + bytes(40),
            ]
        case "tiff":
            packings = ("raw", "tiff_lzw", "tiff_adobe_deflate", "packbits", "jpeg")
            modes = ("1", "L", "P", "RGBA", "CMYK", "F", "I;16")
            return [
                *(
                    saved(small, "TIFF", compression=packing, dpi=(300, 300))
                    for packing in packings
                ),
                *(saved(Image.new(mode, (9, 7)), "TIFF") for mode in modes),
                saved(small, "TIFF", save_all=True, append_images=[small]),
                saved(small, "TIFF", big_tiff=True, icc_profile=profiles.matrix_profile()),
                *EXIF,
            ]
        case "icc":
            return [
                profiles.matrix_profile(),
                profiles.matrix_profile(version=(4, 4), name="another"),
                profiles.matrix_profile(curve=profiles.gamma(2.2)),
                profiles.matrix_profile(curve=profiles.sampled(33, profiles.srgb_light)),
                profiles.gray_profile(profiles.gamma(1.8)),
                profiles.table_profile(),
                *(
                    profiles.matrix_profile(curve=profiles.para(kind, *[0.9] * count))
                    for kind, count in ((0, 1), (1, 3), (2, 4), (4, 7))
                ),
                profiles.assemble(
                    profiles.matrix_tags()
                    | {"desc": profiles.localized(("en", "a name"), ("de", "ein Name"))},
                    version=(4, 3),
                ),
            ]
        case "exif":
            return [*EXIF, *(b"Exif\0\0" + one for one in EXIF)]
        case "xmp":
            return [
                *XMP,
                metadata_files.RDF + b"</r:Description></r:RDF>",
                b"<a>" * 60 + b"</a>" * 60,
            ]
        case "iptc":
            return IPTC
        case "manifest" | "lines":
            return [*MANIFESTS, *(path.read_bytes()[:6000] for path in PORTFOLIOS)]
    raise ValueError(target)


if __name__ == "__main__":
    from parser_targets import TARGETS

    for target in TARGETS:
        folder = Path(sys.argv[1], target)
        folder.mkdir(parents=True, exist_ok=True)
        for number, data in enumerate(seeds(target)):
            (folder / f"{number:03}").write_bytes(data)
