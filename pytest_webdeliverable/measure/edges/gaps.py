"""Gaps: page color between the art and the edge of the picture.

Each side is asked for whole lines of page color and for a part-covered outermost line, each corner for a
nick. What was found is then weighed: a gap one cannot see, or one that the picture explains by itself, is
no fault.
"""

from __future__ import annotations

from statistics import fmean, pstdev
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.edges import color
from pytest_webdeliverable.measure.edges.color import Ycc, rgb
from pytest_webdeliverable.measure.edges.lean import lean
from pytest_webdeliverable.measure.edges.nick import CORNERS, Nick, find_nick
from pytest_webdeliverable.measure.edges.pages import page_colors
from pytest_webdeliverable.measure.edges.part import (
    BLACK,
    WHITE,
    PartRun,
    noise_of,
    part_run,
    restless,
    rival,
    unknown_page,
)
from pytest_webdeliverable.measure.edges.profile import Profile, alpha_profile, lines_of
from pytest_webdeliverable.measure.edges.repeats import BETWEEN, follows_art, repeats, turns_inward
from pytest_webdeliverable.measure.edges.strips import side_length, strip
from pytest_webdeliverable.measure.edges.types import SIDES, Gap, Side
from pytest_webdeliverable.measure.edges.weigh import (
    LONG,
    LOUDER,
    SHORT,
    nick_counts,
    part_counts,
    whole_counts,
)
from pytest_webdeliverable.measure.edges.whole import Run, candidates, long_enough

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from PIL import Image

OPAQUE: Final = 250
"""Alpha (0..255) from which a pixel counts as opaque: lossy alpha is a few codes off."""
WHITE_RGB: Final = (255, 255, 255)
BLACK_RGB: Final = (0, 0, 0)
SAME_DEPTH: Final = 0.3
"""px by which two runs side by side may differ and be as deep as each other."""
TWO_COLORS: Final = 10.0
"""CIEDE2000 from which two pages are two colors, whatever compression did to them."""


def _apart(one: Run, other: Run) -> bool:
    """Return whether two runs share less than a third of the shorter one."""
    shared = min(one.last, other.last) - max(one.first, other.first)
    return shared < min(one.last - one.first, other.last - other.first) / 3


def _without_doubles(runs: list[Run]) -> list[Run]:
    kept: list[Run] = []
    for run in sorted(runs, key=lambda one: -one.told):
        if all(_apart(run, other) for other in kept):
            kept.append(run)
    return kept


def _patchwork(run: Run, other: Run, count: int) -> bool:
    """Return whether two short runs side by side are as deep as each other in two colors: a page has one."""
    touching = min(abs(run.last - other.first), abs(other.last - run.first)) <= 1
    return (
        touching
        and max(run.told, other.told) < SHORT * count
        and abs(run.depth - other.depth) <= SAME_DEPTH
        and color.difference(rgb(run.page), rgb(other.page)) >= TWO_COLORS
    )


def _part_runs(lines: Profile, wholes: Sequence[Run]) -> list[PartRun]:
    """Return the best part-covered stretch of a side, if one counts."""
    if not restless(lines):
        return []
    noise = noise_of(lines)
    pages = [WHITE, BLACK, *(run.page for run in wholes), *unknown_page(lines, noise)]
    runs = [run for page in pages if (run := part_run(lines, page, noise)) is not None]
    runs = [run for run in runs if part_counts(run, lines.count)]
    for run in sorted(runs, key=lambda one: -one.speaks)[:2]:
        if pstdev(lines.luma[2][run.first : run.last]) < DRAWN_ART and (
            follows_art(lines, run.first, run.last, 2, run.line)
            or turns_inward(lines, run.first, run.last, 0, run.line)
        ):
            continue
        if run.speaks >= LOUDER * rival(lines, run.page, noise):
            return [run]
    return []


FLAT_ART: Final = 8.0
"""Codes of variation below which art is flat: there a part-covered line looks like a whole one of
another color."""
DRAWN_ART: Final = 2.5
"""Codes of variation below which art is one drawn color: panels and shapes that have borders."""
SURE_MIX: Final = 0.8
"""How much of a line's offset a mix must explain to be preferred on flat art; 4:2:0 halves its chroma."""
HUE_SLACK: Final = 4.0
"""Codes of chroma by which a mixed line on flat art may miss the way from the art to the page."""
ECHO: Final = 0.1
"""Share of the art's variation that shows in the outermost line only if it is a mix."""
NEARLY_WHOLE: Final = 0.93
"""Share of page from which a mix on flat art is reported as a whole line."""
BLACK_PAGE, WHITE_PAGE = 10, 238
"""Codes of luma up to and from which a page is black, white or off-white, not one stripe more."""
EVEN: Final = 0.9
"""How evenly a stretch must be covered to be preferred to a wedge."""


