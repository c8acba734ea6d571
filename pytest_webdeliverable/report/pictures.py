"""Which pictures the proof sheet shows of each piece, and making them within a budget.

The page is one file, so every picture in it is a data URI. A small portfolio gets all four edges and
a large view of everything; the more pieces, the more is kept for those that need a look.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING, Any, Final

from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS
from pytest_webdeliverable.report.studio import Job, make_proofs
from pytest_webdeliverable.report.words import verdict_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from pytest_webdeliverable.measure.edges import Side
    from pytest_webdeliverable.measure.limits import Limits
    from pytest_webdeliverable.measure.proof import Encoded, Proof, Wish

# Our own choices, no source: chosen by looking at pages of 12, 60 and 500 pieces.
FEW: Final = 60
"""Pieces up to which everything is shown of each."""
MANY: Final = 150
"""Pieces up to which those that hold still get a large view."""
THUMB: Final = 360
SMALL_THUMB: Final = 240
"""Long side of a picture on the wall, in px."""
LARGE: Final = 1400
MEDIUM: Final = 900
"""Long side of a picture to look at, in px."""
MOST_LARGE: Final = 60
"""Large pictures on a page of more than ``MANY`` pieces."""
DEPTH: Final = 12
"""Px into the picture that an edge strip shows; 96 px on the screen, 8 times enlarged."""
DEEPEST: Final = 40
"""The same for a deep gap."""
BEYOND: Final = 8
"""Px of art shown behind a gap."""
LONGEST: Final = 1600
"""Px along a side that a strip shows, where everything is shown."""
WINDOW: Final = 160
"""The same on a page of many pieces."""
WHOLE: Final = 0.005
"""Share of a side that may be missing where a gap counts as reaching its end."""
PAGE_BYTES: Final = 40_000_000
"""Most bytes of all pictures of a page, as they stand in it."""

Homes = Mapping[str, tuple["Path", "Path"]]
"""By manifest: the root that no path may leave, and the folder that paths start from."""

SIDES: Final[tuple[Side, ...]] = ("top", "left", "right", "bottom")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A picture as it stands in the page."""

    uri: str
    width: int
    height: int


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeStrip:
    """One edge: which part of the side the picture shows, in px."""

    side: Side
    start: int
    end: int
    depth: int
    picture: Shown


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictures:
    """All pictures of one piece."""

    thumb: Shown
    large: Shown | None
    strips: tuple[EdgeStrip, ...]


@dataclass(frozen=True, slots=True)
class Album:
    """Pictures by manifest and piece; ``left_out`` says in a sentence what is not there, or ""."""

    pictures: dict[tuple[str, str], Pictures]
    left_out: str = ""


def make_album(
    report: dict[str, Any], homes: Homes, workers: int, limits: Limits = DEFAULT_LIMITS
) -> Album:
    """Read the pieces' files again, below their manifests' roots, and make their pictures."""
    jobs = list(_jobs(report, homes))
    proofs = make_proofs(jobs, workers, limits)
    made = {
        job.key: _pictures(one) for job, one in zip(jobs, proofs, strict=True) if one is not None
    }
    reduced, cut = _within(made, PAGE_BYTES)
    return Album(reduced, _left_out(len(jobs), cut=cut))


def _jobs(report: dict[str, Any], homes: Homes) -> Iterator[Job]:
    pieces = [
        (manifest["manifest"], piece)
        for manifest in report["manifests"]
        for piece in manifest["pieces"]
        if {"header", "color"}.issubset(piece["measured"])
        and "problem" not in piece["measured"]
        and {"file", "sha256"}.issubset(piece)
    ]
    larges = 0
    for manifest, piece in pieces:
        root, folder = homes[manifest]
        wish = _wish(piece, len(pieces), larges)
        larges += wish.large > 0
        yield Job((manifest, piece["id"]), root, folder, piece["file"], piece["sha256"], wish)


