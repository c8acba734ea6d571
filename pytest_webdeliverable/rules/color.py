"""Rules on color: model, depth, profile, transparency."""

from __future__ import annotations

from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any, ClassVar, Final

from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.measure.icc import same_profile
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
    from pytest_webdeliverable.measure.color import ColorFacts
    from pytest_webdeliverable.measure.facts import Facet

MODES: Final = {
    "rgb": "RGB",
    "gray": "gray",
    "cmyk": "CMYK",
    "lab": "Lab",
    "other": "of an uncommon color model",
}


class ColorMode(PieceRule):
    """The picture is in an allowed color model.

    Browsers show CMYK pictures in wrong colors or not at all.
    """

    family: ClassVar[Family] = "color"

    def applies(self, piece: Piece) -> bool:
        return piece.spec.color_mode is not None

    def check(self, case: Case) -> Verdict:
        found = case.measured["header"]["mode"]
        allowed = case.spec.color_mode or ()
        wanted = " or ".join(MODES[mode] for mode in allowed)
        if found in allowed:
            return holds(f"the picture is {MODES[found]}", mode=found)
        return fails(
            f"the picture is {MODES[found]}, the spec asks for {wanted}",
            f"Go back to the original and export it as {wanted}.",
            mode=found,
        )


class BitDepth(PieceRule):
    """The picture has the asked number of bits per sample.

    A palette counts as 8, the depth of its entries (W3C PNG 3rd edition, sample depth).
    """

    family: ClassVar[Family] = "color"

    def applies(self, piece: Piece) -> bool:
        return piece.spec.bit_depth is not None

    def check(self, case: Case) -> Verdict:
        found = case.measured["header"]["bits"]
        asked = case.spec.bit_depth
        message = f"{found} bits per sample, the spec asks for {asked}"
        if found == asked:
            return holds(message, bits=found)
        return fails(
            message,
            f"Go back to the original and export it with {asked} bits per sample.",
            bits=found,
        )


class Transparency(PieceRule):
    """No pixel lets the page show through.

    On a page of another color than expected, see-through parts change how the work looks.
    """

    family: ClassVar[Family] = "color"
    needs: ClassVar[frozenset[Facet]] = frozenset({"pixels"})

    def applies(self, piece: Piece) -> bool:
        return piece.spec.transparency is False

    def check(self, case: Case) -> Verdict:
        share = case.measured["pixels"]["see_through"]
        if share:
            shown = f"{share:.1%}" if share >= 0.001 else "less than 0.1%"
            return fails(
                f"{shown} of the picture is see-through or half see-through",
                "Go back to the original, lay the art on its ground, and export it again.",
                share=round(share, 6),
            )
        if case.measured["header"]["alpha"]:
            return holds("there is a transparency channel, and it is opaque everywhere")
        return holds("the picture is opaque")


class ColorProfile(PieceRule):
    """The color profile is the one asked for, by its numbers and never by its name.

    "srgb": tone curve within 1 code value over all 256 codes and colorants within 0.005 of
    IEC 61966-2-1, read from the profile (ICC.1:2022) or stated by the container (PNG 3rd edition, ITU-T
    H.273). The profile's color space must fit the picture.
    """

    family: ClassVar[Family] = "color"

    def applies(self, piece: Piece) -> bool:
        return piece.spec.profile is not None

    def check(self, case: Case) -> Verdict:
        facts, asked = case.measured["color"], case.spec.profile
        if asked == "none":
            return self._none(facts)
        if facts["problems"]:
            return fails(facts["problems"][0])
        if not facts["fits"]:
            return fails(facts["reason"], **_evidence(facts))
        if asked == "embedded":
            if facts["embedded"]:
                return holds(facts["reason"], **_evidence(facts))
            return fails("no color profile is embedded; the spec asks for one")
        if asked == "srgb":
            return self._srgb(facts)
        return self._file(case, facts)

    @staticmethod
    def _none(facts: ColorFacts) -> Verdict:
        if facts["profile"] is not None or facts["problems"]:
            return fails("a color profile is embedded; the spec asks for none")
        return holds("no color profile is embedded")

    @staticmethod
    def _srgb(facts: ColorFacts) -> Verdict:
        if facts["source"] == "none":
            return fails(
                "no color profile is embedded; the spec asks for sRGB",
                "Go back to the original, convert it to sRGB and export it again with the profile "
                "embedded.",
            )
        if facts["srgb"]:
            return holds(facts["reason"], **_evidence(facts))
        return fails(
            f"{facts['reason']}; the spec asks for sRGB",
            "Go back to the original, convert its colors to sRGB (a conversion, not a new label) and "
            "export it again with the profile embedded.",
            **_evidence(facts),
        )

    @staticmethod
    def _file(case: Case, facts: ColorFacts) -> Verdict:
        name = display_name(PurePosixPath(case.spec.profile or "").name)
        if case.profile is None:
            return undecided(f"the profile {name} of the spec cannot be read")
        if facts["profile"] is None:
            return fails(f"no color profile is embedded; the spec asks for {name}")
        if same_profile(facts["profile"], case.profile):
            return holds(f"the embedded profile is that of {name}", **_evidence(facts))
        return fails(f"the embedded profile is not that of {name}", **_evidence(facts))


def _evidence(facts: ColorFacts) -> dict[str, Any]:
    return {"source": facts["source"], "srgb": facts["srgb"]}
