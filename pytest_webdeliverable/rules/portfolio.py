"""Rules on the portfolio as a whole."""

from __future__ import annotations

import unicodedata
from collections import defaultdict
from pathlib import PurePosixPath
from posixpath import normpath
from typing import TYPE_CHECKING, ClassVar, Final

from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.likeness import near_duplicates
from pytest_webdeliverable.manifest.quantities import format_weight
from pytest_webdeliverable.rules.base import (
    PortfolioCase,
    PortfolioRule,
    Verdict,
    fails,
    holds,
    undecided,
)

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable

    from pytest_webdeliverable.manifest.model import Level, Portfolio
    from pytest_webdeliverable.measure.facts import Facet

IMAGE_SUFFIXES: Final = frozenset(
    {".jpg", ".jpeg", ".png", ".webp", ".avif", ".gif", ".tif", ".tiff", ".bmp", ".heic", ".svg"}
)
"""Suffixes by which a file in the images folder counts as an image."""
MOST_NAMED: Final = 5
"""Files or pieces that one message names."""


class StrayFile(PortfolioRule):
    """Every image in the images folder is listed in the manifest.

    What is not listed is not checked, and is published all the same.
    """

    def applies(self, portfolio: Portfolio) -> bool:
        return portfolio.images is not None

    def check(self, case: PortfolioCase) -> Verdict:
        if case.folder["files"] is None:
            return fails(case.folder["problem"] or "", "Correct images = ... in the manifest.")
        listed = {_key(piece.file) for piece in case.manifest.pieces}
        listed |= {_key(piece.original) for piece in case.manifest.pieces if piece.original}
        stray = [
            file
            for file in case.folder["files"]
            if PurePosixPath(file).suffix.lower() in IMAGE_SUFFIXES and _key(file) not in listed
        ]
        if stray:
            return fails(
                f"{_counted(len(stray), 'image is', 'images are')} not listed: {_named(stray)}",
                "List them as pieces or copies, or move them out of the folder.",
                files=[display_name(file) for file in stray],
            )
        return holds("every image in the folder is listed")


def _key(file: str) -> str:
    return unicodedata.normalize("NFC", normpath(file))


class DuplicateFile(PortfolioRule):
    """No picture is there twice, by its bytes or by its pixels."""

    needs: ClassVar[frozenset[Facet]] = frozenset({"likeness"})

    def applies(self, portfolio: Portfolio) -> bool:
        return True

    def check(self, case: PortfolioCase) -> Verdict:
        same_bytes: dict[Hashable, list[str]] = defaultdict(list)
        same_pixels: dict[Hashable, list[str]] = defaultdict(list)
        for piece, measured in zip(case.manifest.pieces, case.measured, strict=True):
            if "file" in measured:
                same_bytes[measured["file"]["sha256"]].append(piece.file)
            if "pixels" in measured:
                same_pixels[measured["pixels"]["digest"]].append(piece.file)
        groups = [files for files in same_bytes.values() if len(set(files)) > 1]
        known = {file for files in groups for file in files}
        pixels = [
            files
            for files in same_pixels.values()
            if len(set(files)) > 1 and not known.issuperset(files)
        ]
        found = [f"{_together(files)} are the same file" for files in groups]
        found += [f"{_together(files)} show the same pixels" for files in pixels]
        if found:
            return fails(
                "; ".join(found[:MOST_NAMED]),
                "See whether one was exported under the wrong name; keep one of them.",
                files=[[display_name(file) for file in files] for files in groups + pixels],
            )
        return holds("no picture is there twice")


class NearDuplicate(PortfolioRule):
    """No two pieces look nearly alike.

    Found by comparing small versions; a series may be alike on purpose, so this advises.
    """

    needs: ClassVar[frozenset[Facet]] = frozenset({"likeness"})
    default_level: ClassVar[Level] = "advise"

    def applies(self, portfolio: Portfolio) -> bool:
        return True

    def check(self, case: PortfolioCase) -> Verdict:
        # The same bytes, or the same pixels, are the affair of duplicate-file: one of them is enough.
        known: set[str] = set()
        signatures = []
        for piece, measured in zip(case.manifest.pieces, case.measured, strict=True):
            if piece.copy_of is not None or "likeness" not in measured:
                continue
            same = {measured["file"]["sha256"], measured["pixels"]["digest"]}
            if known.isdisjoint(same):
                signatures.append((piece.id, measured["likeness"]))
            known |= same
        near = near_duplicates(signatures)
        if near.pairs:
            words = [f"{first} and {second}" for first, second in near.pairs]
            return fails(
                f"nearly the same picture: {_named(words)}",
                "See whether an older state of a piece was left in; keep the one that is meant.",
                pairs=[list(pair) for pair in near.pairs],
            )
        if not near.complete:
            return undecided("too many pieces look alike at first sight to compare them all")
        return holds("no two pieces look nearly alike")


