"""The facts about a picture's edges, as plain JSON-able values."""

from __future__ import annotations

from typing import Final, Literal, NotRequired, TypedDict

Side = Literal["left", "top", "right", "bottom"]

SIDES: Final[tuple[Side, ...]] = ("left", "top", "right", "bottom")

# "delta-e" is the name the report uses (contract), which is no Python name.
Gap = TypedDict(
    "Gap",
    {
        "side": Side,
        "depth": float,
        "start": float,
        "end": float,
        "color": str,
        "alpha": NotRequired[float],
        "delta-e": float,
    },
)
"""A sliver of page color: depth in px (fractions allowed), start and end as fractions of the side
from left to right or top to bottom, color as ``#rrggbb`` or ``transparent`` (then with ``alpha``
0..1), and the CIEDE2000 difference to the art beside it."""

Outline = TypedDict(
    "Outline",
    {"sides": list[Side], "inset": float, "width": float, "color": str, "delta-e": float},
)
"""A thin frame near the border: inset is the px outside the line, width its own px."""


class Margin(TypedDict):
    """A flat band along one whole side: depth in px, color as ``#rrggbb`` or ``transparent``."""

    side: Side
    depth: float
    color: str


class Size(TypedDict):
    """Pixels across and down."""

    width: int
    height: int


class Margins(TypedDict):
    """Flat bands on opposite sides or all four, and the size of what lies between them."""

    bands: list[Margin]
    art: Size


class Blank(TypedDict):
    """Whether a picture is one color: its mean color and largest spread of a channel (0..255)."""

    flat: bool
    color: str
    spread: int


class EdgeFacts(TypedDict):
    """Everything measured along the four sides of one picture."""

    gaps: list[Gap]
    outline: Outline | None
    margins: Margins | None
    blank: Blank
