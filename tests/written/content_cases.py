"""Edges, history, metadata, motion and text: near misses of these families."""

from __future__ import annotations

from functools import cache

import numpy as np

from written import writers as w
from written.case import Case, fails, passes

BARE = 'from = "bare"'
MOVING = f"{BARE}\nanimation = {{ frames = 10, flashes = 3 }}"
MOVING_COLORS = MOVING + '\nlevels = { density = "off", color-profile = "off" }'
CREDIT = 'credit = ["creator", "copyright"]'
PAST = 'from = "past"'
ALT = "Waves of many lengths in soft colors"


def page(seed: int, **strips: int) -> np.ndarray:
    """Art with strips of white page along sides, in px."""
    pixels = w.art(seed)
    for side, depth in strips.items():
        part = {
            "left": np.s_[:, :depth], "right": np.s_[:, -depth:], "top": np.s_[:depth], "bottom": np.s_[-depth:],
        }[side]  # fmt: skip
        pixels[part] = 255
    return pixels


def outlined(seed: int) -> np.ndarray:
    """A thin black frame 3 px inside the edge."""
    pixels = w.art(seed)
    pixels[3, 3:-3] = pixels[-4, 3:-3] = pixels[3:-3, 3] = pixels[3:-3, -4] = 0
    return pixels


def white_ground(seed: int) -> np.ndarray:
    """A drawing on white paper: the ground itself runs off the sheet, nothing is a sliver."""
    pixels = np.full((240, 320, 3), 255, np.uint8)
    down, across = np.mgrid[0:240, 0:320]
    inside = (across - 160) ** 2 + (down - 120) ** 2 < 80**2
    pixels[inside] = w.art(seed)[inside]
    return pixels


def flat(grain: int = 0) -> np.ndarray:
    """One color, or with a small figure in it."""
    pixels = np.full((240, 320, 3), (200, 120, 40), np.uint8)
    pixels[100 : 100 + grain, 150 : 150 + grain] = (40, 60, 120)
    return pixels


@cache
def photograph(name: str) -> np.ndarray:
    """A photograph that scikit-image carries as PNG, never compressed at its size."""
    return np.ascontiguousarray(getattr(w.module("skimage.data"), name)())


@cache
def coarse(name: str) -> np.ndarray:
    """The same, compressed at quality 60 and opened again."""
    return w.djpeg(w.cjpeg(photograph(name), quality="60"))


def resized(name: str, scale: float) -> np.ndarray:
    """The middle of a photograph, made larger or smaller by libvips."""
    pixels = photograph(name)
    side = round(400 / scale)
    down, across = (pixels.shape[0] - side) // 2, (pixels.shape[1] - side) // 2
    middle = w.vips_image(pixels[down : down + side, across : across + side])
    return np.asarray(middle.resize(scale, kernel="cubic").numpy())


EDGES: tuple[Case, ...] = (
    passes("edge-gap-none", lambda: w.vips(w.art(200), ".png"), suffix=".png"),
    fails("edge-gap-left-jpeg", lambda: w.cjpeg(page(201, left=1)), "left edge: 1 px of #f"),
    fails("edge-gap-right-webp", lambda: w.webp(page(202, right=2), "-lossless"), "right edge: 2 px of #ffffff", BARE, suffix=".webp"),
    fails("edge-gap-top-avif", lambda: w.avif(page(203, top=2), "--lossless"), "top edge: 2 px of", BARE, suffix=".avif"),
    fails("edge-gap-bottom-tiff", lambda: w.tiff(page(204, bottom=3)), "bottom edge: 3 px of #ffffff", suffix=".tif"),
    passes("edge-gap-white-ground", lambda: w.vips(white_ground(205), ".png"), "edges = { margin = false }", suffix=".png"),
    fails("edge-outline-frame", lambda: w.vips(outlined(210), ".png"), "a line of #000000", suffix=".png"),
    passes("edge-outline-keyline", lambda: w.vips(outlined(211), ".png"), suffix=".png", piece="keyline = true"),
    fails("edge-margin-bands", lambda: w.tiff(page(212, top=40, bottom=40)), "top 40 px of #ffffff", "edges = { gap = false }", suffix=".tif"),
    passes("edge-margin-none", lambda: w.webp(w.art(213)), BARE, suffix=".webp"),
    fails("blank-picture-flat", lambda: w.cjpeg(flat()), "the whole picture is one flat color, about #c97"),
    passes("blank-picture-small-figure", lambda: w.cjpeg(flat(14)), "edges = { margin = false }"),
)  # fmt: skip

