"""The rejected set: one picture for each kind of fault, sound in everything else."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Final

from PIL import Image, ImageDraw

from studio import export, tags
from studio.canvas import ink
from studio.export import jpeg, srgb_profile
from studio.plates import plate, shore

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from studio.canvas import Color, Point

Made = tuple[str, bytes]  # file name inside the folder, content

WHITE: Final = ink("#ffffff")
PIXELS_PER_METER: Final = 2835  # 72 per inch, rounded as PNG 3rd edition stores it
CREATOR: Final = "Mara Quill"
RIGHTS: Final = "Osier and Quill, all rights reserved"
EXIF: Final[dict[str, int]] = {
    "Orientation": 0x0112,
    "XResolution": 0x011A,
    "YResolution": 0x011B,
    "ResolutionUnit": 0x0128,
    "Artist": 0x013B,
    "Copyright": 0x8298,
    "BodySerialNumber": 0xA431,
}


class Series:
    """Numbers the pictures and names their files."""

    def __init__(self) -> None:
        self.number = 0

    def art(self, fault: str, width: int = 800, height: int = 600) -> Image.Image:
        self.number += 1
        return plate(self.number, fault, width, height)

    def jpeg(self, fault: str, width: int = 800, height: int = 600, **changes: object) -> Made:
        return name(fault), jpeg(self.art(fault, width, height), **changes)


def name(fault: str, suffix: str = "jpg") -> str:
    return f"quill-mara-{fault}.{suffix}"


def png(picture: Image.Image, **more: object) -> bytes:
    target = io.BytesIO()
    picture.save(
        target,
        "PNG",
        dpi=(export.PPI, export.PPI),
        icc_profile=srgb_profile(),
        optimize=True,
        **more,
    )
    return target.getvalue()


def covered(picture: Image.Image, shape: list[Point], color: Color) -> Image.Image:
    """Page color over part of the picture; the shape's edges are smooth, as on a reduced page."""
    fine = 8
    mask = Image.new("L", (picture.width, picture.height), 0)
    xs, ys = [p[0] for p in shape], [p[1] for p in shape]
    box = (
        max(0, int(min(xs))),
        max(0, int(min(ys))),
        min(picture.width, int(max(xs)) + 2),
        min(picture.height, int(max(ys)) + 2),
    )
    size = (box[2] - box[0], box[3] - box[1])
    large = Image.new("L", (size[0] * fine, size[1] * fine), 0)
    corners = [((x - box[0]) * fine, (y - box[1]) * fine) for x, y in shape]
    ImageDraw.Draw(large).polygon(corners, fill=255)
    mask.paste(large.resize(size, Image.Resampling.BOX), box[:2])
    picture.paste(color, (0, 0, picture.width, picture.height), mask)
    return picture


def band(picture: Image.Image, box: tuple[int, int, int, int], color: Color) -> Image.Image:
    picture.paste(color, box)
    return picture


def edges(series: Series) -> Iterator[Made]:
    w, h = 800, 600
    whole: dict[str, tuple[tuple[int, int, int, int], str]] = {
        "edge-gap-left-1px": ((0, 0, 1, h), "#ffffff"),
        "edge-gap-right-off-white": ((w - 2, 0, w, h), "#f6f2e9"),
        "edge-gap-top-black": ((0, 0, w, 3), "#000000"),
        "edge-gap-bottom-color": ((0, h - 2, w, h), "#ff3fa4"),
        "edge-gap-part-of-side": ((0, 190, 2, 330), "#ffffff"),
    }
    for fault, (box, color) in whole.items():
        yield name(fault), jpeg(band(series.art(fault), box, ink(color)))
    fault = "edge-gap-all-sides"
    picture = series.art(fault)
    for box in ((0, 0, w, 2), (0, h - 2, w, h), (0, 0, 2, h), (w - 2, 0, w, h)):
        band(picture, box, WHITE)
    yield name(fault), jpeg(picture)
    fault = "edge-gap-part-line"  # the outermost line is half page, half art
    picture = series.art(fault)
    line = picture.crop((w - 2, 0, w - 1, h))
    picture.paste(Image.blend(line, Image.new("RGB", line.size, WHITE), 0.5), (w - 1, 0))
    yield name(fault), jpeg(picture)
    fault = "edge-gap-wedge"  # art turned by a quarter of a degree
    yield name(fault), jpeg(covered(series.art(fault), [(0, -1), (w, -1), (w, 3.4), (0, 0)], WHITE))
    fault = "edge-gap-corner"
    yield (
        name(fault),
        jpeg(covered(series.art(fault), [(w - 7, -1), (w + 1, -1), (w + 1, 9)], WHITE)),
    )
    fault = "edge-gap-transparent"
    picture = series.art(fault).convert("RGBA")
    picture.paste((255, 255, 255, 0), (0, 0, 2, h))
    yield name(fault, "png"), png(picture)
    fault = "edge-outline"  # the shape that showed the page's size was left in
    picture = series.art(fault)
    ImageDraw.Draw(picture).rectangle((6, 6, w - 7, h - 7), outline=ink("#00ffff"), width=2)
    yield name(fault), jpeg(picture)
    fault = "edge-margin"  # the page was wider than the art
    picture = Image.new("RGB", (w, h), WHITE)
    picture.paste(series.art(fault, w - 140, h), (70, 0))
    yield name(fault), jpeg(picture)
    yield name("blank-picture"), jpeg(Image.new("RGB", (w, h), ink("#24507a")))


