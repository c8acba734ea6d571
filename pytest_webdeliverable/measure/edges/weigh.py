"""Which findings count: what a person can see, and what the picture does not explain by itself."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.measure.edges import color
from pytest_webdeliverable.measure.edges.depths import DEEPEST

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pytest_webdeliverable.measure.edges.nick import Nick
    from pytest_webdeliverable.measure.edges.part import PartRun
    from pytest_webdeliverable.measure.edges.whole import Run

SEEN_LONG: Final = 4.0
"""Least CIEDE2000 of a gap along much of a side. About 1 is just noticeable between large fields side by
side; a line a pixel or two wide needs more."""
SEEN_SHORT: Final = 5.0
"""Least CIEDE2000 of a shorter gap."""
DARK_TINT: Final = 40
"""Codes between the channels of a nick up to which a dark color is page black with the art's chroma on it;
dark art often has a color of its own."""
SEEN_NICK: Final = 8.0
"""Least CIEDE2000 of a nick of a few pixels, white or black: what most pages are."""
SEEN_NICK_GRAY: Final = 15.0
"""The same for grays in between, which the corners of art show as well, and for larger patches of a
color."""
SEEN_NICK_COLOR: Final = 30.0
"""The same for a color in a few pixels, which corners of art show most."""
CLEAN_NICK: Final = 0.08
"""Mean difference of coverage up to which a nick fits its shape so well that chance hardly makes it: then it
need only be seen."""
SEEN_CLEAN_NICK: Final = 6.0
"""Least CIEDE2000 of such a nick."""
FAINT_NICK: Final = 18.0
"""Codes of contrast below which a nick must fit its shape like that: ringing leaves other shapes."""
SMALLEST_CLEAN: Final = 2.5
"""px of a nick's legs from which fitting a shape says something."""
SMALL_NICK: Final = 5.0
"""px below which a nick is a few pixels."""
MISFIT: Final = 0.2
"""Most mean difference of coverage from a square, triangle or rounding; nearly all of ours are below."""
NEAR_WHITE, NEAR_BLACK = 232, 34
"""Codes of luma from and up to which a page counts as white or black: 4:2:0 tints a small nick."""
NEUTRAL: Final = 40
"""Codes between the channels of a color up to which it counts as near neutral."""
MEANT: Final = 3.5
"""px from which two corners cut or rounded alike are one design."""
ALIKE: Final = 1.5
"""px by which the nicks of two corners may differ and still be one design."""
LARGEST_ROUND: Final = 12.5
"""px of a single rounded corner from which it is a shape of the art."""
HALF_CLEAR: Final = 200
"""Alpha (0..255) below which a corner is seen through."""
LASTING: Final = 0.6
"""Least share of the contrast a dozen lines further in that is there beside the edge."""
PLAIN_LASTING: Final = 0.3
"""The same beside a plain page: no gradient has one."""
PLAIN_LENGTH, PLAIN_SHARE, PLAIN_SHARP = 0.35, 0.95, 0.9
PLAIN_GRAIN, PLAIN_CONTRAST, PLAIN_RINGING = 2.0, 30.0, 0.06
"""What makes a page plain: told along this share of the side and in this share of its segments, with so
sharp an end, so few codes of grain (or so small a share of the contrast) and drift, and so much contrast."""
SHORTEST_PART: Final = 0.085
"""Least share of a side for a part-covered line: shorter ones are too like a picture's own edges."""
FAINT_SHARE: Final = 0.3
"""Share of page below which a part-covered line must be seen as plainly as a short gap: what sharpening and
resampling leave in the outermost line of a photograph is as faint."""
FAINT_LENGTH: Final = 0.5
"""Least share of its side along which such a line runs: where the page's edge falls within a pixel, it does
so along the whole side, while a leaning shape of the art grazes a part of it."""
LOUD: Final = 16.0
"""Least log likelihood for a part-covered line, twice that on a short stretch."""
LOUDER: Final = 2.5
"""How much louder the outermost line must speak for a mix than any line inside it."""
LONG: Final = 0.3
"""Share of a side from which a gap counts as long."""
SHORT: Final = 0.12
"""Share of a side below which a gap must be plainer in every way."""


