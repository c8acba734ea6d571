"""Which findings count: what a person can see, and what the picture does not explain by itself."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.edges import color
from pytest_webdeliverable.measure.edges.whole import DEEPEST, SHORTEST, rgb

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pytest_webdeliverable.measure.edges.nick import Nick
    from pytest_webdeliverable.measure.edges.part import PartRun
    from pytest_webdeliverable.measure.edges.whole import Run

SEEN_LONG: Final = 3.0
"""Least CIEDE2000 of a gap along much of a side. About 1 is just noticeable between large fields side by
side; a line a pixel or two wide needs more."""
SEEN_SHORT: Final = 5.0
"""Least CIEDE2000 of a shorter gap."""
SEEN_NICK: Final = 8.0
"""Least CIEDE2000 of a nick of a few pixels."""
LONG: Final = 0.3
"""Share of a side from which a gap counts as long."""
SHORT: Final = 0.12
"""Share of a side below which a gap must be plainer in every way."""


def whole_counts(run: Run, count: int, *, alpha: bool = False) -> bool:
    """Return whether a run of whole lines is a gap, not a part of the picture."""
    told = run.told / count
    if run.straight and run.depth > DEEPEST:
        return False
    # The page ends within a line; a picture's own edges are soft, or fade.
    if run.sharp < 0.7 or run.share < 0.75:
        return False
    # Stripes, dots and checks: the colour comes back further in.
    if run.back > (0.8 if told >= LONG else 0.5):
        return False
    # The page colour goes on beside the run: a shape on a ground, not a side cut short.
    if run.opens and told < 0.35:
        return False
    if alpha:
        return True
    seen = color.difference(rgb(run.page), rgb(run.art))
    if seen < (SEEN_LONG if told >= LONG and run.straight else SEEN_SHORT):
        return False
    # Page is one colour, pixel by pixel and from end to end.
    if run.grain > max(6.0, 0.15 * run.contrast) or abs(run.drift) > 5:
        return False
    if told >= SHORT:
        return True
    return (
        run.sharp >= 0.85
        and run.share >= 0.9
        and run.back <= 0.3
        and run.grain <= max(4.0, 0.08 * run.contrast)
        and abs(run.drift) <= 3
        and run.contrast >= 20
    )


def part_counts(run: PartRun, count: int) -> bool:
    """Return whether a part-covered line is a gap: seen, long enough, and unlike the lines inside."""
    return (
        run.last - run.first >= SHORTEST * count
        and run.agree >= 0.7
        and run.told >= 0.65
        and run.speaks >= 2.5 * run.rival
        and color.difference(rgb(run.line), rgb(run.art)) >= SEEN_LONG
    )


def nick_counts(nick: Nick, nicks: Sequence[Nick]) -> bool:
    """Return whether a nick is a fault: rounded corners that match are meant."""
    if nick.shape == "round" and any(
        other is not nick
        and other.shape == "round"
        and abs(other.across - nick.across) <= 1.5
        and abs(other.down - nick.down) <= 1.5
        for other in nicks
    ):
        return False
    if len(nick.page) == 4 and nick.page[3] < 200:
        return True
    return color.difference(nick.page, nick.art) >= SEEN_NICK