HISTORY: tuple[Case, ...] = (
    passes("resaved-once", lambda: w.cjpeg(photograph("astronaut")), PAST),
    fails("resaved-60-then-95", lambda: w.cjpeg(coarse("coffee")[:, :512]), "earlier compression", PAST),
    passes("cropped-after-compression-once", lambda: w.cjpeg(photograph("coffee")[3:387, 5:501]), PAST),
    fails("cropped-after-compression-3-5", lambda: w.cjpeg(coarse("astronaut")[3:507, 5:509]), "cropped after it", PAST),
    fails("cropped-after-compression-png", lambda: w.vips(coarse("chelsea")[3:299, 5:445], ".png"), "cropped after it", PAST, suffix=".png"),
    passes("enlarged-made-smaller", lambda: w.vips(resized("astronaut", 0.8), ".png"), PAST, suffix=".png"),
    fails("enlarged-by-half", lambda: w.vips(resized("chelsea", 1.5), ".png"), "being enlarged", PAST, suffix=".png"),
    fails("enlarged-twice-jpeg", lambda: w.cjpeg(resized("coffee", 2.0)), "being enlarged", PAST),
)  # fmt: skip

PLACE = "set Exif.GPSInfo.GPSLatitude 51/1 30/1 0/1"


DENSITY = {282: (72, 1), 283: (72, 1), 296: 2}
"""Exif density: piexif takes the JFIF segment out."""


def thumbnail(pixels: np.ndarray) -> bytes:
    """A small JPEG of the picture by libvips."""
    small = w.vips_image(pixels).thumbnail_image(160)
    return bytes(small.write_to_buffer(".jpg", Q=80))


def previewed(seed: int, shown: int) -> bytes:
    """A picture whose Exif preview shows art of a seed."""
    tags = {"0th": DENSITY, "1st": {259: 6}, "thumbnail": thumbnail(w.art(shown))}
    return w.piexif(w.cjpeg(w.art(seed)), tags)


