"""The parts of a JPEG file as ITU-T T.81 names them, for the walk that finds them."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class Component:
    """One component of the frame: its id, sampling factors and quantization table number."""

    ident: int
    h: int
    v: int
    table: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """The start-of-frame segment (T.81 B.2.2). ``height`` may be 0: a DNL segment then gives it."""

    marker: int
    precision: int
    width: int
    height: int
    components: tuple[Component, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HuffmanTable:
    """What the checks need of a Huffman table: its first code, which is its shortest and all zeros.

    Codes of a table are given out in order (T.81 C.2), so the first symbol has the shortest code,
    and that code consists of zero bits.
    """

    length: int
    symbol: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanPart:
    """One component of a scan with the Huffman tables in force (None: not defined in the file)."""

    component: Component
    dc: HuffmanTable | None
    ac: HuffmanTable | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Scan:
    """One scan; ``start`` and ``end`` bound its entropy-coded data in the file.

    ``first``, ``last`` are the coefficients it carries, ``high`` and ``low`` the bit positions of
    successive approximation (T.81 B.2.3).
    """

    parts: tuple[ScanPart, ...]
    first: int
    last: int
    high: int
    low: int
    start: int
    end: int
    restart_interval: int
    has_restarts: bool


@dataclass(slots=True, kw_only=True)
class Walk:
    """All segments of one file, in order, and the position just behind its end marker."""

    frame: Frame | None = None
    segments: list[tuple[int, int, bytes]] = field(default_factory=list)
    """Application segments and comments: marker, file position of the payload, payload."""
    tables: dict[int, tuple[int, ...]] = field(default_factory=dict)
    """Quantization tables by number, entries in file order; the last of a number rules."""
    steps: dict[int, tuple[int, ...]] = field(default_factory=dict)
    """Those in force at the first scan of each component, by its id. A later one does not count:
    T.81 B.2.4.1 leaves it to the scans that follow, decoders keep the first (libjpeg's jdinput.c)."""
    beyond_baseline: bool = False
    """A table is there that baseline does not know: entries of 16 bits, or a third Huffman table of its
    kind (T.81 tables B.4 and B.5)."""
    scans: list[Scan] = field(default_factory=list)
    restart_interval: int = 0
    hierarchical: bool = False
    end: int | None = None
    problems: list[str] = field(default_factory=list)
