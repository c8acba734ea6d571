"""Color and JPEG coding: near misses of the families "color" and "jpeg"."""

from __future__ import annotations

import numpy as np
import profiles
from pictures import srgb

from written import writers as w
from written.case import Case, fails, passes

BARE = 'from = "bare"'
ANY = 'weight = "2 MB"\nlevels = { color-profile = "off" }'
BARE_ANY = 'from = "bare"\nlevels = { density = "off", color-profile = "off" }'
# Display P3's primaries adapted to D50, from memory: they only have to be far from sRGB's.
P3 = ((0.51512, 0.2412, -0.00105), (0.29198, 0.69225, 0.04189), (0.1571, 0.06657, 0.78407))


def gray(seed: int) -> np.ndarray:
    """One channel of art."""
    return np.ascontiguousarray(w.art(seed)[..., 1])


def with_alpha(seed: int, alpha: int, share: float = 1e-9) -> np.ndarray:
    """Opaque art but for the last pixels, which have ``alpha``."""
    pixels = np.dstack([w.art(seed), np.full((240, 320), 255, np.uint8)])
    pixels.reshape(-1, 4)[-max(1, round(share * 320 * 240)) :, 3] = alpha
    return pixels


def few_colors(seed: int) -> tuple[np.ndarray, list[tuple[int, ...]]]:
    """Art in a palette of 27 colors: indices, and the palette."""
    steps = w.art(seed) // 86
    index = steps[..., 0] * 9 + steps[..., 1] * 3 + steps[..., 2]
    palette = [
        (r * 86 + 40, g * 86 + 40, b * 86 + 40)
        for r in range(3)
        for g in range(3)
        for b in range(3)
    ]
    return index.astype(np.uint8), [tuple(min(255, part) for part in color) for color in palette]


def palette_png(seed: int, *alphas: int) -> bytes:
    """A palette picture; ``alphas`` of its first entries."""
    index, palette = few_colors(seed)
    colors = [
        (*color, alphas[place]) if place < len(alphas) else color
        for place, color in enumerate(palette)
    ]
    return w.pypng(index, palette=colors, bitdepth=8)


def wide(pixels: np.ndarray) -> np.ndarray:
    """The same in 16 bits."""
    return pixels.astype(np.uint16) * 257


