"""Rules on the file: there, intact, of the right format, soundly named, light enough."""

from __future__ import annotations

import re
import unicodedata
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, ClassVar, Final

from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.file_names import matches_template, unsound_name
from pytest_webdeliverable.manifest.quantities import format_weight
from pytest_webdeliverable.rules.base import Case, Family, PieceRule, Verdict, fails, holds

if TYPE_CHECKING:
    from pytest_webdeliverable.manifest.model import Piece
    from pytest_webdeliverable.measure.facts import Facet

SUFFIXES: Final = {
    "jpeg": (".jpg", ".jpeg"),
    "png": (".png",),
    "webp": (".webp",),
    "avif": (".avif",),
    "gif": (".gif",),
    "tiff": (".tif", ".tiff"),
}
FORMAT_NAMES: Final = {
    "jpeg": "JPEG",
    "png": "PNG",
    "webp": "WebP",
    "avif": "AVIF",
    "gif": "GIF",
    "tiff": "TIFF",
}
"""Names of the formats as their standards write them."""


class FilePresent(PieceRule):
    """The file is where the manifest says.

    A picture that is not there cannot be handed in; its other rules are skipped.
    """

    family: ClassVar[Family] = "file"
    judges_problems = True

    def applies(self, piece: Piece) -> bool:
        return True

    def check(self, case: Case) -> Verdict:
        problem = case.measured.get("problem")
        if problem and problem["kind"] == "missing":
            return fails(problem["text"], "Export the picture to this place, or correct its path.")
        return holds(f"{display_name(case.piece.file)} is there")


class FileReadable(PieceRule):
    """The file is intact to its last byte.

    It is decoded completely and its structure checked: end markers, checksums, nothing behind the end.
    A file cut short in transfer often still opens, with a gray or smeared lower part.
    """

    family: ClassVar[Family] = "file"
    needs: ClassVar[frozenset[Facet]] = frozenset({"pixels"})
    judges_problems = True

    def applies(self, piece: Piece) -> bool:
        return True

    def check(self, case: Case) -> Verdict:
        problem = case.measured.get("problem")
        if problem:
            return fails(
                problem["text"],
                "Copy the file again from where it was exported; if it is no better, export it again.",
            )
        return holds("the picture decodes to its last byte")


class FileCase(PieceRule):
    """The name on disk matches the manifest letter for letter.

    Many web hosts tell capitals from small letters; a name that works at home is then not found.
    """

    family: ClassVar[Family] = "file"

    def applies(self, piece: Piece) -> bool:
        return True

    def check(self, case: Case) -> Verdict:
        asked, found = case.piece.file, case.measured["file"]["on_disk"]
        if asked == found:
            return holds(f"the name on disk is {display_name(found)}")
        how = (
            "accents are stored in another Unicode form"
            if unicodedata.normalize("NFC", asked) == unicodedata.normalize("NFC", found)
            else "capitals and small letters differ"
        )
        return fails(
            f"on disk the file is {display_name(found)}, the manifest says {display_name(asked)}: {how}",
            "Rename the file or correct the manifest, so that both are the same letter for letter.",
            on_disk=display_name(found),
        )


class FileFormat(PieceRule):
    """The content is of an allowed format, and the suffix says the same.

    The content decides: a PNG renamed to .jpg is still a PNG.
    """

    family: ClassVar[Family] = "file"

    def applies(self, piece: Piece) -> bool:
        return piece.spec.formats is not None

    def check(self, case: Case) -> Verdict:
        found = case.measured["header"]["format"]
        allowed = case.spec.formats or ()
        suffix = PurePosixPath(case.piece.file).suffix
        name = FORMAT_NAMES[found]
        if found not in allowed:
            wanted = " or ".join(FORMAT_NAMES[one] for one in allowed)
            extra = f', though its name ends in "{display_name(suffix)}"' if suffix else ""
            if suffix.lower() in SUFFIXES[found]:
                extra = ""
            return fails(
                f"the content is {name}{extra}; the spec asks for {wanted}",
                f"Go back to the original and export it as {wanted}; renaming does not convert a file.",
                format=found,
            )
        if suffix.lower() not in SUFFIXES[found]:
            return fails(
                f'the content is {name}, but the name ends in "{display_name(suffix)}"',
                f'Rename the file so that it ends in "{SUFFIXES[found][0]}".',
                format=found,
            )
        return holds(f"the content is {name}", format=found)


class FileName(PieceRule):
    """The name follows the template and works on every system.

    A field of the template is a run of lower-case letters, digits and inner hyphens. Reserved names and
    characters: Microsoft, Naming Files, Paths, and Namespaces; unreserved characters of a URL: RFC 3986,
    section 2.3.
    """

    family: ClassVar[Family] = "file"

    def applies(self, piece: Piece) -> bool:
        return piece.spec.file_name is not None

    def check(self, case: Case) -> Verdict:
        template = case.spec.file_name or ""
        path = PurePosixPath(case.piece.file)
        shown = display_name(path.name)
        advice = "Rename the file and correct the manifest; the picture itself need not change."
        if problem := unsound_name(path.name):
            return fails(f"the name {shown} {problem}", advice)
        if not matches_template(path.stem, template):
            example = re.sub(r"\{([^{}]*)\}", lambda field: _example(field[1]), template)
            return fails(
                f'the name {shown} does not follow the template "{display_name(template)}" '
                f'(such as "{display_name(example)}{display_name(path.suffix)}")',
                advice,
            )
        return holds(f"the name {shown} follows the template")


def _example(field: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", field.lower()).strip("-") or "name"


class FileWeight(PieceRule):
    """The file is not heavier than the spec allows.

    Heavy pictures load slowly and may be refused by a form. 1 kB is 1000 bytes (SI).
    """

    family: ClassVar[Family] = "file"

    def applies(self, piece: Piece) -> bool:
        return piece.spec.weight is not None

    def check(self, case: Case) -> Verdict:
        most, found = case.spec.weight or 0, case.measured["file"]["bytes"]
        shown = format_weight(found)
        if found > most:
            over = (
                f"{shown} ({found} bytes), at most {format_weight(most)} ({most} bytes) are allowed"
            )
            return fails(
                over,
                "Export the original again, a little more compressed, as far as the spec allows.",
                bytes=found,
                most=most,
            )
        return holds(f"{shown}, at most {format_weight(most)} are allowed", bytes=found, most=most)
