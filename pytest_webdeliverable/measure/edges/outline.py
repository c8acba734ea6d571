"""A thin frame left near the border: a helper shape nobody removed.

One line of one color runs parallel to three or four sides, at the same distance; the art goes on outside
it as it does inside, and the line stops where it meets the neighboring sides' lines.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import fmean, median
from typing import TYPE_CHECKING, Final

from PIL import ImageStat

from pytest_webdeliverable.measure.edges import color
from pytest_webdeliverable.measure.edges.color import distance, rgb
from pytest_webdeliverable.measure.edges.profile import at_line

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pytest_webdeliverable.measure.edges.color import Rgb, Ycc
    from pytest_webdeliverable.measure.edges.profile import Profile
    from pytest_webdeliverable.measure.edges.types import Outline, Side

FARTHEST: Final = 17
"""Lines from the edge up to which a frame starts: an inset of 16 px."""
WIDEST: Final = 5
"""px; a wider band is a part of the art."""
STILL: Final = 24
"""Codes of luma a frame's line may vary along a side after lossy compression."""
LIKE: Final = 12.0
"""Codes by which the lines of two sides may differ in color."""
SEEN: Final = 10.0
"""Codes by which a frame differs from the art on both sides of it."""
CLEAR_OF_IT: Final = 0.6
"""Share of the segments in which it does."""
ENDS: Final = 0.06
"""Share of a side left out at both ends, where the neighboring lines run."""
FEWEST_SIDES: Final = 3
"""Sides on which a line must stand to be a frame; two lines alone may be part of the art."""


@dataclass(frozen=True, slots=True)
class Line:
    """A still line parallel to a side: px outside it and of it, its color and the art's beside it."""

    inset: int
    width: int
    color: Ycc
    art: Ycc
    shown: Rgb
    """Its color as R, G, B, from its pixels."""
    stops: tuple[bool, bool]
    """Whether it stops before the side's first and last corner."""


def _mean(profile: Profile, line: int, places: range) -> Ycc:
    return (
        fmean(profile.luma[line][places.start : places.stop]),
        fmean(profile.blue[line][places.start : places.stop]),
        fmean(profile.red[line][places.start : places.stop]),
    )


def _lines(profile: Profile) -> list[Line]:
    """Return the still lines of a side on both sides of which the same art goes on."""
    skip = max(2, round(ENDS * profile.count))
    places = range(skip, profile.count - skip)
    if len(places) < 8:
        return []
    # One line beyond a line is a mix, the next one is art.
    last = min(FARTHEST + WIDEST, profile.lines - 2)
    still = []
    for line in range(1, last):
        row = profile.luma[line][places.start : places.stop]
        still.append(max(row) - min(row) <= STILL)
    found = []
    for line in range(1, min(FARTHEST + 1, last)):
        if not still[line - 1]:
            continue
        ink = _mean(profile, line, places)
        if still[max(0, line - 2)] and distance(ink, _mean(profile, line - 1, places)) < SEEN / 2:
            continue
        width = 1
        while (
            line + width < last
            and still[line + width - 1]
            and distance(ink, _mean(profile, line + width, places)) < SEEN / 2
        ):
            width += 1
        if width > WIDEST:
            continue
        # One line on each side may be a mix of frame and art.
        outer, inner = max(0, line - 2), line + width + 1
        offs = [
            (
                distance(ink, at_line(profile, outer, at)),
                distance(ink, at_line(profile, inner, at)),
                distance(at_line(profile, outer, at), at_line(profile, inner, at)),
            )
            for at in places
        ]
        seen = sum(min(out, into) >= SEEN for out, into, _ in offs)
        goes_on = median(across for _, _, across in offs) < 0.5 * median(
            min(out, into) for out, into, _ in offs
        )
        if seen >= CLEAR_OF_IT * len(offs) and goes_on:
            box = skip * profile.segment, line, (profile.count - skip) * profile.segment, line + 1
            red, green, blue = ImageStat.Stat(profile.pixels.crop(box)).mean
            art = _mean(profile, inner, places)
            ends = _stops(profile, line, ink)
            found.append(Line(line, width, ink, art, (red, green, blue), ends))
    return found


def _stops(profile: Profile, line: int, ink: Ycc) -> tuple[bool, bool]:
    """Return whether the line stops before the corners, as a frame's does and a stripe's does not."""
    reach = line - 1
    if reach < 2:
        return True, True
    row = profile.pixels.crop((0, line, profile.length, line + 1)).convert("YCbCr")
    ends = (row.crop((0, 0, reach, 1)), row.crop((profile.length - reach, 0, profile.length, 1)))
    apart = []
    for end in ends:
        data = end.tobytes()
        apart.append(distance(ink, (fmean(data[0::3]), fmean(data[1::3]), fmean(data[2::3]))))
    return apart[0] >= SEEN / 2, apart[1] >= SEEN / 2


NEIGHBOURS: Final[dict[Side, tuple[Side, Side]]] = {
    "left": ("top", "bottom"),
    "right": ("top", "bottom"),
    "top": ("left", "right"),
    "bottom": ("left", "right"),
}
"""The sides at a side's first and last corner."""


def _closed(lines: Mapping[Side, Line]) -> bool:
    """Return whether each line stops where it meets a neighbor's."""
    return all(
        stops
        for side, line in lines.items()
        for neighbor, stops in zip(NEIGHBOURS[side], line.stops, strict=True)
        if neighbor in lines
    )


def outline_facts(profiles: Mapping[Side, Profile]) -> Outline | None:
    """Return the frame near the border, or None."""
    lines = {side: _lines(profile) for side, profile in profiles.items()}
    if sum(bool(found) for found in lines.values()) < FEWEST_SIDES:
        return None
    best: dict[Side, Line] = {}
    for one in (line for found in lines.values() for line in found):
        matching = {
            side: match
            for side, found in lines.items()
            if (
                match := next(
                    (
                        other
                        for other in found
                        if abs(other.inset - one.inset) <= 1
                        and abs(other.width - one.width) <= 1
                        and distance(other.color, one.color) <= LIKE
                    ),
                    None,
                )
            )
        }
        if len(matching) > len(best) and _closed(matching):
            best = matching
    if len(best) < FEWEST_SIDES:
        return None
    ink = max(best.values(), key=lambda line: distance(line.color, line.art))
    return {
        "sides": list(best),
        "inset": float(median(line.inset for line in best.values())),
        "width": float(median(line.width for line in best.values())),
        "color": color.name(ink.shown),
        "delta-e": round(color.difference(ink.shown, rgb(ink.art)), 1),
    }