def _plain(run: Run, count: int) -> bool:
    """Return whether a run is one plain color along its length, cut off straight and sharply.

    Gradients are none of that; stripes and lines further in may still make the contrast there less.
    """
    return (
        run.told >= PLAIN_LENGTH * count
        and run.share >= PLAIN_SHARE
        and run.sharp >= PLAIN_SHARP
        and run.grain <= max(PLAIN_GRAIN, PLAIN_RINGING * run.contrast)
        and abs(run.drift) <= PLAIN_GRAIN
        and run.contrast >= PLAIN_CONTRAST
    )


def whole_counts(run: Run, count: int, *, alpha: bool = False) -> bool:
    """Return whether a run of whole lines is a gap, not a part of the picture."""
    told = run.told / count
    if run.straight and run.depth > DEEPEST:
        return False
    # The page ends within a line; a picture's own edges are soft, or fade.
    if run.sharp < 0.7 or run.share < 0.75:
        return False
    # A gradient that starts at the edge goes on.
    if run.lasting < (PLAIN_LASTING if _plain(run, count) else LASTING):
        return False
    # Stripes, dots and checks: the color comes back further in.
    if run.back > (0.8 if told >= LONG else 0.5):
        return False
    # The page color goes on beside the run: a shape on a ground, not a side cut short.
    if run.opens and told < 0.35:
        return False
    if alpha:
        return True
    if run.seen < (SEEN_LONG if told >= LONG and run.straight else SEEN_SHORT):
        return False
    # Page is one color, pixel by pixel and from end to end.
    if run.grain > max(6.0, 0.15 * run.contrast) or abs(run.drift) > 6:
        return False
    if told >= SHORT:
        return True
    return (
        run.sharp >= 0.85
        and run.share >= 0.9
        and run.back <= 0.3
        and run.grain <= max(4.0, 0.05 * run.contrast)
        and abs(run.drift) <= 2.3
        and run.contrast >= 20
    )


def _ends_at_corner(run: PartRun, count: int) -> bool:
    """Return whether a wedge is deepest at an end of the side: turned art leaves no other."""
    first, last = run.share_first, run.share_last
    near = max(3, round(0.06 * count))
    return run.first <= near if first > last else run.last >= count - near


def part_counts(run: PartRun, count: int) -> bool:
    """Return whether a part-covered line is a gap: seen, long, loud and even enough."""
    length = (run.last - run.first) / count
    faint = max(run.share_first, run.share_last) < FAINT_SHARE
    return (
        length >= (FAINT_LENGTH if faint else SHORTEST_PART)
        and run.speaks >= (LOUD if length >= LONG else 2 * LOUD)
        and (run.straight or _ends_at_corner(run, count))
        and run.agree >= 0.7
        and run.told >= 0.65
        and run.seen >= (SEEN_SHORT if faint else SEEN_LONG)
    )


def nick_counts(nick: Nick, nicks: Sequence[Nick]) -> bool:
    """Return whether a nick is a fault: corners rounded or cut alike are meant."""
    if (
        nick.shape != "square"
        and max(nick.across, nick.down) >= MEANT
        and any(
            other is not nick
            and other.shape != "square"
            and abs(other.across - nick.across) <= ALIKE
            and abs(other.down - nick.down) <= ALIKE
            for other in nicks
        )
    ):
        return False
    if nick.shape == "round" and max(nick.across, nick.down) > LARGEST_ROUND:
        return False
    if len(nick.page) == 4 and nick.page[3] < HALF_CLEAR:
        return True
    if nick.misfit > MISFIT:
        return False
    seen = color.difference(nick.page, nick.art)
    if nick.misfit <= CLEAN_NICK and min(nick.across, nick.down) >= SMALLEST_CLEAN:
        return seen >= SEEN_CLEAN_NICK
    if nick.contrast < FAINT_NICK:
        return False
    low, high = min(nick.page[:3]), max(nick.page[:3])
    red, green, blue = nick.page[:3]
    luma = 0.299 * red + 0.587 * green + 0.114 * blue
    plain = luma >= NEAR_WHITE or (luma <= NEAR_BLACK and high - low <= DARK_TINT)
    if high - low > NEUTRAL and not plain:
        least = SEEN_NICK_COLOR if max(nick.across, nick.down) < SMALL_NICK else SEEN_NICK_GRAY
    else:
        least = SEEN_NICK if plain else SEEN_NICK_GRAY
    return seen >= least
