"""Read the headers of a JPEG file (ITU-T T.81) without decoding its pixels."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, TypedDict

from pytest_webdeliverable.measure.headers import jpeg_tables as t81
from pytest_webdeliverable.measure.headers.base import ColorMode, DamagedError, Header
from pytest_webdeliverable.measure.headers.jpeg_apps import Apps, Picture, read_apps
from pytest_webdeliverable.measure.headers.jpeg_entropy import entropy_problems
from pytest_webdeliverable.measure.headers.jpeg_quality import QualityFacts, read_quality
from pytest_webdeliverable.measure.headers.jpeg_walk import walk
from pytest_webdeliverable.measure.headers.reading import bytes_behind
from pytest_webdeliverable.measure.headers.sniff import describe
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pytest_webdeliverable.measure.headers.jpeg_parts import Component, Frame, Walk

_PADDING: Final = 4095
"""Zero bytes behind the end that are no finding: a block of storage filled up, which loses nothing.

4,096 bytes is the usual block of file systems; common practice, no source.
"""

_PREVIEWS: Final = 5
"""Previews of an index that are kept; cameras write two, for screens of two sizes."""

_NO_KIND: Final = describe(b"\1")
"""What ``describe`` says of bytes that it cannot tell."""

_MODES: Final[dict[int, ColorMode]] = {1: "gray", 3: "rgb", 4: "cmyk"}
"""Color mode by number of components; YCbCr decodes to RGB and YCCK to CMYK."""

_SAMPLINGS: Final[dict[tuple[float, float], str]] = {
    (1, 1): "4:4:4",
    (2, 1): "4:2:2",
    (2, 2): "4:2:0",
    (1, 2): "4:4:0",
    (4, 1): "4:1:1",
    (4, 2): "4:1:0",
}
"""Trade names by how much coarser the color is than the brightness, across and down."""


class JpegFacts(TypedDict):
    """What only a JPEG can tell.

    ``process`` and ``coding`` follow table B.1 of T.81 ("baseline", "huffman"), ``marker`` is its
    symbol ("SOF0"); baseline with what only the extended process knows is "extended". ``sampling`` is a trade name such as "4:2:0", "gray" for one component, or the
    factors themselves ("2x1,1x2,1x1") where no name fits. ``quality`` is None for lossless
    files. ``adobe_transform`` is 0 (RGB or CMYK), 1 (YCbCr), 2 (YCCK) or None when not stated;
    ``restart_interval`` is in coded units, 0 for none.
    """

    process: str
    coding: str
    marker: str
    scans: int
    sampling: str
    quality: QualityFacts | None
    adobe_transform: int | None
    restart_interval: int


def read(data: bytes, limits: Limits = DEFAULT_LIMITS) -> Header:
    """Read a JPEG file; raises DamagedError when it cannot be one or breaks a limit.

    ``frames`` counts the pictures of a Multi-Picture file (CIPA DC-007), 1 otherwise. ``previews``
    come from JFIF segments and the Multi-Picture index; the one in Exif is the Exif reader's.
    """
    found = walk(data, limits)
    frame = found.frame
    if frame is None or not found.scans:
        raise DamagedError("the file ends before its picture begins")
    if frame.height == 0:
        raise DamagedError("the JPEG does not state the height of its picture")
    apps = read_apps(found.segments, limits, found.scans[0].start)
    # Sizes in the index are not relied on: some writers state them wrongly from the third on.
    pictures = [p for p in apps.pictures if data.startswith(b"\xff\xd8", p.start)]
    problems = [*found.problems, *apps.problems, *entropy_problems(data, found, frame, limits)]
    if len(pictures) < len(apps.pictures):
        problems.append("the file announces further pictures that it does not hold")
    if found.end is not None:
        problems.extend(_data_behind(data, found.end, pictures))
    return Header(
        format="jpeg",
        width=frame.width,
        height=frame.height,
        mode=_MODES.get(len(frame.components), "other"),
        bits=frame.precision,
        frames=max(1, len(pictures)),
        densities=tuple(apps.densities),
        icc=apps.icc,
        icc_problem=apps.icc_problem,
        exif=apps.exif,
        xmp=apps.xmp,
        iptc=apps.iptc,
        jpeg=_facts(found, frame, apps),
        previews=(*apps.previews, *_announced_previews(data, pictures, limits)),
        coded=max(((scan.start, scan.end) for scan in found.scans), key=lambda at: at[1] - at[0]),
        problems=tuple(dict.fromkeys(problems)),
    )


def _facts(found: Walk, frame: Frame, apps: Apps) -> JpegFacts:
    process, coding = t81.FRAMES[frame.marker]
    if process == "baseline" and (found.beyond_baseline or frame.precision != t81.BASELINE_BITS):
        process = "extended"
    tables = [found.steps.get(component.ident, ()) for component in frame.components]
    return JpegFacts(
        process="hierarchical" if found.hierarchical else process,
        coding=coding,
        marker=f"SOF{frame.marker & 15}",
        scans=len(found.scans),
        sampling=name_sampling(frame.components),
        quality=None if process.endswith("lossless") else read_quality(tables),
        adobe_transform=apps.adobe_transform,
        restart_interval=found.restart_interval,
    )


def name_sampling(components: Sequence[Component]) -> str:
    """Name the subsampling of the color components (the second and third) against the first.

    A fourth component (black) must be as fine as the first for a name to fit.
    """
    if len(components) == 1:
        return "gray"
    ratios = {
        (first.h / other.h, first.v / other.v)
        for first, other in ((components[0], other) for other in components[1:3])
    }
    black_is_fine = all(
        (part.h, part.v) == (components[0].h, components[0].v) for part in components[3:]
    )
    if len(components) >= 3 and len(ratios) == 1 and black_is_fine:
        name = _SAMPLINGS.get(ratios.pop())
        if name:
            return name
    return ",".join(f"{part.h}x{part.v}" for part in components)


def _announced_previews(data: bytes, pictures: Sequence[Picture], limits: Limits) -> list[bytes]:
    """Copy the first previews of a Multi-Picture index, in which many entries may name one place."""
    starts = dict.fromkeys(p.start for p in pictures if p.is_preview and p.start)
    sizes = {p.start: min(p.size, limits.metadata_bytes) for p in reversed(pictures)}
    return [data[start : start + sizes[start]] for start in list(starts)[:_PREVIEWS]]


def _data_behind(data: bytes, end: int, pictures: Sequence[Picture]) -> list[str]:
    """Say what follows the picture, other than the further pictures the file announces."""
    following = [p.start for p in pictures if p.start >= end]
    between = data[end : min(following, default=end)]
    if between.strip(b"\0"):
        return [bytes_behind(len(between))]
    behind_all = max([end, *(min(p.start + p.size, len(data)) for p in pictures)])
    rest = data[behind_all:]
    if not rest or (len(rest) <= _PADDING and not rest.strip(b"\0")):
        return []
    sentence = bytes_behind(len(rest))
    kind = describe(rest.lstrip(b"\0"))
    return [sentence if kind == _NO_KIND else f"{sentence}: {kind}"]
