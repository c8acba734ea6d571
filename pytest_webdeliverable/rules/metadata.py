"""Rules on what is written inside the file beside the picture."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Final

from pytest_webdeliverable.rules.base import Case, Family, PieceRule, Verdict, fails, holds

if TYPE_CHECKING:
    from pytest_webdeliverable.manifest.model import Piece
    from pytest_webdeliverable.measure.facts import Facet
    from pytest_webdeliverable.measure.metadata import DeviceFact, LocationFact

UPRIGHT: Final = 1
"""Orientation flag that asks for nothing."""
_HISTORY: Final = (
    "Removing it here does not remove it from the repository's history or from copies already "
    "published: if the place is private, treat it as known and follow your school's or client's rules."
)


class _MetadataRule(PieceRule):
    """Base of the metadata rules."""

    family: ClassVar[Family] = "metadata"


class OrientationFlag(_MetadataRule):
    """The pixels stand upright by themselves, without an orientation flag.

    Some sites and programs ignore the flag (CIPA DC-008, tag 0x0112) and show the picture lying down.
    """

    def applies(self, piece: Piece) -> bool:
        return piece.spec.orientation_flag is False

    def check(self, case: Case) -> Verdict:
        header = case.measured["header"]
        flag = header["orientation"]
        if flag is None or flag == UPRIGHT:
            return holds("the pixels stand upright by themselves")
        width, height = header["stored"]
        return fails(
            f"an orientation flag of {flag} asks viewers to turn or mirror the stored picture of {width} x "
            f"{height} px",
            "Go back to the original, turn it upright and export it again.",
            flag=flag,
        )


class MetadataLocation(_MetadataRule):
    """No place data are inside the file.

    Exif GPS directory whatever it holds (CIPA DC-008), GPS in XMP, location fields of the IPTC Photo
    Metadata Standard. The values themselves are never printed.
    """

    def applies(self, piece: Piece) -> bool:
        return piece.spec.privacy is not None and piece.spec.privacy.location is False

    def check(self, case: Case) -> Verdict:
        found = case.measured["metadata"]["location"]
        if not found:
            return holds("no place data inside")
        return fails(
            f"place data inside: {_listed([_words(item) for item in found])}",
            f"Go back to the original and export it without place data. {_HISTORY}",
            places=sorted({item["place"] for item in found}),
        )


class MetadataDevice(_MetadataRule):
    """No serial numbers, owner names or computer names are inside the file.

    They tie all pictures of one camera, or one person, together (tags of CIPA DC-008 and XMP). The
    values themselves are never printed.
    """

    def applies(self, piece: Piece) -> bool:
        return piece.spec.privacy is not None and piece.spec.privacy.device is False

    def check(self, case: Case) -> Verdict:
        found = case.measured["metadata"]["device"]
        if not found:
            return holds("no serial numbers, owner or computer names inside")
        return fails(
            f"device data inside: {_listed([_words(item) for item in found])}",
            "Go back to the original and export it without data on camera, owner and computer.",
            places=sorted({item["place"] for item in found}),
        )


class MetadataPreview(_MetadataRule):
    """No embedded preview shows another picture than the file.

    An old preview may show what was cropped away or painted over.
    """

    needs: ClassVar[frozenset[Facet]] = frozenset({"previews"})

    def applies(self, piece: Piece) -> bool:
        return piece.spec.privacy is not None and piece.spec.privacy.preview is False

    def check(self, case: Case) -> Verdict:
        previews = case.measured["metadata"].get("previews", [])
        other = [item for item in previews if not item["same"]]
        if other:
            what = [
                f"{item['place']}, {item['width']} x {item['height']} px"
                if item["problem"] is None
                else f"{item['place']}: {item['problem']}"
                for item in other
            ]
            return fails(
                f"an embedded preview differs from the picture: {_listed(what)}; it may show what was "
                "cropped away",
                "Go back to the original and export it without a preview. "
                "Removing it here does not remove it from the repository's history.",
                previews=[dict(item) for item in previews],
            )
        if previews:
            return holds("the embedded preview shows the same picture")
        return holds("no embedded preview")


class MetadataCredit(_MetadataRule):
    """The credit lines asked for are inside the file, and agree wherever they stand.

    Creator and copyright in Exif, XMP and IPTC-IIM (IPTC Photo Metadata Standard).
    """

    def applies(self, piece: Piece) -> bool:
        return bool(piece.spec.credit)

    def check(self, case: Case) -> Verdict:
        credit = case.measured["metadata"]["credit"]
        problems: list[str] = []
        shown: list[str] = []
        for field in case.spec.credit or ():
            places = credit["creator"] if field == "creator" else credit["copyright"]
            if not places:
                problems.append(f"no {field} is written")
                continue
            if field in credit["disagree"]:
                said = "; ".join(f"{place}: {', '.join(names)}" for place, names in places.items())
                problems.append(f"the {field} differs from place to place ({said})")
            shown.append(f"{field}: {', '.join(next(iter(places.values())))}")
        if problems:
            return fails(
                "; ".join(problems),
                "Write the credit into the original's file information and export it again.",
            )
        return holds("; ".join(shown))


def _words(item: LocationFact | DeviceFact) -> str:
    return f"{item['what']} ({item['place']})"


def _listed(items: list[str]) -> str:
    unique = list(dict.fromkeys(items))
    more = f" and {len(unique) - 4} more" if len(unique) > 4 else ""
    return ", ".join(unique[:4]) + more