def sizes(series: Series) -> Iterator[Made]:
    yield series.jpeg("pixel-size-too-large", 840, 630)
    yield series.jpeg("pixel-size-too-small", 640, 480)
    yield series.jpeg("pixel-size-tall-as-wide", 800, 1067)
    yield series.jpeg("pixel-size-trim", 800, 560)  # A3 landscape asks for 800 x 566
    yield series.jpeg("density-300", dpi=(300, 300))
    yield series.jpeg("density-axes", dpi=(72, 144))
    yield series.jpeg("density-none", dpi=None)
    ppi = [(300, 1)]
    twice = tags.exif(
        {EXIF["XResolution"]: ppi, EXIF["YResolution"]: ppi, EXIF["ResolutionUnit"]: 2}
    )
    yield series.jpeg("density-two-places", exif=twice)
    fault = "print-size"  # A6 with 3 mm bleed at 300 ppi needs 1311 x 1819
    yield name(fault, "tif"), export.tiff(series.art(fault, 437, 606), 300)


def colors(series: Series) -> Iterator[Made]:
    fault = "color-mode-cmyk"
    yield name(fault), jpeg(series.art(fault).convert("CMYK"), icc_profile=None)
    fault = "color-mode-gray"
    yield name(fault), jpeg(series.art(fault).convert("L"), icc_profile=None)
    fault = "bit-depth-16"
    yield name(fault, "png"), tags.png_16(series.art(fault), srgb_profile(), PIXELS_PER_METER)
    yield series.jpeg("color-profile-none", icc_profile=None)
    wide = tags.profile("Wide gamut, example", tags.WIDE_COLORANTS, tags.SRGB_CURVE)
    yield series.jpeg("color-profile-wide-gamut", icc_profile=wide)
    false = tags.profile("sRGB", tags.SRGB_COLORANTS, tags.GAMMA_22)
    yield series.jpeg("color-profile-named-srgb-but-gamma", icc_profile=false)
    yield series.jpeg("color-profile-damaged", icc_profile=srgb_profile()[:200])
    fault = "transparency"
    picture = series.art(fault).convert("RGBA")
    hole = Image.new("L", picture.size, 255)
    ImageDraw.Draw(hole).ellipse((300, 170, 480, 350), fill=90)
    picture.putalpha(hole)
    yield name(fault, "png"), png(picture)


def coding(series: Series) -> Iterator[Made]:
    yield series.jpeg("jpeg-process-progressive", progressive=True)
    yield series.jpeg("jpeg-quality-60", quality=60)
    yield series.jpeg("chroma-subsampling-420", subsampling=2)
    # 3: shown upside down. The pixels keep their size, so that only the flag is at fault.
    yield series.jpeg("orientation-flag", exif=tags.exif({EXIF["Orientation"]: 3}))
    fault = "single-frame"
    frames = [series.art(fault), series.art(fault)]
    yield name(fault, "png"), png(frames[0], save_all=True, append_images=frames[1:], duration=800)