METADATA: tuple[Case, ...] = (
    passes("metadata-location-none", lambda: w.exiv2(w.cjpeg(w.art(230)), ".jpg", "set Exif.Image.Software A program", "set Xmp.dc.title A title")),
    fails("metadata-location-exif-jpeg", lambda: w.exiv2(w.cjpeg(w.art(231)), ".jpg", PLACE), "place data inside"),
    fails("metadata-location-exif-png", lambda: w.exiv2(w.pypng(w.art(232)), ".png", PLACE), "Exif", suffix=".png"),
    fails("metadata-location-exif-webp", lambda: w.exiv2(w.webp(w.art(233)), ".webp", PLACE), "Exif", BARE, suffix=".webp"),
    fails("metadata-location-exif-tiff", lambda: w.exiv2(w.tiff(w.art(234)), ".tif", PLACE), "Exif", suffix=".tif"),
    fails("metadata-location-xmp", lambda: w.exiv2(w.cjpeg(w.art(235)), ".jpg", "set Xmp.exif.GPSLatitude 51,30.0N"), "XMP"),
    fails("metadata-location-xmp-png", lambda: w.exiv2(w.pypng(w.art(236)), ".png", "set Xmp.photoshop.City A town"), "XMP", suffix=".png"),
    fails("metadata-location-iptc", lambda: w.exiv2(w.cjpeg(w.art(237)), ".jpg", "set Iptc.Application2.City A town"), "IPTC"),
    passes("metadata-location-iptc-caption", lambda: w.exiv2(w.cjpeg(w.art(238)), ".jpg", "set Iptc.Application2.Caption A town")),
    fails("metadata-location-piexif-version-only", lambda: w.piexif(w.cjpeg(w.art(239)), {"0th": DENSITY, "GPS": {0: (2, 3, 0, 0)}}), "place data"),
    passes("metadata-device-make-only", lambda: w.exiv2(w.cjpeg(w.art(240)), ".jpg", "set Exif.Image.Make A maker", "set Exif.Image.Model A model")),
    fails("metadata-device-serial", lambda: w.exiv2(w.cjpeg(w.art(241)), ".jpg", "set Exif.Photo.BodySerialNumber 1234567"), "device data inside"),
    fails("metadata-device-owner-piexif", lambda: w.piexif(w.cjpeg(w.art(242)), {"0th": DENSITY, "Exif": {0xA430: b"Mara"}}), "owner"),
    fails("metadata-device-xmp-lens", lambda: w.exiv2(w.pypng(w.art(243)), ".png", "reg aux http://ns.adobe.com/exif/1.0/aux/", "set Xmp.aux.SerialNumber 1234567"), "XMP", suffix=".png"),
    passes("metadata-preview-same", lambda: previewed(244, 244)),
    fails("metadata-preview-other", lambda: previewed(245, 3000), "differs from the picture"),
    passes("metadata-credit-agrees", lambda: w.exiv2(w.cjpeg(w.art(246)), ".jpg", "set Exif.Image.Artist Mara Quill", "set Exif.Image.Copyright (c) Mara Quill", "set Xmp.dc.creator Mara Quill", "set Iptc.Application2.Copyright (c) Mara Quill"), CREDIT),
    fails("metadata-credit-disagrees", lambda: w.exiv2(w.cjpeg(w.art(247)), ".jpg", "set Exif.Image.Artist Mara Quill", "set Exif.Image.Copyright (c) Mara Quill", "set Xmp.dc.creator Ivo Osier"), "differs from place to place", CREDIT),
    fails("metadata-credit-half", lambda: w.exiv2(w.pypng(w.art(248)), ".png", "set Xmp.dc.creator Mara Quill"), "no copyright", CREDIT, suffix=".png"),
    passes("metadata-credit-iptc-only", lambda: w.exiv2(w.cjpeg(w.art(249)), ".jpg", "set Iptc.Application2.Byline Mara Quill", "set Iptc.Application2.Copyright (c) Mara Quill"), CREDIT),
    passes("orientation-flag-1", lambda: w.exiv2(w.cjpeg(w.art(250)), ".jpg", "set Exif.Image.Orientation 1")),
    fails("orientation-flag-6", lambda: w.exiv2(w.cjpeg(w.art(251, 240, 320)), ".jpg", "set Exif.Image.Orientation 6"), "orientation flag of 6"),
    fails("orientation-flag-3-tiff", lambda: w.exiv2(w.tiff(w.art(252)), ".tif", "set Exif.Image.Orientation 3"), "flag of 3", suffix=".tif"),
    fails("orientation-flag-avif-irot", lambda: w.avif(w.art(253, 240, 320), "--irot", "1"), "flag of 8", BARE, suffix=".avif"),
    passes("orientation-flag-none", lambda: w.vips(w.art(254), ".jpg", Q=95, subsample_mode="off", keep="icc"), BARE),
)  # fmt: skip


def still(count: int, seed: int) -> list[np.ndarray]:
    """Frames that do not flash: art that grows a little lighter."""
    base = w.art(seed) // 2
    return [(base + step * 3).astype(np.uint8) for step in range(count)]


def blinking(count: int, seed: int) -> list[np.ndarray]:
    """Dark and light frames in turn, far above the tenth of relative luminance that WCAG counts."""
    base = w.art(seed) // 4
    return [(base + (180 if step % 2 else 0)).astype(np.uint8) for step in range(count)]


def red(count: int, seed: int) -> list[np.ndarray]:
    """Saturated red and black in turn, too dim a change for a general flash."""
    grain = np.random.default_rng(seed).integers(0, 6, (240, 320, 3), np.uint8)
    frames = []
    for step in range(count):
        frame = grain.copy()
        frame[..., 0] += 150 if step % 2 else 0
        frames.append(frame)
    return frames