def _wish(piece: dict[str, Any], count: int, larges: int) -> Wish:
    from pytest_webdeliverable.measure.proof import Wish

    look = verdict_of(piece["checks"]) in {"failed", "advised", "waived"}
    if count <= FEW:
        large = LARGE
    elif count <= MANY:
        large = MEDIUM
    else:
        large = MEDIUM if look and larges < MOST_LARGE else 0
    color = piece["measured"]["color"]
    return Wish(
        thumb=THUMB if count <= MANY else SMALL_THUMB,
        large=large,
        cuts=tuple(_cuts(piece["measured"], count)),
        convert=color["embedded"]
        and color["fits"]
        and color["srgb"] is False
        and not color["problems"],
        orientation=piece["measured"]["header"]["orientation"],
    )


def _cuts(measured: dict[str, Any], count: int) -> Iterator[Any]:
    from pytest_webdeliverable.measure.proof import Cut

    width, height = measured["header"]["width"], measured["header"]["height"]
    gaps = measured.get("edges", {}).get("gaps", [])
    for side in SIDES:
        here = [gap for gap in gaps if gap["side"] == side]
        if not here and count > FEW:
            continue
        length, across = (width, height) if side in {"top", "bottom"} else (height, width)
        deepest = max((ceil(gap["depth"]) + BEYOND for gap in here), default=DEPTH)
        depth = min(max(DEPTH, deepest), DEEPEST, across)
        span = min(length, LONGEST if count <= FEW else WINDOW)
        start = min(max(0, round(where_to_look(here) * length) - span // 2), length - span)
        yield Cut(side=side, start=start, end=start + span, depth=depth)


def where_to_look(gaps: list[dict[str, Any]]) -> float:
    """Return the place along a side that shows most, 0 to 1: where its first gap starts or ends.

    The middle of a gap along the whole side, and of a side without a gap.
    """
    if not gaps:
        return 0.5
    start, end = float(gaps[0]["start"]), float(gaps[0]["end"])
    if start > WHOLE:
        return start
    return end if end < 1 - WHOLE else (start + end) / 2


def _pictures(made: Proof) -> Pictures:
    return Pictures(
        thumb=_shown(made.thumb),
        large=_shown(made.large) if made.large else None,
        strips=tuple(
            EdgeStrip(
                side=cut.side, start=cut.start, end=cut.end, depth=cut.depth, picture=_shown(one)
            )
            for cut, one in made.strips
        ),
    )


def _shown(picture: Encoded) -> Shown:
    uri = f"data:image/{picture.kind};base64,{picture.base64}"
    return Shown(uri=uri, width=picture.width, height=picture.height)


def _within(
    made: dict[tuple[str, str], Pictures], most: int
) -> tuple[dict[tuple[str, str], Pictures], bool]:
    """Keep to the budget in the order of the pieces: wall pictures first, then strips, then large."""
    left = most - sum(len(one.thumb.uri) for one in made.values())
    thumbs = left >= 0
    strips: dict[tuple[str, str], tuple[EdgeStrip, ...]] = {}
    cut = not thumbs
    for key, one in made.items():
        size = sum(len(strip.picture.uri) for strip in one.strips)
        fits = size <= left
        strips[key] = one.strips if fits else ()
        left -= size if fits else 0
        cut = cut or not fits
    kept: dict[tuple[str, str], Pictures] = {}
    for key, one in made.items():
        size = len(one.large.uri) if one.large else 0
        fits = size <= left
        left -= size if fits else 0
        cut = cut or not fits
        if thumbs:
            kept[key] = Pictures(
                thumb=one.thumb, large=one.large if fits else None, strips=strips[key]
            )
    return kept, cut


def _left_out(count: int, *, cut: bool) -> str:
    if cut:
        return "Some pictures are left out, so that this page stays light enough to open and send."
    if count > MANY:
        return (
            f"With more than {MANY} pieces, large views and magnified edges are here only for pieces "
            "that need a look."
        )
    if count > FEW:
        return f"With more than {FEW} pieces, magnified edges are here only where a gap was found."
    return ""
