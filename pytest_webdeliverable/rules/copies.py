"""Rules that compare a picture with the piece it is a copy of, or with its print master."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, ClassVar, Final

from pytest_webdeliverable.fit import keeps_ratio
from pytest_webdeliverable.likeness import compare_original, same_picture
from pytest_webdeliverable.rules.base import (
    Case,
    Family,
    PieceRule,
    Verdict,
    fails,
    holds,
    undecided,
)

if TYPE_CHECKING:
    from pytest_webdeliverable.manifest.model import Piece
    from pytest_webdeliverable.measure.facts import Facet

COLOR_CHANGE: Final = 8.0
"""Mean change of Y, Cb or Cr, in code values, that is more than a conversion between profiles makes;
common practice, no source."""

BEYOND: Final = 0.01
"""Share of a side by which a copy shows more than its original, beyond rounding; no source."""


class MatchesPiece(PieceRule):
    """A copy shows the same picture as its piece.

    Compared by structure and color at a small size, so that scaling and compression do not matter; whole,
    cut to the copy's shape around the center, or by the declared ``crop``.
    """

    family: ClassVar[Family] = "file"
    needs: ClassVar[frozenset[Facet]] = frozenset({"likeness"})

    def applies(self, piece: Piece) -> bool:
        return piece.copy_of is not None

    def check(self, case: Case) -> Verdict:
        source = case.source
        if source is None or "likeness" not in source:
            return undecided(
                f"the piece {case.piece.copy_of} cannot be read, so nothing to compare"
            )
        likeness = same_picture(case.measured["likeness"], source["likeness"], case.piece.crop)
        if likeness["same"]:
            return holds(
                f"the copy shows the same picture as the piece {case.piece.copy_of}",
                score=likeness["score"],
            )
        return fails(
            f"the copy does not show the same picture as the piece {case.piece.copy_of}",
            f"See whether copies were swapped; export this one from the original of "
            f"{case.piece.copy_of}. A copy cut on purpose says which part with crop = [...].",
            score=likeness["score"],
        )


class MatchesOriginal(PieceRule):
    """A web copy shows its print original: same shape within a pixel, same part, same colors.

    Compared at a small size. Where both are in git, a copy is also not older than its original. Colors of
    a CMYK original depend on how they are converted, and are left to the eye.
    """

    family: ClassVar[Family] = "file"
    needs: ClassVar[frozenset[Facet]] = frozenset({"likeness", "git"})

    def applies(self, piece: Piece) -> bool:
        return piece.original is not None

    def check(self, case: Case) -> Verdict:
        original = case.original
        if original is None or "likeness" not in original:
            reason = original["problem"]["text"] if original and "problem" in original else ""
            return undecided(f"the original cannot be compared: {reason}")
        facts = compare_original(case.measured["likeness"], original["likeness"])
        found: list[str] = []
        header, other = case.measured["header"], original["header"]
        ratio = Fraction(other["width"], other["height"])
        overshoot = case.spec.overshoot
        if not keeps_ratio(header["width"], header["height"], ratio, overshoot):
            found.append(
                f"its shape, {header['width']} x {header['height']} px, is not that of the original, "
                f"{other['width']} x {other['height']} px"
            )
        if not facts["same"]:
            across, down = facts["at"]
            found.append(
                f"it shows another picture, most clearly {across:.0%} from the left and {down:.0%} from "
                "the top"
            )
        elif facts["undecided"] is None and (facts["cropped"] or facts["shifted"]):
            found.append(_part_shown(facts["crop"]))
        if facts["color undecided"] is None and _shift(facts["color change"]) > COLOR_CHANGE:
            found.append("its colors have shifted")
        if (dates := _dates(case)) is not None:
            found.append("it was committed on {}, before its original changed on {}".format(*dates))
        if found:
            return fails(
                f"the copy differs from its original: {'; '.join(found)}", crop=facts["crop"]
            )
        return holds("the copy shows its original", score=facts["score"])


def _part_shown(crop: list[float]) -> str:
    """Say which part of the original a copy shows, and where it shows more than that."""
    left, top, right, bottom = (f"{min(1, max(0, edge)):.0%}" for edge in crop)
    outside = (-crop[0], -crop[1], crop[2] - 1, crop[3] - 1)
    sides = [
        side
        for side, beyond in zip(("left", "top", "right", "bottom"), outside, strict=True)
        if beyond > BEYOND
    ]
    more = f", and something beyond its edge ({', '.join(sides)})" if sides else ""
    return f"it shows {left} to {right} of the original's width and {top} to {bottom} of its height{more}"


def _shift(change: list[float]) -> float:
    return max(abs(value) for value in change)


def _dates(case: Case) -> tuple[str, str] | None:
    """Dates of copy and original, where the original changed after the copy was committed."""
    ours = case.measured.get("git")
    theirs = case.original.get("git") if case.original else None
    if not ours or not theirs or ours["committed"] is None or theirs["committed"] is None:
        return None
    if theirs["committed"] <= ours["committed"]:
        return None
    return ours["committed"][:10], theirs["committed"][:10]