MOTION: tuple[Case, ...] = (
    passes("single-frame-gif", lambda: w.gif_frames(still(1, 260), 100), 'from = "bare"\nlevels = { density = "off", color-profile = "off", enlarged = "off" }', suffix=".gif"),
    fails("single-frame-gif-two", lambda: w.gif_frames(still(2, 261), 100), "2 pictures, the spec asks for one", 'from = "bare"\nlevels = { density = "off", color-profile = "off" }', suffix=".gif"),
    fails("single-frame-webp-two", lambda: w.webp_frames(still(2, 262), 100), "2 pictures", 'from = "bare"\nlevels = { density = "off", color-profile = "off" }', suffix=".webp"),
    fails("single-frame-avif-three", lambda: w.avif_frames(still(3, 263)), "3 pictures", 'from = "bare"\nlevels = { density = "off", color-profile = "off" }', suffix=".avif"),
    fails("single-frame-tiff-pages", lambda: w.tiff(np.stack(still(2, 264)), photometric="rgb"), "2 pictures", suffix=".tif"),
    passes("single-frame-10-asked", lambda: w.gif_frames(still(10, 265), 100), MOVING_COLORS, suffix=".gif"),
    fails("single-frame-11-asked-10", lambda: w.gif_frames(still(11, 266), 100), "11 frames, the spec asks for at most 10", MOVING_COLORS, suffix=".gif"),
    # Six frames of 167 ms: three pairs of opposing changes in a second, seen through the loop's seam.
    passes("flash-three-a-second-webp", lambda: w.webp_frames(blinking(6, 267), 167), MOVING_COLORS, suffix=".webp"),
    fails("flash-five-a-second-webp", lambda: w.webp_frames(blinking(10, 268), 100), "5 general flashes in one second", MOVING_COLORS, suffix=".webp"),
    fails("flash-gif-ten-ms", lambda: w.gif_frames(blinking(10, 269), 10), "general flashes", MOVING_COLORS, suffix=".gif"),
    passes("flash-slow-gif", lambda: w.gif_frames(blinking(4, 270), 500), MOVING_COLORS, suffix=".gif"),
    fails("flash-red-webp", lambda: w.webp_frames(red(10, 271), 100), "red flashes", MOVING_COLORS + "\nblank = true", suffix=".webp"),
)  # fmt: skip

TEXT: tuple[Case, ...] = (
    passes("alt-text-250", lambda: w.cjpeg(w.art(280)), piece=f'alt = "{(ALT + " ") * 7}"'[:255].rstrip() + '"'),
    Case(id="alt-text-too-long", make=lambda: w.cjpeg(w.art(281)), outcome="advised", says="at most 250 are advised", piece=f'alt = "{"Long waves " * 26}"'),
    fails("alt-text-empty", lambda: w.cjpeg(w.art(282)), "has no description", piece='alt = ""'),
    passes("alt-text-decorative", lambda: w.cjpeg(w.art(283)), piece='alt = ""\ndecorative = true'),
    fails("alt-text-decorative-and-words", lambda: w.cjpeg(w.art(284)), "decorative", piece=f'alt = "{ALT}"\ndecorative = true'),
    fails("alt-text-bare", lambda: w.cjpeg(w.art(285)), "does not say what", piece='alt = "An image of"'),
    passes("alt-text-image-of-something", lambda: w.cjpeg(w.art(286)), piece='alt = "An image of waves"'),
    fails("alt-text-file-name", lambda: w.cjpeg(w.art(287)), "only the file's name", piece='alt = "alt text file name.jpg"'),
)  # fmt: skip

LEVELS: tuple[Case, ...] = (
    Case(id="density-waived", make=lambda: w.cjpeg(w.art(290), ppi=300), outcome="waived", says="300 ppi", piece='waive = [{ rule = "density", reason = "printed at the opening", until = 2999-12-31 }]'),
    fails("density-waiver-over", lambda: w.cjpeg(w.art(291), ppi=300), "the waiver ended on 2020-01-31", piece='waive = [{ rule = "density", reason = "printed", until = 2020-01-31 }]'),
    Case(id="density-waiver-unused", make=lambda: w.cjpeg(w.art(292)), outcome="advised", says="no longer needed", piece='waive = [{ rule = "density", reason = "printed" }]'),
    Case(id="density-only-advised", make=lambda: w.cjpeg(w.art(293), ppi=300), outcome="advised", says="300 ppi", spec='levels = { density = "advise" }'),
    Case(id="chroma-subsampling-advised", make=lambda: w.cjpeg(w.art(294), "-sample", "2x2"), outcome="advised", says="4:2:0", spec='levels = { chroma-subsampling = "advise" }'),
)  # fmt: skip
