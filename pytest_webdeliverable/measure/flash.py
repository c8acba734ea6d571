"""Count flashes in an animation by WCAG 2.2, success criterion 2.3.1 (three flashes or below).

A general flash is a pair of opposing changes of relative luminance of 10 % or more of the maximum,
where the darker state is below 0.80. A red flash is a pair of opposing changes to and from a
saturated red: R/(R+G+B) is at least 0.8 in one state, and the states are more than 0.2 apart in the
CIE 1976 u'v' diagram. Changes are taken between turning points, so that a fade counts as what it
adds up to.

What is counted is changes within one second at one place, and the largest part of any field of
341 x 256 CSS px that changes so often; one pixel is taken as one CSS px. All places advance
together, as whole pictures of 32-bit floats.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, Final

from PIL import Image, ImageMath

from pytest_webdeliverable.measure.flash_area import (
    NO_FLASH,
    ONE_SECOND,
    QUARTER,
    FlashFacts,
    Tally,
)
from pytest_webdeliverable.measure.srgb import LINEAR, LUMINANCE_WEIGHTS, RGB_TO_XYZ_D65

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

STEP: Final = 0.1
"""Smallest change of relative luminance, of a maximum of 1 (WCAG 2.2, general flash)."""
DARKER_BELOW: Final = 0.8
"""Relative luminance that the darker state stays below (WCAG 2.2, general flash)."""
SATURATED: Final = 0.8
"""Least share of linear R in R+G+B of a saturated red (WCAG 2.2, red flash, note)."""
RED_STEP: Final = 0.2
"""Smallest distance in CIE 1976 u'v' (WCAG 2.2, red flash, note)."""
BLACK_BELOW: Final = 0.02
"""Linear R+G+B below which a color is taken as black: its chromaticity is undefined (0/0), so it
gets that of the white point. Our own choice, no source; a red of code 39 is as dark."""

_RED_UV: Final = (0.4507, 0.5229)
_WHITE_UV: Final = (0.1978, 0.4683)
"""u', v' of the red primary and of the white point of sRGB (IEC 61966-2-1, worked out)."""
_X, _Y, _Z = RGB_TO_XYZ_D65
_U_ABOVE: Final = tuple(4 * x for x in _X)
_V_ABOVE: Final = tuple(9 * y for y in _Y)
_UV_BELOW: Final = tuple(x + 15 * y + 3 * z for x, y, z in zip(_X, _Y, _Z, strict=True))
"""u' = 4X / (X + 15Y + 3Z), v' = 9Y / (X + 15Y + 3Z) (CIE 15), for linear R, G, B."""
_TO_MASK: Final = (0, *[255] * 255)
_RED_EXCESS: Final = (1 - SATURATED, -SATURATED, -SATURATED)
"""Positive or zero where R / (R + G + B) reaches SATURATED."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Film:
    """Frames of one size in RGB, each with the milliseconds that it is shown.

    ``endless`` tells whether the first frame follows the last; ``cell`` is the width and height
    in CSS px that one pixel of a frame stands for; ``least`` the CSS px that count as a flash.
    """

    frames: Sequence[Image.Image]
    milliseconds: Sequence[int]
    endless: bool
    cell: tuple[float, float] = (1.0, 1.0)
    least: float = QUARTER

    def showing(self) -> Iterator[tuple[int, int]]:
        """Yield frame number and start in ms: once through, and on into the next when endless.

        A second more shows what changes around the seam; up to another lets short animations settle
        into the states that they keep returning to.
        """
        period = sum(self.milliseconds)
        end = period + min(period, ONE_SECOND) + ONE_SECOND if self.endless else None
        start = 0
        while True:
            for number, shown in enumerate(self.milliseconds):
                yield number, start
                start += shown
                if end is not None and start >= end:
                    return
            if end is None:
                return


def _weighted(frame: Image.Image, weights: tuple[float, ...]) -> Image.Image:
    """Weighted sum of linear R, G, B of an 8-bit RGB frame."""
    red, green, blue = (
        band.point([weight * light for light in LINEAR], "F")
        for band, weight in zip(frame.split(), weights, strict=True)
    )
    return _evaluated(lambda x: x["red"] + x["green"] + x["blue"], red=red, green=green, blue=blue)


def _evaluated(expression: Callable[..., object], **pictures: Image.Image) -> Image.Image:
    result = ImageMath.lambda_eval(expression, **pictures)
    assert isinstance(result, Image.Image)
    return result


def _where(mask: Image.Image, there: Image.Image, elsewhere: Image.Image) -> Image.Image:
    """Take ``there`` where ``mask`` is 1 and ``elsewhere`` where it is 0."""
    result = elsewhere.copy()
    result.paste(there, mask=mask.convert("L").point(_TO_MASK, "1"))
    return result


def _large_enough(concerned: Image.Image, film: Film) -> tuple[int, int, int, int] | None:
    """Box of the places that are not 0, None where all of them together are too few to count."""
    places = ImageMath.lambda_eval(lambda x: x["a"] != 0, a=concerned).convert("L")
    number = sum(places.histogram()[1:])
    enough = number and number * film.cell[0] * film.cell[1] >= film.least
    return places.getbbox() if enough else None


