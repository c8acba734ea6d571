"""Rules on how a JPEG is made. A picture of another format has nothing of the kind and passes."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Final

from pytest_webdeliverable.rules.base import Case, Family, PieceRule, Verdict, fails, holds
from pytest_webdeliverable.rules.file import FORMAT_NAMES

if TYPE_CHECKING:
    from pytest_webdeliverable.manifest.model import Level, Piece
    from pytest_webdeliverable.measure.headers.jpeg import JpegFacts

PROCESSES: Final = {"extended": "extended sequential"}


class _JpegRule(PieceRule):
    """Base of the JPEG rules: other formats pass."""

    family: ClassVar[Family] = "jpeg"

    def check(self, case: Case) -> Verdict:
        header = case.measured["header"]
        if header["jpeg"] is None:
            return holds(
                f"the picture is {FORMAT_NAMES[header['format']]}, not JPEG: nothing to check"
            )
        return self.check_jpeg(header["jpeg"], case)

    def check_jpeg(self, jpeg: JpegFacts, case: Case) -> Verdict:
        """Judge a JPEG."""
        raise NotImplementedError


class JpegProcess(_JpegRule):
    """The JPEG is coded in the asked order: baseline, or progressive.

    Read from the frame marker (ITU-T T.81, table B.1). Some upload forms and older viewers take baseline
    only.
    """

    def applies(self, piece: Piece) -> bool:
        return piece.spec.jpeg is not None and piece.spec.jpeg.process is not None

    def check_jpeg(self, jpeg: JpegFacts, case: Case) -> Verdict:
        asked = case.spec.jpeg.process if case.spec.jpeg else ""
        found = jpeg["process"]
        shown = PROCESSES.get(found, found)
        coding = " with arithmetic coding" if jpeg["coding"] == "arithmetic" else ""
        message = f"the JPEG is {shown}{coding}, the spec asks for {asked}"
        if found == asked and not coding:
            return holds(message, process=found)
        return fails(
            message,
            f"Go back to the original and export it as a {asked} JPEG.",
            process=found,
        )


class JpegQuality(_JpegRule):
    """The JPEG is saved at the asked quality or better.

    Exact where its tables are those of ITU-T T.81 Annex K scaled in the usual way for quality 1 to 100;
    otherwise an estimate from the size of its steps, and called one.
    """

    def applies(self, piece: Piece) -> bool:
        return piece.spec.jpeg is not None and piece.spec.jpeg.quality is not None

    def check_jpeg(self, jpeg: JpegFacts, case: Case) -> Verdict:
        asked = (case.spec.jpeg.quality if case.spec.jpeg else None) or 0
        quality = jpeg["quality"]
        if quality is None:
            return fails(f"the JPEG's quality cannot be told; the spec asks for {asked} or more")
        shown = (
            f"quality {quality['value']:g}"
            if quality["exact"]
            else f"quality about {quality['value']:.0f} (an estimate: it uses tables of its own)"
        )
        message = f"{shown}, the spec asks for {asked} or more"
        evidence = {"quality": quality["value"], "exact": quality["exact"]}
        good = quality["value"] >= asked if quality["exact"] else round(quality["value"]) >= asked
        if good:
            return holds(message, **evidence)
        return fails(
            message,
            f"Go back to the original and export it at quality {asked} or more; saving this copy again "
            "at a higher quality brings nothing back.",
            **evidence,
        )


class ChromaSubsampling(_JpegRule):
    """The JPEG keeps its color detail as the spec asks.

    4:4:4 keeps a color sample for each pixel; 4:2:0 one for four, which frays red type and fine lines.
    Read from the sampling factors (ITU-T T.81, B.2.2).
    """

    default_level: ClassVar[Level] = "advise"

    def applies(self, piece: Piece) -> bool:
        return piece.spec.jpeg is not None and piece.spec.jpeg.chroma is not None

    def check_jpeg(self, jpeg: JpegFacts, case: Case) -> Verdict:
        asked = (case.spec.jpeg.chroma if case.spec.jpeg else None) or ()
        found = jpeg["sampling"]
        if found == "gray":
            return holds("the JPEG is gray and has no color samples", sampling=found)
        wanted = " or ".join(asked)
        message = f"color is sampled {found}, the spec asks for {wanted}"
        if found in asked:
            return holds(message, sampling=found)
        return fails(
            message,
            f"Go back to the original and export it with {wanted} sampling, often offered as the best "
            "or maximum quality.",
            sampling=found,
        )
