"""The facts of one image: plain, JSON-able, and without any knowledge of specs.

Facts come in facets, so that a run measures only what its rules need: ``file`` and ``header`` cost a
read, every other facet a decoded picture or more.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, TypedDict

if TYPE_CHECKING:
    from pytest_webdeliverable.likeness import Signature
    from pytest_webdeliverable.measure.color import ColorFacts
    from pytest_webdeliverable.measure.edges import EdgeFacts
    from pytest_webdeliverable.measure.headers.jpeg import JpegFacts
    from pytest_webdeliverable.measure.history import HistoryFacts
    from pytest_webdeliverable.measure.history.previous import PreviousFacts
    from pytest_webdeliverable.measure.metadata import MetadataFacts
    from pytest_webdeliverable.measure.motion import MotionFacts

Facet = Literal["pixels", "edges", "history", "motion", "previews", "likeness", "git"]


class FileProblem(TypedDict):
    """Why nothing more is known: the file is missing, or cannot be read as a picture."""

    kind: Literal["missing", "unreadable"]
    text: str


class FileFacts(TypedDict):
    """The file itself; ``on_disk`` is the true spelling of its path."""

    name: str
    on_disk: str
    bytes: int
    sha256: str


class DensityFacts(TypedDict):
    """Pixels per inch written in one place; None where the place states none."""

    place: str
    x: float | None
    y: float | None


class HeaderFacts(TypedDict):
    """The picture before decoding.

    ``width`` and ``height`` are as shown, after the orientation flag; ``stored`` is the pair in the
    file. ``bits`` are per sample. ``frames`` is None where only decoding could tell.
    """

    format: str
    width: int
    height: int
    stored: list[int]
    orientation: int | None
    mode: str
    bits: int
    alpha: bool
    indexed: bool
    frames: int | None
    densities: list[DensityFacts]
    jpeg: JpegFacts | None


class PixelFacts(TypedDict):
    """The decoded picture.

    ``see_through`` is the share of pixels that are not opaque, 0 to 1. ``digest`` is equal for equal
    pixels: size and CRC-32 of the colors shown, as RGB wherever they can be said in it.
    """

    see_through: float
    digest: str


class GitFacts(TypedDict):
    """The file in git.

    ``committed`` is when its present bytes were committed (ISO 8601, UTC), None where they are not;
    ``previous`` compares the picture with the last committed version that differs.
    """

    committed: str | None
    previous: PreviousFacts | None


class Measurements(TypedDict, total=False):
    """All facts of one image; ``problem`` is there exactly where the picture cannot be judged."""

    problem: FileProblem
    file: FileFacts
    header: HeaderFacts
    color: ColorFacts
    metadata: MetadataFacts
    pixels: PixelFacts
    edges: EdgeFacts
    history: HistoryFacts
    motion: MotionFacts
    likeness: Signature
    git: GitFacts


class FolderFacts(TypedDict):
    """The folder of images; ``files`` are paths relative to the manifest's folder, or None."""

    files: list[str] | None
    problem: str | None
