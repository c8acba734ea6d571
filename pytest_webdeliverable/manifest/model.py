"""The manifest, declared once: its tables, keys, kinds of values, defaults and the rules they switch on.

Reading, error messages, the JSON Schema and the reference page are made from these declarations. A key
of a spec that is absent (None) is not checked.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from pytest_webdeliverable.manifest.kinds import (
    LENGTH,
    TRIM,
    WEIGHT,
    Choice,
    Day,
    Flag,
    ListOf,
    Never,
    Number,
    Template,
    Text,
)
from pytest_webdeliverable.manifest.tables import Either, MapOf, Table, key

if TYPE_CHECKING:
    import datetime

    from pytest_webdeliverable.manifest.quantities import Length, Trim

Level = Literal["require", "advise", "off"]

FORMATS: Final = ("jpeg", "png", "webp", "avif", "gif", "tiff")
LARGEST_SIDE: Final = 65_535
"""Longest side of a JPEG in pixels (ITU-T T.81, 16-bit size fields); the largest box that makes sense."""
MOST_SHARED: Final = 32
"""Files of shared specs; a school, a class and a portfolio make three, and each costs a reading."""
PIECE_ID: Final = r"[A-Za-z0-9_-]{1,200}"
SPEC_NAME: Final = r"[A-Za-z0-9_-]{1,100}"
"""A bare key of TOML: the name of a spec is a part of the names of copies."""

_RULE_NAME: Final = Text("the name of a rule")
_FILE: Final = Text('a path such as "images/poster.jpg", relative to this file')


@dataclass(frozen=True, slots=True, kw_only=True)
class Ppi:
    """Density as a range."""

    min: float = key(Number(1, 100_000, whole=False, unit="ppi"), "least density", default=...)


@dataclass(frozen=True, slots=True, kw_only=True)
class Print:
    """What a print file must reach."""

    ppi: float = key(
        Number(1, 10_000, whole=False, unit="ppi"),
        "pixels per inch needed at trim plus bleed",
        default=...,
    )
    bleed: Length | None = key(LENGTH, "bleed added on each side of the trim")


@dataclass(frozen=True, slots=True, kw_only=True)
class Jpeg:
    """How a JPEG is to be made."""

    process: str | None = key(
        Choice(("baseline", "progressive")),
        "order in which the picture is coded",
        rules=("jpeg-process",),
    )
    quality: int | None = key(
        Number(1, 100),
        "least quality on the 1 to 100 scale of the usual tables",
        rules=("jpeg-quality",),
    )
    chroma: tuple[str, ...] | None = key(
        ListOf(Choice(("4:4:4", "4:2:2", "4:2:0", "4:4:0", "4:1:1")), single=True),
        "allowed chroma subsampling",
        rules=("chroma-subsampling",),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Edges:
    """Which edge rules are on."""

    gap: bool | None = key(Flag(), "look for slivers of page along an edge", rules=("edge-gap",))
    outline: bool | None = key(
        Flag(), "look for a stray thin frame near the edge", rules=("edge-outline",)
    )
    margin: bool | None = key(Flag(), "look for flat bands around the art", rules=("edge-margin",))


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """What may not have happened to the picture; false forbids it."""

    resaved: bool | None = key(Flag(), "false: saved once only", rules=("resaved",))
    cropped: bool | None = key(
        Flag(), "false: not cropped after compression", rules=("cropped-after-compression",)
    )
    enlarged: bool | None = key(Flag(), "false: not enlarged", rules=("enlarged",))


@dataclass(frozen=True, slots=True, kw_only=True)
class Privacy:
    """What may not be inside the file; false forbids it."""

    location: bool | None = key(Flag(), "false: no place data", rules=("metadata-location",))
    device: bool | None = key(
        Flag(), "false: no serial numbers, owner names, computer names", rules=("metadata-device",)
    )
    preview: bool | None = key(
        Flag(),
        "false: no embedded preview that shows another picture",
        rules=("metadata-preview",),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Animation:
    """How much may move."""

    frames: int | None = key(Number(1, 100_000), "most frames", rules=("single-frame",))
    flashes: float | None = key(
        Number(0, 60, whole=False), "most flashes in any one second", rules=("flash",)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Alt:
    """What the description for people who cannot see the picture must be."""

    required: bool = key(Flag(), "a description must be written", rules=("alt-text",), default=True)
    longest: int | None = key(Number(1, 10_000, unit="characters"), "longest description")


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """What a picture must be; ``name`` is the table's name."""

    name: str = ""
    from_: str | None = key(Text("the name of a spec"), "spec to derive from")
    formats: tuple[str, ...] | None = key(
        ListOf(Choice(FORMATS), single=True), "file formats allowed", rules=("file-format",)
    )
    file_name: str | None = key(
        Template(),
        "template of the file's name without its suffix; a field in braces is a run of lower-case "
        "letters, digits and inner hyphens",
        rules=("file-name",),
    )
    weight: int | None = key(WEIGHT, "largest file (1 kB = 1000 bytes)", rules=("file-weight",))
    box: tuple[int, int] | None = key(
        ListOf(Number(1, LARGEST_SIDE, unit="px"), least=2, most=2, example="[1600, 1200]"),
        "width and height in pixels of the place on the site",
        rules=("pixel-size",),
    )
    fill: Literal["touch", "within", "exact"] = key(
        Choice(("touch", "within", "exact")),
        "touch: one side of the box is reached; within: not larger; exact: just that size",
        default="touch",
    )
    overshoot: int = key(
        Number(0, 64, unit="px"), "pixels that an exporter may add by rounding up", default=1
    )
    ppi: float | Ppi | None = key(
        Either(Number(1, 100_000, whole=False, unit="ppi"), Table(Ppi)),
        "density written in the file",
        rules=("density",),
    )
    print_: Print | None = key(
        Table(Print), "pixels needed at trim plus bleed", rules=("print-size",)
    )
    color_mode: tuple[str, ...] | None = key(
        ListOf(Choice(("rgb", "gray", "cmyk")), single=True), "color model", rules=("color-mode",)
    )
    bit_depth: int | None = key(Choice((8, 16)), "bits per sample", rules=("bit-depth",))
    profile: str | None = key(
        Text('"srgb", "embedded", "none" or a path to an .icc file'),
        "color profile: sRGB by its numbers, any, none, or that of a file",
        rules=("color-profile",),
    )
    transparency: bool | None = key(Flag(), "false: no see-through pixel", rules=("transparency",))
    jpeg: Jpeg | None = key(Table(Jpeg), "how a JPEG is made")
    edges: Edges | None = key(Table(Edges), "which edge rules are on")
    blank: bool | None = key(Flag(), "false: not one flat color", rules=("blank-picture",))
    history: History | None = key(Table(History), "what may not have happened to the picture")
    privacy: Privacy | None = key(Table(Privacy), "what may not be inside the file")
    credit: tuple[str, ...] | None = key(
        ListOf(Choice(("creator", "copyright")), single=True),
        "credit lines that must be inside the file",
        rules=("metadata-credit",),
    )
    orientation_flag: bool | None = key(
        Flag(), "false: pixels stand upright by themselves", rules=("orientation-flag",)
    )
    animation: bool | Animation | None = key(
        Either(Never(), Table(Animation)),
        "false: one picture only; or limits",
        rules=("single-frame", "flash"),
    )
    alt: Alt | None = key(Table(Alt), "description", rules=("alt-text",))
    levels: dict[str, Level] = key(
        MapOf(Choice(("require", "advise", "off"))), "level of single rules", default={}
    )
    points: dict[str, float] = key(
        MapOf(Number(0, 1000, whole=False)), "marks for single rules: the rubric", default={}
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiver:
    """A rule that may fail on a piece, and why."""

    rule: str = key(_RULE_NAME, "rule that may fail", default=...)
    reason: str = key(Text("the reason in words"), "why it may fail", default=...)
    until: datetime.date | None = key(Day(), "last day on which the waiver holds")


@dataclass(frozen=True, slots=True, kw_only=True)
class CopyEntry:
    """Another copy of a piece, such as its thumbnail."""

    file: str = key(_FILE, "path of the copy", default=...)
    spec: str = key(Text("the name of a spec"), "spec of the copy", default=...)
    crop: tuple[float, float, float, float] | None = key(
        ListOf(Number(0, 1, whole=False), least=4, most=4, example="[0, 0.1, 1, 0.6]"),
        "part of the piece shown: left, top, right, bottom as fractions from 0 to 1",
    )
    alt: str | None = key(Text(empty=True), "description, where it differs from the piece's")
    waive: tuple[Waiver, ...] = key(
        ListOf(Table(Waiver), least=0), "rules that may fail, with the reason", default=()
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceEntry:
    """One [[piece]] table as written."""

    id: str | None = key(
        Text("a name of letters, digits, - and _", PIECE_ID), "name of the piece, unique"
    )
    file: str = key(_FILE, "path of the picture", default=...)
    title: str = key(Text(), "title of the piece", default="")
    alt: str | None = key(Text(empty=True), "what the picture shows, for people who cannot see it")
    decorative: bool = key(Flag(), 'true: carries no meaning, so alt may be ""', default=False)
    spec: str | None = key(Text("the name of a spec"), "spec of this piece")
    trim: Trim | None = key(TRIM, "finished size of the printed original")
    original: str | None = key(_FILE, "print master; only ever read", rules=("matches-original",))
    keyline: bool = key(Flag(), "true: a thin line around the picture is intended", default=False)
    waive: tuple[Waiver, ...] = key(
        ListOf(Table(Waiver), least=0), "rules that may fail, with the reason", default=()
    )
    copies: tuple[CopyEntry, ...] = key(
        ListOf(Table(CopyEntry), least=0), "further copies of the piece", default=()
    )

    def as_piece(self, name: str, line: int, spec: Spec) -> Piece:
        """Return the piece that the table describes; its copies are pieces of their own."""
        return Piece(
            id=name,
            file=self.file,
            line=line,
            spec=spec,
            title=self.title,
            alt=self.alt,
            decorative=self.decorative,
            trim=self.trim,
            original=self.original,
            keyline=self.keyline,
            waive=self.waive,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """A range of a number of pieces."""

    min: int | None = key(Number(0, 1_000_000), "fewest")
    max: int | None = key(Number(0, 1_000_000), "most")


@dataclass(frozen=True, slots=True, kw_only=True)
class Portfolio:
    """The [portfolio] table: what holds for all pieces together."""

    title: str = key(Text(), "title of the portfolio", default="")
    spec: str = key(Text("the name of a spec"), "spec of pieces that name none", default="screen")
    images: str | None = key(
        _FILE, "folder in which every image must be listed", rules=("stray-file",)
    )
    total_weight: int | None = key(WEIGHT, "most bytes of all pieces", rules=("total-weight",))
    pieces: Count | None = key(Table(Count), "how many pieces", rules=("piece-count",))
    specs_from: tuple[str, ...] = key(
        ListOf(_FILE, single=True, least=0, most=MOST_SHARED),
        "files of shared [spec.NAME] tables",
        default=(),
    )
    waive: tuple[Waiver, ...] = key(
        ListOf(Table(Waiver), least=0), "portfolio rules that may fail, with the reason", default=()
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One picture to check: a piece, or a copy of one (``copy_of`` is the piece's id then)."""

    id: str
    file: str
    line: int
    spec: Spec
    title: str = ""
    alt: str | None = None
    decorative: bool = False
    trim: Trim | None = None
    original: str | None = None
    keyline: bool = False
    waive: tuple[Waiver, ...] = ()
    copy_of: str | None = None
    crop: tuple[float, float, float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifest:
    """A manifest that has been read: the portfolio and its pieces, copies behind their piece.

    ``portfolio_spec`` is the spec that pieces have by default, and that gives the levels and points of
    the portfolio's own rules; ``line`` is that of the [portfolio] table.
    """

    portfolio: Portfolio
    portfolio_spec: Spec
    line: int
    pieces: tuple[Piece, ...]
