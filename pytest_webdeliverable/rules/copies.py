"""Rules that compare a picture with the piece it is a copy of, or with its print master."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

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


class MatchesPiece(PieceRule):
    """A copy shows the same picture as its piece.

    Compared by structure and color at a small size, so that scaling and compression do not matter; whole,
    cut to the copy's shape around the centre, or by the declared ``crop``.
    """

    family: ClassVar[Family] = "file"
    needs: ClassVar[frozenset[Facet]] = frozenset({"likeness"})

    def applies(self, piece: Piece) -> bool:
        return piece.copy_of is not None

    def check(self, case: Case) -> Verdict:
        from pytest_webdeliverable.likeness import same_picture

        source = case.source
        if source is None or "likeness" not in source:
            return undecided(
                f"the piece {case.piece.copy_of} cannot be read, so nothing to compare"
            )
        likeness = same_picture(case.measured["likeness"], source["likeness"], case.piece.crop)
        if likeness["same"]:
            return holds(
                f"the copy shows the same picture as {case.piece.copy_of}", score=likeness["score"]
            )
        return fails(
            f"the copy does not show the same picture as {case.piece.copy_of}",
            f"See whether copies were swapped; export this one from the original of "
            f"{case.piece.copy_of}. A copy cut on purpose says which part with crop = [...].",
            score=likeness["score"],
        )