class NameClash(PortfolioRule):
    """No two file names differ only in capitals or in the form of their accents.

    On a disk that ignores case, or normalizes Unicode (UAX #15), one of them overwrites the other.
    """

    def applies(self, portfolio: Portfolio) -> bool:
        return True

    def check(self, case: PortfolioCase) -> Verdict:
        files = {normpath(piece.file) for piece in case.manifest.pieces}
        files.update(case.folder["files"] or ())
        groups: dict[str, list[str]] = defaultdict(list)
        for file in sorted(files):
            groups[unicodedata.normalize("NFC", file).casefold()].append(file)
        clashes = [group for group in groups.values() if len(group) > 1]
        if clashes:
            words = [_together(group) for group in clashes]
            return fails(
                f"names that are one name on many systems: {'; '.join(words[:MOST_NAMED])}",
                "Rename all but one of each group.",
                files=[[display_name(file) for file in group] for group in clashes],
            )
        return holds("all names differ by more than capitals")


class TotalWeight(PortfolioRule):
    """All files together are not heavier than allowed."""

    needs_files = True

    def applies(self, portfolio: Portfolio) -> bool:
        return portfolio.total_weight is not None

    def check(self, case: PortfolioCase) -> Verdict:
        most = case.manifest.portfolio.total_weight or 0
        sizes = {
            piece.file: measured["file"]["bytes"]
            for piece, measured in zip(case.manifest.pieces, case.measured, strict=True)
            if "file" in measured
        }
        total = sum(sizes.values())
        files = _counted(len(sizes), "file", "files")
        message = f"{format_weight(total)} in {files}, at most {format_weight(most)} are allowed"
        if total > most:
            heavy = sorted(sizes, key=lambda file: -sizes[file])[:3]
            shown = ", ".join(
                f"{display_name(file)} ({format_weight(sizes[file])})" for file in heavy
            )
            message = (
                f"{format_weight(total)} ({total} bytes) in {files}, at most {format_weight(most)} "
                f"({most} bytes) are allowed"
            )
            return fails(message, f"Start with the heaviest: {shown}.", bytes=total, most=most)
        return holds(message, bytes=total, most=most)


class PieceCount(PortfolioRule):
    """The portfolio has as many pieces as asked."""

    def applies(self, portfolio: Portfolio) -> bool:
        return portfolio.pieces is not None

    def check(self, case: PortfolioCase) -> Verdict:
        count = case.manifest.portfolio.pieces
        if count is None:
            return undecided("the portfolio does not say how many pieces")
        found = sum(piece.copy_of is None for piece in case.manifest.pieces)
        asked = " and ".join(
            words
            for words in (
                f"at least {count.min}" if count.min is not None else "",
                f"at most {count.max}" if count.max is not None else "",
            )
            if words
        )
        message = (
            f"{_counted(found, 'piece', 'pieces')}, the manifest asks for {asked or 'any number'}"
        )
        if count.min is not None and found < count.min:
            return fails(message, "Add pieces that you stand by.", pieces=found)
        if count.max is not None and found > count.max:
            return fails(message, "Take out the weakest pieces.", pieces=found)
        return holds(message, pieces=found)


def _counted(count: int, one: str, many: str) -> str:
    return f"{count} {one if count == 1 else many}"


def _together(names: Iterable[str]) -> str:
    """Name all of a group; two that look alike differ in the Unicode form of their accents."""
    shown = [display_name(name) for name in dict.fromkeys(names)]
    alike = {unicodedata.normalize("NFC", name) for name in shown}
    forms = ", in two Unicode forms" if len(alike) < len(shown) else ""
    return " and ".join(shown) + forms


def _named(names: Iterable[str]) -> str:
    shown = [display_name(name) for name in dict.fromkeys(names)]
    more = f" and {len(shown) - MOST_NAMED} more" if len(shown) > MOST_NAMED else ""
    return ", ".join(shown[:MOST_NAMED]) + more
