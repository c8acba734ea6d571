"""A spec that switches every rule on, a piece, and facts of a picture in which each of them holds."""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

from pytest_webdeliverable.manifest.model import (
    Alt,
    Animation,
    Edges,
    History,
    Jpeg,
    Piece,
    Print,
    Privacy,
    Spec,
)
from pytest_webdeliverable.manifest.quantities import parse_length, parse_trim
from pytest_webdeliverable.rules import registry
from pytest_webdeliverable.rules.base import Case, PieceRule, Verdict

RULES = registry()

ALT = "Poster: twelve tide curves in ink blue climb a cream sheet"
SPEC = Spec(
    name="all",
    formats=("jpeg", "png"),
    file_name="{family}-{piece}",
    weight=1_000_000,
    box=(1600, 1200),
    ppi=72,
    print_=Print(ppi=300, bleed=parse_length("3 mm")),
    color_mode=("rgb",),
    bit_depth=8,
    profile="srgb",
    transparency=False,
    jpeg=Jpeg(process="baseline", quality=90, chroma=("4:4:4",)),
    edges=Edges(gap=True, outline=True, margin=True),
    blank=False,
    history=History(resaved=False, cropped=False, enlarged=False),
    privacy=Privacy(location=False, device=False, preview=False),
    credit=("creator", "copyright"),
    orientation_flag=False,
    animation=Animation(frames=10, flashes=3),
    alt=Alt(required=True, longest=250),
)
PIECE = Piece(
    id="tide", file="images/quill-tide.jpg", line=1, spec=SPEC, alt=ALT, trim=parse_trim("4 x 3 in"),
)  # fmt: skip
GOOD: dict[str, Any] = {
    "file": {
        "name": "images/quill-tide.jpg",
        "on_disk": "images/quill-tide.jpg",
        "bytes": 1_000_000,
        "sha256": "a" * 64,
    },
    "header": {
        "format": "jpeg",
        "width": 1600,
        "height": 1200,
        "stored": [1600, 1200],
        "orientation": None,
        "mode": "rgb",
        "bits": 8,
        "alpha": False,
        "indexed": False,
        "frames": 1,
        "densities": [{"place": "JFIF", "x": 72.0, "y": 72.0}],
        "jpeg": {
            "process": "baseline",
            "coding": "huffman",
            "marker": "SOF0",
            "scans": 1,
            "sampling": "4:4:4",
            "quality": {"value": 90, "exact": True, "luma": 90, "chroma": 90},
        },
    },
    "color": {
        "source": "icc",
        "srgb": True,
        "embedded": True,
        "profile": {"description": "anything"},
        "reason": "the embedded profile is sRGB by its numbers",
        "fits": True,
        "conflicts": [],
        "problems": [],
    },
    "metadata": {
        "location": [],
        "device": [],
        "credit": {
            "creator": {"Exif": ["Mara"], "XMP": ["Mara"]},
            "copyright": {"XMP": ["(c)"]},
            "disagree": [],
        },
        "orientation": None,
        "alt_text": None,
        "problems": [],
        "previews": [],
    },
    "pixels": {"see_through": 0.0, "digest": "x"},
    "edges": {
        "gaps": [],
        "outline": None,
        "margins": None,
        "blank": {"flat": False, "color": "#808080", "spread": 90},
    },
    "history": {
        "resaved": {"found": False, "score": 0.0, "threshold": 1.0, "first-quality": None},
        "cropped": {"found": False, "score": 0.0, "offset": None},
        "enlarged": {"found": False, "score": 0.0, "factor": None},
    },
    "motion": {
        "frames": 10,
        "counted": True,
        "seconds": 1.0,
        "plays": 0,
        "general": {"flashes_per_second": 3.0, "area": 30000, "at": 0.0},
        "red": {"flashes_per_second": 0.0, "area": 0, "at": 0.0},
        "undecided": None,
    },
}


def changed(path: str, value: Any) -> dict[str, Any]:
    """Sound facts with one of them changed; the path is keys joined by dots."""
    facts = copy.deepcopy(GOOD)
    *above, last = path.split(".")
    place: Any = facts
    for key in above:
        place = place[int(key) if isinstance(place, list) else key]
    place[int(last) if isinstance(place, list) else last] = value
    return facts


def verdict(rule: str, measured: dict[str, Any] | None = None, **piece: Any) -> Verdict:
    """Verdict of a rule on one piece; keys of a spec change the spec."""
    judge = RULES[rule]
    assert isinstance(judge, PieceRule)
    spec = {key: piece.pop(key) for key in list(piece) if key != "alt" and hasattr(SPEC, key)}
    judged = replace(PIECE, spec=replace(SPEC, **spec), **piece)
    assert judge.applies(judged), "the rule is on"
    return judge.check(Case(piece=judged, measured=measured or GOOD))  # type: ignore[arg-type]
