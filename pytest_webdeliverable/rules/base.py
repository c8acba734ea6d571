"""What a rule is: a small class that judges measured facts and never opens a file.

The docstring of a rule is its text everywhere: its first line says what holds, the rest why and by
which source. ``--deliverable-rules`` and the reference page print it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar, Final, Literal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pytest_webdeliverable.manifest.model import Level, Manifest, Piece, Portfolio, Spec
    from pytest_webdeliverable.measure.facts import Facet, FolderFacts, Measurements
    from pytest_webdeliverable.measure.icc import ProfileFacts

Family = Literal[
    "file",
    "size",
    "color",
    "jpeg",
    "edges",
    "history",
    "metadata",
    "text",
    "motion",
    "portfolio",
]
EXPORT_AGAIN: Final = (
    "Go back to the original and export it again; do not edit and re-save this copy."
)
"""The advice of most failures: every save of a lossy copy costs quality."""

_CAPITALS: Final = re.compile(r"(?<!^)(?=[A-Z0-9])")


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What a rule found: ``message`` says measured and asked, ``advice`` what to do about it.

    ``evidence`` is JSON-able detail for reports. ``passed`` None means that the rule could not be
    judged, and the message says why.
    """

    passed: bool | None
    message: str
    advice: str = ""
    evidence: dict[str, Any] = field(default_factory=dict)
    gentle: bool = False
    """A failure that only advises unless the spec's levels say otherwise."""


def holds(message: str, **evidence: Any) -> Verdict:
    """Return a verdict that the rule holds."""
    return Verdict(passed=True, message=message, evidence=_dashed(evidence))


def fails(message: str, advice: str = EXPORT_AGAIN, **evidence: Any) -> Verdict:
    """Return a verdict that the rule fails."""
    return Verdict(passed=False, message=message, advice=advice, evidence=_dashed(evidence))


def undecided(reason: str) -> Verdict:
    """Return a verdict that the facts do not allow a judgement."""
    return Verdict(passed=None, message=reason)


def _dashed(evidence: dict[str, Any]) -> dict[str, Any]:
    return {name.replace("_", "-"): value for name, value in evidence.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """All that a rule may know of one piece.

    ``source`` is the piece that this one is a copy of, ``original`` the print master, ``profile`` the
    profile that the spec names by its path; each None where there is none or it cannot be measured.
    """

    piece: Piece
    measured: Measurements
    source: Measurements | None = None
    original: Measurements | None = None
    profile: ProfileFacts | None = None

    @property
    def spec(self) -> Spec:
        """Spec of the piece."""
        return self.piece.spec


@dataclass(frozen=True, slots=True, kw_only=True)
class PortfolioCase:
    """All that a portfolio rule may know: the manifest, its folder, and facts in order of pieces."""

    manifest: Manifest
    folder: FolderFacts
    measured: Sequence[Measurements]


class Rule:
    """Base of all rules; ``name`` comes from the class name unless it is given."""

    name: ClassVar[str] = ""
    family: ClassVar[Family]
    needs: ClassVar[frozenset[Facet]] = frozenset()
    """Facets to measure beside file and header, which every rule may use."""
    needs_files: ClassVar[bool] = False
    """For a portfolio rule without needs: whether it looks at the pieces' files all the same."""
    default_level: ClassVar[Level] = "require"
    judges_problems: ClassVar[bool] = False
    """Whether it judges a file that is missing or unreadable; all others are skipped then."""

    def __init_subclass__(cls) -> None:
        if not cls.__dict__.get("name"):
            cls.name = _CAPITALS.sub("-", cls.__name__).lower()

    @classmethod
    def text(cls) -> str:
        """Return what holds, in one line."""
        return (cls.__doc__ or "").strip().partition("\n")[0]


class PieceRule(Rule):
    """A rule on one picture."""

    def applies(self, piece: Piece) -> bool:
        """Whether the spec, or the piece, switches the rule on."""
        raise NotImplementedError

    def check(self, case: Case) -> Verdict:
        """Judge the facts; pure."""
        raise NotImplementedError


class PortfolioRule(Rule):
    """A rule on all pieces of a manifest together."""

    family = "portfolio"

    def applies(self, portfolio: Portfolio) -> bool:
        """Whether the portfolio switches the rule on."""
        raise NotImplementedError

    def check(self, case: PortfolioCase) -> Verdict:
        """Judge the facts; pure."""
        raise NotImplementedError