def _on_the_way(part: PartRun) -> bool:
    """Return whether the line's chroma lies between the art's and that of the mix, as 4:2:0 leaves it."""
    share = (part.share_first + part.share_last) / 2
    for band in (1, 2):
        goal = share * (part.page[band] - part.art[band])
        moved = part.line[band] - part.art[band]
        low, high = sorted((0.4 * goal, goal))
        if not low - HUE_SLACK <= moved <= high + HUE_SLACK:
            return False
    return True


def _echo(lines: Profile, part: PartRun) -> float:
    """Return the slope of the outermost line's luma on the next line's: 0 for plain page, 1 for art."""
    inner, outer = lines.luma[1][part.first : part.last], lines.luma[0][part.first : part.last]
    middle = fmean(inner)
    spread = sum((value - middle) ** 2 for value in inner)
    joint = sum((a - middle) * b for a, b in zip(inner, outer, strict=True))
    return joint / spread if spread else 0.0


def _choose(
    lines: Profile, wholes: list[Run], parts: list[PartRun]
) -> tuple[list[Run], list[PartRun]]:
    """Where both explain the outermost line, keep the one that explains it better."""
    for part in parts:
        rivals = [
            run
            for run in wholes
            if min(run.last, part.last) - max(run.first, part.first) > 0.3 * (run.last - run.first)
        ]
        if not rivals:
            continue
        length = part.last - part.first
        covered = sum(run.last - run.first for run in rivals)
        best = max(rivals, key=lambda one: one.told)
        even = part.share_first == part.share_last and part.agree >= EVEN
        one_line = all(run.depth <= 1.4 if run.straight else even for run in rivals)
        share = max(part.share_first, part.share_last)
        if best.spread < FLAT_ART:
            keep_part = part.told >= SURE_MIX and share < NEARLY_WHOLE and _on_the_way(part)
        else:
            keep_part = _echo(lines, part) >= ECHO
        keep_part = keep_part and length >= 0.75 * covered
        keep_part = one_line and (keep_part or covered < 0.75 * length or len(rivals) > 2)
        if keep_part:
            return [run for run in wholes if run not in rivals], parts
        return wholes, [one for one in parts if one is not part]
    return wholes, parts


def _gap(
    side: Side,
    lines: Profile,
    ends: tuple[int, int],
    depth: float,
    *,
    page: Sequence[float],
    seen: float,
) -> Gap:
    step = lines.segment / lines.length
    return {
        "side": side,
        "depth": round(depth, 2),
        "start": round(ends[0] * step, 4),
        "end": round(min(1.0, ends[1] * step), 4),
        "color": color.name(page),
        "delta-e": round(seen, 1),
    }


def _explained(picture: Image.Image, lines: Profile, run: Run) -> bool:
    """Return whether the picture explains a run by stripes, checks or lines parallel to the side."""
    flat = run.spread < FLAT_ART
    if run.spread < DRAWN_ART and (
        follows_art(lines, run.first, run.last, int(run.depth) + 2, run.page)
        or turns_inward(lines, run.first, run.last, int(run.depth), run.page)
    ):
        return True
    if flat or run.told < LONG * lines.count or run.ground >= BETWEEN:
        plain = BLACK_PAGE < run.page[0] < WHITE_PAGE
        return (flat and plain and run.banded) or repeats(picture, lines, run)
    return False


def _whole(picture: Image.Image, lines: Profile, page: Ycc) -> Run | None:
    """Return the run of a page color that counts as a gap, or None."""
    for run in candidates(lines, page):
        for view in dict.fromkeys((lean(lines, run), run)):
            if (
                long_enough(view, lines)
                and whole_counts(view, lines.count)
                and not _explained(picture, lines, view)
            ):
                return view
    return None


