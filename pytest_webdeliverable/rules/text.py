"""Rules on words: the description for people who cannot see the picture."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, ClassVar, Final

from pytest_webdeliverable.rules.base import Case, Family, PieceRule, Verdict, fails, holds

if TYPE_CHECKING:
    from pytest_webdeliverable.manifest.model import Piece

UNWRITTEN: Final = "TO WRITE:"
"""Start of the blanks that a starter manifest leaves; they fail until somebody writes them."""
_BARE: Final = re.compile(
    r"(an?|the)?\s*(image|picture|photo|photograph|graphic|illustration|poster|artwork|design|logo)?"
    r"\s*(of|showing)?\s*(an?|the|my|work)?\s*[.:]?",
    re.IGNORECASE,
)
_WORD: Final = re.compile(r"[^\W_]+")


class AltText(PieceRule):
    """The picture is described for people who cannot see it.

    WCAG 2.2, SC 1.1.1: a text alternative that serves the same purpose. A file name or a bare "image of"
    does not. Length only advises: the IPTC property Alt Text (Accessibility) should not exceed 250
    characters. A decorative picture says ``decorative = true`` with ``alt = ""``.
    """

    family: ClassVar[Family] = "text"

    def applies(self, piece: Piece) -> bool:
        return piece.spec.alt is not None

    def check(self, case: Case) -> Verdict:
        piece, spec = case.piece, case.spec.alt
        assert spec is not None, "applies() looked"
        text = " ".join((piece.alt or "").split())
        advice = "Write in the manifest, as alt = ..., what a person who cannot see it should know."
        if piece.decorative:
            if text:
                return fails(
                    "the piece is decorative, yet has a description",
                    'Take out decorative = true, or write alt = "".',
                )
            return holds("the piece is decorative and needs no description")
        if not text:
            if not spec.required:
                return holds("no description; the spec does not require one")
            return fails("the picture has no description", advice)
        if text.startswith(UNWRITTEN):
            return fails("the description is still the blank of the starter manifest", advice)
        if _is_file_name(text, piece.file):
            return fails("the description is only the file's name", advice)
        if _BARE.fullmatch(text) or not _WORD.search(text):
            return fails("the description does not say what the picture shows", advice)
        if spec.longest is not None and len(text) > spec.longest:
            message = (
                f"the description has {len(text)} characters, at most {spec.longest} are advised"
            )
            shorter = (
                "Say the most important first and leave the rest to the text beside the picture."
            )
            return replace(fails(message, shorter, length=len(text)), gentle=True)
        return holds(f"described in {len(text)} characters", length=len(text))


def _is_file_name(text: str, file: str) -> bool:
    path = PurePosixPath(file)
    words = [word.lower() for word in _WORD.findall(text)]
    names = ([w.lower() for w in _WORD.findall(name)] for name in (path.name, path.stem, file))
    return words in list(names)
