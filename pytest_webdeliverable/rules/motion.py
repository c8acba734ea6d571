"""Rules on moving pictures."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Final

from pytest_webdeliverable.manifest.model import Animation
from pytest_webdeliverable.rules.base import Case, Family, PieceRule, Verdict, fails, holds

if TYPE_CHECKING:
    from pytest_webdeliverable.manifest.model import Piece
    from pytest_webdeliverable.measure.facts import Facet

CAUTION: Final = (
    "Flashing can cause seizures: do not publish it. This check is no medical or regulatory test; where "
    "rules for broadcast or events apply, have it tested by them."
)


class SingleFrame(PieceRule):
    """The file holds one picture, or no more frames than allowed."""

    family: ClassVar[Family] = "motion"

    def applies(self, piece: Piece) -> bool:
        animation = piece.spec.animation
        limited = isinstance(animation, Animation) and animation.frames is not None
        return animation is False or limited

    def check(self, case: Case) -> Verdict:
        animation = case.spec.animation
        most = (animation.frames or 1) if isinstance(animation, Animation) else 1
        found = case.measured["header"]["frames"] or 1
        one, several = ("picture", "pictures") if most == 1 else ("frame", "frames")
        asked = "one" if most == 1 else f"at most {most}"
        message = (
            f"the file holds {found} {one if found == 1 else several}, the spec asks for {asked}"
        )
        if found <= most:
            return holds(message, frames=found)
        return fails(
            message,
            "Go back to the original and export a single picture."
            if most == 1
            else "Go back to the original and export it with fewer frames.",
            frames=found,
        )


class Flash(PieceRule):
    """The animation does not flash more often than allowed.

    General and red flashes by WCAG 2.2, SC 2.3.1, over the real frame times and through the seam of the
    loop; frames of 10 ms or less count as the 100 ms that browsers show. This is no medical or
    regulatory test.
    """

    family: ClassVar[Family] = "motion"
    needs: ClassVar[frozenset[Facet]] = frozenset({"motion"})

    def applies(self, piece: Piece) -> bool:
        animation = piece.spec.animation
        return isinstance(animation, Animation) and animation.flashes is not None

    def check(self, case: Case) -> Verdict:
        animation = case.spec.animation
        assert isinstance(animation, Animation), "applies() looked"
        most = animation.flashes or 0.0
        motion = case.measured["motion"]
        for kind in ("general", "red"):
            facts = motion["general"] if kind == "general" else motion["red"]
            if facts["flashes_per_second"] > most:
                return fails(
                    f"{facts['flashes_per_second']:g} {kind} flashes in one second, at "
                    f"{facts['at']:.1f} s, over {facts['area']:,.0f} px; at most {most:g} are allowed",
                    CAUTION,
                    kind=kind,
                    flashes_per_second=facts["flashes_per_second"],
                )
        if motion["undecided"]:
            return fails(f"flashes cannot be counted: {motion['undecided']}", CAUTION)
        return holds(f"no more than {most:g} flashes in any one second")