def _first_turns(luminances: Sequence[Image.Image]) -> Image.Image:
    """Direction of the first change of every place: 1 up, -1 down, 0 never."""
    low = high = luminances[0]
    turns = Image.new("F", low.size)
    for now in luminances[1:]:
        low = _evaluated(lambda x: x["min"](x["low"], x["now"]), low=low, now=now)
        high = _evaluated(lambda x: x["max"](x["high"], x["now"]), high=high, now=now)
        turns = _evaluated(
            lambda x: (
                x["turns"]
                + (x["turns"] == 0)
                * (
                    (x["now"] - x["low"] >= STEP) * (x["low"] < DARKER_BELOW)
                    - (x["high"] - x["now"] >= STEP) * (x["now"] < DARKER_BELOW)
                )
            ),
            turns=turns,
            now=now,
            low=low,
            high=high,
        )
    return turns


def _general(film: Film) -> FlashFacts:
    """Follow the luminance of every place from turning point to turning point."""
    luminances = [_weighted(frame, LUMINANCE_WEIGHTS) for frame in film.frames]
    # the seam of a loop brings no first change: it only leads back
    turns = _first_turns(luminances)
    box = _large_enough(turns, film)
    if box is None:
        return NO_FLASH
    luminances = [luminance.crop(box) for luminance in luminances]
    # 1 where the last change was up: the extreme since then is the highest luminance.
    heading = _evaluated(lambda x: -x["turns"], turns=turns.crop(box))
    extreme = luminances[0]
    tally = Tally(film.cell, film.least, extreme.size)
    for number, start in islice(film.showing(), 1, None):
        now = luminances[number]
        beyond = _evaluated(lambda x: (x["n"] - x["e"]) * x["h"], n=now, e=extreme, h=heading)
        turned = _evaluated(
            lambda x: (x["beyond"] <= -STEP) * (x["min"](x["n"], x["e"]) < DARKER_BELOW),
            beyond=beyond,
            n=now,
            e=extreme,
        )
        further = _evaluated(lambda x: (x["b"] > 0) + x["t"], b=beyond, t=turned)
        extreme = _where(further, now, extreme)
        heading = _evaluated(lambda x: x["h"] * (1 - 2 * x["turned"]), h=heading, turned=turned)
        tally.add(turned.convert("L"), start)
    return tally.facts(sum(film.milliseconds))


@dataclass(frozen=True, slots=True)
class _Chroma:
    """Chromaticity of every place: u', v', distance from the red primary squared, 1 where red."""

    u: Image.Image
    v: Image.Image
    far: Image.Image
    red: Image.Image


def _saturated(frame: Image.Image) -> Image.Image:
    """Tell where a frame is a saturated red (1), and not so dark that it is black."""
    return _evaluated(
        lambda x: (x["excess"] >= 0) * (x["light"] >= BLACK_BELOW),
        excess=_weighted(frame, _RED_EXCESS),
        light=_weighted(frame, (1.0, 1.0, 1.0)),
    )


def _chroma(frame: Image.Image) -> _Chroma:
    bright = _evaluated(
        lambda x: x["light"] >= BLACK_BELOW, light=_weighted(frame, (1.0, 1.0, 1.0))
    )
    below = _weighted(frame, _UV_BELOW)
    u, v = (
        _evaluated(
            lambda x, white=white: x["bright"] * (x["above"] / x["below"] - white) + white,
            above=_weighted(frame, above),
            below=below,
            bright=bright,
        )
        for above, white in zip((_U_ABOVE, _V_ABOVE), _WHITE_UV, strict=True)
    )
    far = _evaluated(
        lambda x: (
            (x["u"] - _RED_UV[0]) * (x["u"] - _RED_UV[0])
            + (x["v"] - _RED_UV[1]) * (x["v"] - _RED_UV[1])
        ),
        u=u,
        v=v,
    )
    return _Chroma(u, v, far, _saturated(frame))


def _red(film: Film) -> FlashFacts:
    """Follow every place in and out of saturated red.

    Inside, the state to compare with is the one nearest to the red primary so far; outside, the one
    farthest from it.
    """
    ever = Image.new("F", film.frames[0].size)
    for frame in film.frames:
        ever = _evaluated(lambda x: x["max"](x["a"], x["b"]), a=ever, b=_saturated(frame))
    box = _large_enough(ever, film)
    if box is None:
        return NO_FLASH
    chromas = [_chroma(frame.crop(box)) for frame in film.frames]
    last = chromas[0]
    tally = Tally(film.cell, film.least, last.red.size)
    for number, start in islice(film.showing(), 1, None):
        now = chromas[number]
        turned = _evaluated(
            lambda x: (
                (
                    (x["u"] - x["last_u"]) * (x["u"] - x["last_u"])
                    + (x["v"] - x["last_v"]) * (x["v"] - x["last_v"])
                    > RED_STEP * RED_STEP
                )
                * (x["red"] != x["inside"])
            ),
            u=now.u,
            v=now.v,
            last_u=last.u,
            last_v=last.v,
            red=now.red,
            inside=last.red,
        )
        moved = _evaluated(
            lambda x: (
                x["turned"]
                + (x["red"] == x["inside"]) * ((x["last"] - x["far"]) * (x["red"] * 2 - 1) > 0)
            ),
            turned=turned,
            red=now.red,
            inside=last.red,
            last=last.far,
            far=now.far,
        )
        last = _Chroma(
            _where(moved, now.u, last.u),
            _where(moved, now.v, last.v),
            _where(moved, now.far, last.far),
            _where(turned, now.red, last.red),
        )
        tally.add(turned.convert("L"), start)
    return tally.facts(sum(film.milliseconds))


def count_flashes(film: Film) -> tuple[FlashFacts, FlashFacts]:
    """Return the general and the red flashes of an animation; a single frame has none."""
    if len(film.frames) < 2:
        return NO_FLASH, NO_FLASH
    return _general(film), _red(film)