def files(series: Series) -> Iterator[Made]:
    whole = series.jpeg("file-readable-truncated")
    yield whole[0], whole[1][: len(whole[1]) * 6 // 10]
    whole = series.jpeg("file-readable-text-behind")
    yield whole[0], whole[1] + b"\nleft over by a broken upload\n"
    yield "Quill-Mara-File-Case.jpg", series.jpeg("file-case")[1]
    yield name("file-format-png-named-jpg"), png(series.art("file-format-png-named-jpg"))
    yield "quill mara file name spaces.jpg", series.jpeg("file-name-spaces")[1]
    yield "poster_final_2.jpg", series.jpeg("file-name-template")[1]
    yield series.jpeg("file-weight", quality=100)
    for fault in ("alt-text-missing", "alt-text-file-name", "alt-text-bare", "alt-text-too-long"):
        yield series.jpeg(fault)


def metadata(series: Series) -> Iterator[Made]:
    # A place in the open sea where nobody lives: 0 degrees north, 0 degrees east, nearly.
    place = tags.exif(
        gps={
            1: "N",
            2: [(0, 1), (1, 1), (30, 1)],
            3: "W",
            4: [(0, 1), (2, 1), (0, 1)],
        }
    )
    yield series.jpeg("metadata-location-exif", exif=place)
    packet = tags.xmp(
        "<exif:GPSLatitude>0,1.5N</exif:GPSLatitude><exif:GPSLongitude>0,2.0W</exif:GPSLongitude>"
    )
    yield series.jpeg("metadata-location-xmp", xmp=packet)
    whole = series.jpeg("metadata-location-iptc")
    yield (
        whole[0],
        tags.insert_segment(whole[1], 0xED, tags.iptc([(90, "Ullan"), (101, "Nowhere")])),
    )
    camera = tags.exif(camera={EXIF["BodySerialNumber"]: "INVENTED-000017"})
    yield series.jpeg("metadata-device", exif=camera)
    fault = "metadata-preview"  # the preview still shows what was cropped away
    uncropped = series.art(fault, 160, 120)
    small = io.BytesIO()
    uncropped.save(small, "JPEG", quality=80)
    series.number += 1
    art = plate(series.number, fault)
    yield name(fault), jpeg(art, exif=tags.exif(preview=small.getvalue()))
    yield series.jpeg("metadata-credit-missing")
    rights = (
        f'<dc:rights><rdf:Alt><rdf:li xml:lang="x-default">{RIGHTS}</rdf:li></rdf:Alt></dc:rights>'
    )
    other = tags.xmp(
        f"<dc:creator><rdf:Seq><rdf:li>Ansa Morrow</rdf:li></rdf:Seq></dc:creator>{rights}"
    )
    mine = tags.exif({EXIF["Artist"]: CREATOR, EXIF["Copyright"]: RIGHTS})
    yield series.jpeg("metadata-credit-disagrees", exif=mine, xmp=other)


def again(picture: Image.Image, quality: int) -> Image.Image:
    """Return the picture after one save as a JPEG."""
    return Image.open(io.BytesIO(jpeg(picture, quality=quality))).convert("RGB")


def history(_: Series) -> Iterator[Made]:
    yield name("resaved"), jpeg(again(shore(3), 70), quality=92)
    crop = again(shore(11, 840, 640), 90).crop((3, 5, 803, 605))
    yield name("cropped-after-compression"), jpeg(crop, quality=96)
    small = shore(23, 534, 400)
    yield name("enlarged"), jpeg(small.resize((800, 600), Image.Resampling.BICUBIC), quality=95)


def motion(series: Series) -> Iterator[Made]:
    # CAUTION: flashes about six times in a second on purpose; small, and shown by nothing here.
    art = series.art("flash", 240, 180)
    dim = Image.blend(art, Image.new("RGB", art.size, 0), 0.9)
    lit = Image.blend(art, Image.new("RGB", art.size, WHITE), 0.6)
    target = io.BytesIO()
    frames = [(lit if i % 2 else dim).quantize(24) for i in range(8)]
    frames[0].save(target, "GIF", save_all=True, append_images=frames[1:], duration=80, loop=0)
    yield "flash.gif", target.getvalue()


def copies(series: Series) -> Iterator[Made]:
    large = series.art("matches-piece-swapped")
    yield name("matches-piece-swapped"), jpeg(large)
    other = series.art("another-picture")
    yield name("matches-piece-swapped-small"), jpeg(export.reduced(other, (400, 300)))
    fault = "matches-original-cropped"  # the copy shows less than its original
    whole = series.art(fault, 960, 720)
    yield f"originals/{fault}.tif", export.tiff(export.reduced(whole, (480, 360)), 100)
    yield name(fault), jpeg(whole.crop((40, 100, 840, 700)))


def portfolios(series: Series) -> Iterator[Made]:
    """Small portfolios, a folder each, for the rules that look at all pieces together."""
    size = (200, 150)
    for rule in ("stray-file", "total-weight", "piece-count", "duplicate-file", "near-duplicate"):
        pictures = [series.art(rule, *size) for _ in range(2)]
        if rule == "duplicate-file":
            pictures[1] = pictures[0]
        if rule == "near-duplicate":
            pictures[1] = Image.blend(pictures[0], Image.new("RGB", size, ink("#806040")), 0.06)
        for which, picture in zip(("one", "two"), pictures, strict=True):
            yield f"{rule}/{name(which)}", jpeg(picture)
    # One file for two names: both cannot lie in one folder on every system.
    yield f"name-clash/{name('one')}", jpeg(series.art("name-clash", *size))


GROUPS: Final[tuple[Callable[[Series], Iterator[Made]], ...]] = (
    edges,
    sizes,
    colors,
    coding,
    files,
    metadata,
    history,
    motion,
    copies,
    portfolios,
)


def rejected(folder: Path) -> None:
    """Write every picture of the rejected set."""
    series = Series()
    for group in GROUPS:
        for file, data in group(series):
            export.write(folder / "rejected" / file, data)