COLOR: tuple[Case, ...] = (
    passes("color-mode-cmyk-jpeg-asked", lambda: w.vips_cmyk(w.art(100), ".jpg", Q=95), f'{ANY}\ncolor-mode = "cmyk"'),
    fails("color-mode-cmyk-jpeg", lambda: w.vips_cmyk(w.art(101), ".jpg", Q=95), "is CMYK, the spec asks for RGB", ANY),
    fails("color-mode-cmyk-tiff", lambda: w.vips_cmyk(w.art(102), ".tif"), "is CMYK", ANY, suffix=".tif"),
    fails("color-mode-gray-jpeg", lambda: w.cjpeg(gray(103)), "is gray", ANY),
    passes("color-mode-gray-asked", lambda: w.pypng(gray(104)), 'color-mode = ["gray"]', suffix=".png"),
    fails("color-mode-gray-tiff", lambda: w.tiff(gray(105), photometric="minisblack"), "is gray", ANY, suffix=".tif"),
    fails(
        "color-mode-lab-tiff",
        lambda: w.tiff(w.vips_image(w.art(106)).colourspace("lab").cast("char").numpy().view(np.uint8), photometric="cielab"),
        "is Lab", ANY, suffix=".tif",
    ),
    fails("color-mode-gray-avif", lambda: w.avif(w.art(107), "-y", "400"), "is gray", BARE_ANY, suffix=".avif"),
    passes("color-mode-palette-png", lambda: palette_png(108), suffix=".png"),
    passes("bit-depth-palette-png", lambda: palette_png(109), suffix=".png"),
    passes("bit-depth-16-asked", lambda: w.pypng(wide(w.art(110)), bitdepth=16), "bit-depth = 16", suffix=".png"),
    fails("bit-depth-16-png", lambda: w.pypng(wide(w.art(111)), bitdepth=16), "16 bits", suffix=".png"),
    fails("bit-depth-16-tiff-tiled", lambda: w.tiff(wide(w.art(112)), tile=(64, 64), photometric="rgb"), "16 bits", suffix=".tif"),
    passes("bit-depth-8-tiff-asked", lambda: w.vips(w.art(113), ".tif", compression="lzw", predictor="horizontal"), suffix=".tif"),
    passes("bit-depth-tiff-deflate", lambda: w.tiff(w.art(114), compression="deflate", predictor=True), suffix=".tif"),
    fails("bit-depth-10-avif", lambda: w.avif(w.art(115), "-d", "10"), "10 bits", BARE, suffix=".avif"),
    fails("bit-depth-16-vips", lambda: w.vips(wide(w.art(116)), ".png", bitdepth=16), "16 bits", suffix=".png"),
    passes("transparency-opaque-png", lambda: w.pypng(with_alpha(120, 255)), suffix=".png"),
    fails("transparency-one-pixel-png", lambda: w.pypng(with_alpha(121, 254)), "less than 0.1%", suffix=".png"),
    fails("transparency-webp", lambda: w.webp(with_alpha(123, 128, 0.02), "-exact"), "2.0% of the picture", f"{BARE}\nedges = {{ gap = false }}", suffix=".webp"),
    passes("transparency-lossless-webp", lambda: w.webp(with_alpha(124, 255), "-lossless"), BARE, suffix=".webp"),
    fails("transparency-avif", lambda: w.avif(with_alpha(125, 0, 0.02)), "of the picture", f"{BARE}\nedges = {{ gap = false }}", suffix=".avif"),
    passes("transparency-palette-opaque", lambda: palette_png(126, 255, 255), suffix=".png"),
    fails("transparency-palette", lambda: palette_png(127, 255, 200, 255), "of the picture", "edges = { gap = false }", suffix=".png"),
    fails("transparency-tiff", lambda: w.tiff(with_alpha(128, 100, 0.01), extrasamples=["unassalpha"], photometric="rgb"), "1.0%", "edges = { gap = false }", suffix=".tif"),
    passes("color-profile-vips-jpeg", lambda: w.vips(w.art(130), ".jpg", Q=95)),
    fails("color-profile-vips-p3", lambda: w.vips(w.art(131), ".jpg", Q=95, profile="p3"), "not sRGB"),
    fails("color-profile-opencv-none", lambda: w.opencv(w.art(132), ".png"), "no color profile", BARE, suffix=".png"),
    passes("color-profile-cicp-srgb", lambda: w.pypng(w.art(133), color=w.chunk(b"cICP", bytes((1, 13, 0, 1)))), suffix=".png"),
    fails("color-profile-cicp-p3", lambda: w.pypng(w.art(134), color=w.chunk(b"cICP", bytes((12, 13, 0, 1))) + w.SRGB_CHUNK), "cICP says Display P3", suffix=".png"),
    fails("color-profile-gama-only", lambda: w.pypng(w.art(135), color=w.chunk(b"gAMA", (45455).to_bytes(4, "big"))), "gAMA", suffix=".png"),
    passes("color-profile-srgb-and-gama", lambda: w.pypng(w.art(136), color=w.chunk(b"gAMA", (45455).to_bytes(4, "big")) + w.SRGB_CHUNK), suffix=".png"),
    fails("color-profile-iccp-over-srgb", lambda: w.pypng(w.art(137), color=w.iccp(profiles.matrix_profile(P3)) + w.SRGB_CHUNK), "not sRGB", suffix=".png"),
    passes("color-profile-nclx-srgb", lambda: w.avif(w.art(138)), BARE, suffix=".avif"),
    fails("color-profile-nclx-p3", lambda: w.avif(w.art(139), "--nclx", "12/13/6"), "Display P3", BARE, suffix=".avif"),
    fails("color-profile-nclx-open", lambda: w.avif(w.art(140), "--nclx", "2/2/6"), "no color profile", BARE, suffix=".avif"),
    passes("color-profile-avif-icc", lambda: w.avif(w.art(141), "--nclx", "2/2/6", source=w.pypng(w.art(141), color=w.iccp(srgb()))), BARE, suffix=".avif"),
    passes("color-profile-tiff", lambda: w.tiff(w.art(142)), suffix=".tif"),
    fails("color-profile-wrong-space", lambda: w.tiff(w.art(143), iccprofile=profiles.table_profile()), "CMYK", suffix=".tif"),
    passes("color-profile-embedded-cmyk", lambda: w.vips_cmyk(w.art(144), ".jpg", Q=95), 'weight = "2 MB"\ncolor-mode = "cmyk"\nprofile = "embedded"'),
    fails("color-profile-cmyk-not-srgb", lambda: w.vips_cmyk(w.art(145), ".jpg", Q=95), "for CMYK colors", 'weight = "2 MB"\ncolor-mode = "cmyk"'),
    passes("color-profile-none-asked", lambda: w.opencv(w.art(146), ".png"), f'{BARE}\nprofile = "none"', suffix=".png"),
    fails("color-profile-none-but-there", lambda: w.vips(w.art(147), ".png"), "asks for none", 'profile = "none"', suffix=".png"),
    passes("color-profile-of-a-file", lambda: w.tiff(w.art(148), iccprofile=profiles.matrix_profile(P3, name="other words")), 'profile = "press.icc"', suffix=".tif"),
    fails("color-profile-not-that-file", lambda: w.vips(w.art(149), ".jpg", Q=95), "not that of press.icc", 'profile = "press.icc"'),
)  # fmt: skip

