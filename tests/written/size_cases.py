"""Files and sizes: near misses of the families "file" and "size"."""

from __future__ import annotations

from written import writers as w
from written.case import Case, fails, passes

BARE = 'from = "bare"'
PRINT = """from = "master"
print = { ppi = 300, bleed = "3 mm" }
weight = "2 MB"
levels = { pixel-size = "off" }
"""
# 20 x 15 mm and twice 3 mm bleed: 26 and 21 mm at 300 pixels per 25.4 mm are 307.09 and 248.03.
TRIM = 'trim = "20 x 15 mm"'

FILE: tuple[Case, ...] = (
    passes("file-readable-cjpeg-restarts", lambda: w.cjpeg(w.art(1), "-restart", "1")),
    fails(
        "file-readable-cjpeg-last-byte", lambda: w.cjpeg(w.art(2))[:-1], "end",
    ),
    passes("file-readable-vips-png", lambda: w.vips(w.art(3), ".png"), suffix=".png"),
    fails(
        "file-readable-vips-png-cut", lambda: w.vips(w.art(4), ".png")[:-1], "", suffix=".png",
    ),
    passes("file-readable-tifffile-tiles", lambda: w.tiff(w.art(5), tile=(64, 64)), suffix=".tif"),
    fails(
        "file-readable-tifffile-cut", lambda: w.tiff(w.art(6))[:-9000], "", suffix=".tif",
    ),
    passes("file-readable-cwebp", lambda: w.webp(w.art(7)), BARE, suffix=".webp"),
    fails("file-readable-cwebp-cut", lambda: w.webp(w.art(8))[:-40], "", BARE, suffix=".webp"),
    passes("file-readable-avifenc", lambda: w.avif(w.art(9)), BARE, suffix=".avif"),
    fails("file-readable-avifenc-cut", lambda: w.avif(w.art(10))[:-40], "", BARE, suffix=".avif"),
    passes("file-format-jpeg-suffix", lambda: w.vips(w.art(11), ".jpg", Q=95, subsample_mode="off"), suffix=".jpeg"),
    passes(
        "file-format-capitals", lambda: w.cjpeg(w.art(12)), 'levels = { file-name = "off" }', suffix=".JPG"
    ),
    fails("file-format-webp-as-jpg", lambda: w.webp(w.art(13)), "the content is WebP", BARE),
    fails(
        "file-format-png-not-asked", lambda: w.pypng(w.art(14)), "the spec asks for JPEG",
        'formats = "jpeg"', suffix=".png",
    ),
    passes(
        "file-format-bigtiff", lambda: w.tiff(w.art(15), bigtiff=True), 'formats = "tiff"', suffix=".tif"
    ),
    passes("file-name-template", lambda: w.cjpeg(w.art(16)), 'file-name = "{piece}-{number}"'),
    fails(
        "file-name-capital", lambda: w.cjpeg(w.art(17)), "does not follow the template",
        file="Poster.jpg",
    ),
    fails(
        "file-name-space", lambda: w.cjpeg(w.art(18)), "", 'file-name = "{a}"', file="poster final.jpg"
    ),
    fails("file-name-reserved", lambda: w.cjpeg(w.art(19)), "", file="con.jpg"),
)  # fmt: skip

