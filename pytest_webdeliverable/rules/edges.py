"""Rules on the edges, and on pictures that are one flat color."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Final

from pytest_webdeliverable.fit import expected_size
from pytest_webdeliverable.rules.base import (
    EXPORT_AGAIN,
    Case,
    Family,
    PieceRule,
    Verdict,
    fails,
    holds,
)

if TYPE_CHECKING:
    from pytest_webdeliverable.manifest.model import Level, Piece
    from pytest_webdeliverable.measure.edges import Gap
    from pytest_webdeliverable.measure.facts import Facet

_EXTENT: Final = {"left": "height", "right": "height", "top": "width", "bottom": "width"}


class _EdgeRule(PieceRule):
    """Base of the edge rules."""

    family: ClassVar[Family] = "edges"
    needs: ClassVar[frozenset[Facet]] = frozenset({"edges"})


class EdgeGap(_EdgeRule):
    """The art runs to all four edges: no sliver of page shows.

    The outermost lines of each side are compared with those further in, piece by piece along the side.
    How visible a sliver is, is its CIEDE2000 difference from the art beside it (ISO/CIE 11664-6).
    """

    def applies(self, piece: Piece) -> bool:
        return piece.spec.edges is not None and piece.spec.edges.gap is True

    def check(self, case: Case) -> Verdict:
        gaps = case.measured["edges"]["gaps"]
        if not gaps:
            return holds("the art runs to all four edges")
        return fails(
            "; ".join(_gap_words(gap) for gap in gaps),
            "Go back to the original, let the art run past the edge of the page or set the page to the "
            "art's size, and export it again; do not trim this copy.",
            gaps=[dict(gap) for gap in gaps],
        )


def _gap_words(gap: Gap) -> str:
    side, start, end = gap["side"], gap["start"], gap["end"]
    share = f"{end - start:.0%}" if end - start >= 0.0095 else "less than 1%"
    where = f"along {share} of the {_EXTENT[side]}"
    if end - start < 0.995:
        first, last = ("left", "right") if side in {"top", "bottom"} else ("top", "bottom")
        most = end - start > 0.5
        if start < 0.005:
            where += f", {'from' if most else 'at'} its {first} end"
        elif end > 0.995:
            where += f", {'up to' if most else 'at'} its {last} end"
        else:
            where += f", from {start:.0%} to {end:.0%} of it"
    color = f"of {gap['color']}"
    if "alpha" in gap:
        color = (
            "see-through"
            if gap["alpha"] < 0.02
            else f"half see-through ({gap['alpha']:.0%} opaque)"
        )
    return f"{side} edge: {round(gap['depth'], 1):g} px {color} {where}"


class EdgeOutline(_EdgeRule):
    """No thin frame is left near the edge.

    A helper shape or a stroke that was not removed shows as a line around the art. A line that is meant
    is declared with ``keyline = true``.
    """

    def applies(self, piece: Piece) -> bool:
        return piece.spec.edges is not None and piece.spec.edges.outline is True

    def check(self, case: Case) -> Verdict:
        outline = case.measured["edges"]["outline"]
        if outline is None:
            return holds("no thin frame near the edge")
        sides = ", ".join(outline["sides"])
        found = (
            f"a line of {outline['color']}, {outline['width']:g} px wide, runs {outline['inset']:g} px "
            f"inside the edge ({sides})"
        )
        if case.piece.keyline:
            return holds(f"{found}; it is declared as a keyline")
        return fails(
            found,
            "Remove the line from the original and export it again; if it is meant, write keyline = true in "
            "the manifest.",
            outline=dict(outline),
        )


class EdgeMargin(_EdgeRule):
    """No flat bands surround the art.

    Bands on opposite sides or all around mean that the page was exported and not the art on it, or that
    the art was fitted into a shape that is not its own. A margin may be design, so this advises.
    """

    default_level: ClassVar[Level] = "advise"

    def applies(self, piece: Piece) -> bool:
        return piece.spec.edges is not None and piece.spec.edges.margin is True

    def check(self, case: Case) -> Verdict:
        margins = case.measured["edges"]["margins"]
        if margins is None:
            return holds("no flat bands around the art")
        bands = ", ".join(
            f"{band['side']} {band['depth']:g} px of {band['color']}" for band in margins["bands"]
        )
        art = margins["art"]
        advice = "If the bands are no part of the design, set the page to the art's size and export again."
        expected = expected_size(case.spec, case.piece.trim)
        if expected is not None and not expected.accepts(art["width"], art["height"]):
            advice += f" The art alone must then be {expected}."
        return fails(
            f"flat bands: {bands}; the art between them is {art['width']} x {art['height']} px",
            advice,
            bands=[dict(band) for band in margins["bands"]],
            art=dict(art),
        )


class BlankPicture(_EdgeRule):
    """The picture is not one flat color.

    A hidden layer or an empty page exports as a blank sheet.
    """

    def applies(self, piece: Piece) -> bool:
        return piece.spec.blank is False

    def check(self, case: Case) -> Verdict:
        blank = case.measured["edges"]["blank"]
        if blank["flat"]:
            return fails(
                "the whole picture is see-through"
                if blank["color"] == "transparent"
                else f"the whole picture is one flat color, about {blank['color']}",
                f"See whether the art is hidden or on another page. {EXPORT_AGAIN}",
                color=blank["color"],
            )
        return holds("the picture is not one flat color")