JPEG: tuple[Case, ...] = (
    passes("jpeg-process-optimized", lambda: w.jpegtran(w.cjpeg(w.art(160)), "-optimize")),
    fails("jpeg-process-progressive", lambda: w.jpegtran(w.cjpeg(w.art(161)), "-progressive"), "the JPEG is progressive"),
    passes("jpeg-process-progressive-asked", lambda: w.cjpeg(w.art(162), "-progressive"), 'jpeg = { process = "progressive" }'),
    fails("jpeg-process-baseline-unasked", lambda: w.cjpeg(w.art(163)), "the JPEG is baseline", 'jpeg = { process = "progressive" }'),
    fails("jpeg-process-arithmetic", lambda: w.jpegtran(w.cjpeg(w.art(164)), "-arithmetic"), "arithmetic coding"),
    fails("jpeg-process-vips-interlaced", lambda: w.vips(w.art(165), ".jpg", Q=95, interlace=True), "progressive"),
    passes("jpeg-quality-cjpeg-90", lambda: w.cjpeg(w.art(166), quality="90")),
    fails("jpeg-quality-cjpeg-89", lambda: w.cjpeg(w.art(167), quality="89"), "quality 89, the spec asks for 90"),
    passes("jpeg-quality-vips-90", lambda: w.vips(w.art(168), ".jpg", Q=90, subsample_mode="off")),
    fails("jpeg-quality-vips-89", lambda: w.vips(w.art(169), ".jpg", Q=89, subsample_mode="off"), "quality 89"),
    fails("jpeg-quality-opencv-89", lambda: w.opencv(w.art(170), ".jpg", 1, 89), "quality 89", f'{BARE_ANY}\njpeg = {{ chroma = "4:2:0" }}'),
    passes("jpeg-quality-opencv-90", lambda: w.opencv(w.art(171), ".jpg", 1, 90), f'{BARE_ANY}\njpeg = {{ chroma = "4:2:0" }}'),
    fails("jpeg-quality-chroma-lower", lambda: w.cjpeg(w.art(172), quality="95,80"), ""),
    passes("jpeg-quality-png", lambda: w.vips(w.art(173), ".png"), suffix=".png"),
    passes("chroma-subsampling-444", lambda: w.cjpeg(w.art(174), "-sample", "1x1")),
    fails("chroma-subsampling-422", lambda: w.cjpeg(w.art(175), "-sample", "2x1"), "sampled 4:2:2"),
    fails("chroma-subsampling-440", lambda: w.cjpeg(w.art(176), "-sample", "1x2"), "sampled 4:4:0"),
    fails("chroma-subsampling-420", lambda: w.cjpeg(w.art(177), "-sample", "2x2"), "sampled 4:2:0"),
    fails("chroma-subsampling-411", lambda: w.cjpeg(w.art(178), "-sample", "4x1"), "sampled 4:1:1"),
    passes("chroma-subsampling-422-asked", lambda: w.cjpeg(w.art(179), "-sample", "2x1"), 'jpeg = { chroma = ["4:4:4", "4:2:2"] }'),
    passes("chroma-subsampling-gray", lambda: w.cjpeg(gray(180)), f'{ANY}\ncolor-mode = "gray"'),
    passes("chroma-subsampling-rgb-jpeg", lambda: w.cjpeg(w.art(181), "-rgb", ppi=None), BARE),
    fails("chroma-subsampling-vips", lambda: w.vips(w.art(182), ".jpg", Q=95, subsample_mode="on"), "sampled 4:2:0"),
)  # fmt: skip