SIZE: tuple[Case, ...] = (
    passes("pixel-size-overshoot", lambda: w.cjpeg(w.art(30, 321, 241))),
    fails("pixel-size-past-overshoot", lambda: w.cjpeg(w.art(31, 322, 240)), "too wide for the 320 x 240"),
    fails("pixel-size-neither-side", lambda: w.vips(w.art(32, 319, 239), ".png"), "too small", suffix=".png"),
    # 11 x 17 in into 320 x 240: 240 / 17 = 14.1 px an inch, 155.3 px wide.
    passes("pixel-size-trim", lambda: w.vips(w.art(33, 155, 240), ".jpg", Q=95), piece='trim = "11 x 17 in"'),
    passes("pixel-size-trim-up", lambda: w.vips(w.art(34, 157, 241), ".jpg", Q=95), piece='trim = "11 x 17 in"'),
    fails(
        "pixel-size-trim-wide", lambda: w.vips(w.art(35, 158, 240), ".jpg", Q=95), "11 x 17 in",
        piece='trim = "11 x 17 in"',
    ),
    fails(
        "pixel-size-tall", lambda: w.cjpeg(w.art(36, 240, 320)), "not turned for tall work",
    ),
    passes("pixel-size-exact", lambda: w.avif(w.art(37)), f'{BARE}\nfill = "exact"', suffix=".avif"),
    fails(
        "pixel-size-exact-off", lambda: w.webp(w.art(38, 321, 240)), "exactly",
        f'{BARE}\nfill = "exact"', suffix=".webp",
    ),
    passes("density-jfif", lambda: w.cjpeg(w.art(40))),
    fails("density-jfif-no-unit", lambda: w.cjpeg(w.art(41), ppi=None), "no density is written"),
    fails("density-jfif-74", lambda: w.cjpeg(w.art(42), ppi=74), "74 ppi in JFIF"),
    passes("density-phys-2835", lambda: w.pypng(w.art(43)), suffix=".png"),
    fails("density-phys-none", lambda: w.pypng(w.art(44), ppi=None), "no density", suffix=".png"),
    fails(
        "density-phys-axes", lambda: w.pypng(w.art(45), y_pixels_per_unit=3780), "two axes differ",
        suffix=".png",
    ),
    passes("density-vips-png", lambda: w.vips(w.art(46), ".png"), suffix=".png"),
    fails("density-vips-jpeg-96", lambda: w.vips(w.art(47), ".jpg", Q=95, ppi=96), "96"),
    passes(
        "density-tiff-centimeter",
        lambda: w.tiff(w.art(48), resolution=(28, 28), resolutionunit="CENTIMETER"), suffix=".tif",
    ),
    fails(
        "density-tiff-no-unit", lambda: w.tiff(w.art(49), resolution=(72, 72), resolutionunit="NONE"),
        "", suffix=".tif",
    ),
    passes(
        "density-exif-agrees",
        lambda: w.piexif(w.cjpeg(w.art(50)), {"0th": {282: (72, 1), 283: (72, 1), 296: 2}}),
    ),
    fails(
        "density-exif-disagrees",
        lambda: w.exiv2(w.cjpeg(w.art(51)), ".jpg", "set Exif.Image.XResolution 300/1", "set Exif.Image.YResolution 300/1", "set Exif.Image.ResolutionUnit 2"),
        "two places in the file disagree",
    ),
    passes("density-least-11811", lambda: w.pypng(w.art(52), ppi=300), "ppi = { min = 300 }", suffix=".png"),
    fails(
        "density-least-298", lambda: w.tiff(w.art(53), ppi=298), "298 ppi in TIFF", "ppi = { min = 300 }",
        suffix=".tif",
    ),
    passes(
        "print-size-bleed", lambda: w.vips_cmyk(w.art(54, 307, 248), ".tif", ppi=300), PRINT, piece=TRIM,
        suffix=".tif",
    ),
    fails(
        "print-size-narrow", lambda: w.vips_cmyk(w.art(55, 306, 248), ".tif", ppi=300),
        "306 x 248 px; the print needs at least 307 x 248 px", PRINT, piece=TRIM, suffix=".tif",
    ),
    fails(
        "print-size-low", lambda: w.tiff(w.art(56, 307, 247), ppi=300), "307 x 247 px", PRINT, piece=TRIM,
        suffix=".tif",
    ),
    fails(
        "print-size-no-trim", lambda: w.tiff(w.art(57, 400, 300), ppi=300), "no finished size", PRINT,
        suffix=".tif",
    ),
)  # fmt: skip