def _side_gaps(picture: Image.Image, side: Side, lines: Profile) -> list[Gap]:
    found = [_whole(picture, lines, page) for page in page_colors(lines)]
    wholes = _without_doubles([run for run in found if run is not None])
    wholes = [
        run for run in wholes if not any(_patchwork(run, other, lines.count) for other in wholes)
    ]
    wholes, parts = _choose(lines, wholes, _part_runs(lines, wholes))
    gaps = [
        _gap(side, lines, (run.first, run.last), run.depth, page=rgb(run.page), seen=run.seen)
        for run in wholes
    ]
    for part in parts:
        depth = max(part.share_first, part.share_last)
        ends = part.first, part.last
        gaps.append(_gap(side, lines, ends, depth, page=rgb(part.page), seen=part.seen))
    return gaps


def _clear_gaps(picture: Image.Image, alpha: Image.Image, side: Side) -> list[Gap]:
    """Return the stretches where something clear ends at one depth and opaque art begins."""
    lines = alpha_profile(alpha, side)
    gaps = []
    found = [run for page in page_colors(lines) for run in candidates(lines, page)[:1]]
    for run in _without_doubles(
        [
            one
            for one in found
            if long_enough(one, lines) and whole_counts(one, lines.count, alpha=True)
        ]
    ):
        if run.page[0] >= OPAQUE or run.art[0] < OPAQUE - 6:
            continue
        depth = run.depth
        if depth < 1.1 and run.page[0] > 5:
            # One half-clear line: a whole line half clear, or a line covered in part. It cannot be
            # told which; the middle of both is at most half a pixel off.
            depth = 1 - run.page[0] / 510
        beside = strip(picture, side, min(int(run.depth) + 3, *picture.size))
        art = beside.convert("RGB").reduce((beside.width, 1)).tobytes()[-3:]
        seen = max(color.difference(art, WHITE_RGB), color.difference(art, BLACK_RGB))
        gap = _gap(side, lines, (run.first, run.last), depth, page=WHITE_RGB, seen=seen)
        gap["color"] = "transparent"
        gap["alpha"] = round(run.page[0] / 255, 3)
        gaps.append(gap)
    return gaps


def _nick_gaps(picture: Image.Image, taken: list[Gap]) -> list[Gap]:
    """Return nicks, as a short gap on each of their two sides, where no gap reaches the corner."""
    nicks = [nick for corner in CORNERS if (nick := find_nick(picture, corner))]
    gaps: list[Gap] = []
    for nick in nicks:
        if not nick_counts(nick, nicks) or any(_reaches(gap, nick) for gap in taken):
            continue
        seen = color.difference(nick.page, nick.art)
        for side, along, deep in (
            (nick.corner[0], nick.across, nick.down),
            (nick.corner[1], nick.down, nick.across),
        ):
            other = nick.corner[1] if side == nick.corner[0] else nick.corner[0]
            share = along / side_length(picture.size, side)
            start = 0.0 if other in {"left", "top"} else 1 - share
            gap: Gap = {
                "side": side,
                "depth": round(deep, 2),
                "start": round(start, 4),
                "end": round(start + share, 4),
                "color": color.name(nick.page),
                "delta-e": round(seen, 1),
            }
            if len(nick.page) == 4 and nick.page[3] < OPAQUE:
                gap["color"] = "transparent"
                gap["alpha"] = round(nick.page[3] / 255, 3)
            gaps.append(gap)
    return gaps


def _reaches(gap: Gap, nick: Nick) -> bool:
    """Return whether a gap runs into a nick's corner."""
    if gap["side"] == nick.corner[0]:
        return gap["start"] <= 0.02 if nick.corner[1] == "left" else gap["end"] >= 0.98
    if gap["side"] == nick.corner[1]:
        return gap["start"] <= 0.02 if nick.corner[0] == "top" else gap["end"] >= 0.98
    return False


def gap_facts(picture: Image.Image, profiles: Mapping[Side, Profile]) -> list[Gap]:
    """Return the gaps of all four sides, in the order left, top, right, bottom."""
    gaps: list[Gap] = []
    for side in SIDES:
        if picture.has_transparency_data:
            outer = strip(picture, side, lines_of(picture))
            alpha = outer.getchannel("A")
            if alpha.getextrema()[0] < OPAQUE:  # type: ignore[operator]
                gaps += _clear_gaps(picture, alpha, side)
                continue
        gaps += _side_gaps(picture, side, profiles[side])
    return gaps + _nick_gaps(picture, gaps)
