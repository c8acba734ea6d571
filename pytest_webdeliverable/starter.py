"""The text of a first manifest, guessed from the pictures found. Pure: what was found in, text out."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any, Final

from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.fit import expected_size
from pytest_webdeliverable.manifest.builtin import BUILT_IN
from pytest_webdeliverable.manifest.load import LONGEST_ID, PORTFOLIO_ID, safe_id
from pytest_webdeliverable.manifest.specs import Specs
from pytest_webdeliverable.rules.text import UNWRITTEN

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

_WEB_SIZES: Final = ("screen", "screen-2x")
_BLANK: Final = f"{UNWRITTEN} what somebody who cannot see the picture should know"
_BREAKS: Final = re.compile(r"[-_.\s]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A picture file; ``format`` is "" where it cannot be read, and then ``problem`` says why."""

    file: str
    format: str = ""
    width: int = 0
    height: int = 0
    frames: int | None = 1
    problem: str = ""


def manifest_text(title: str, found: Sequence[Found], left_out: Iterable[str]) -> str:
    """Return a manifest that lists what was found; ``left_out`` are sentences about other files."""
    parts = [_head(title, images_folder([one.file for one in found]), _other_formats(found))]
    originals = _originals(found)
    listed = [one for one in found if one.file not in originals.values()]
    titles = guessed_titles([one.file for one in listed])
    taken = {PORTFOLIO_ID}
    parts += [
        _piece(one, title, originals.get(one.file), taken)
        for one, title in zip(listed, titles, strict=True)
    ]
    parts += [f"# Not listed: {display_name(sentence)}\n" for sentence in left_out]
    return "\n".join(parts)


def _other_formats(found: Iterable[Found]) -> list[str]:
    """Return the formats of pictures that the usual spec would refuse."""
    allowed = BUILT_IN["screen"]["formats"]
    held = {one.format for one in found if one.format and not suggested_spec(one)}
    return sorted(held.difference(allowed))


def _head(title: str, images: str, others: list[str]) -> str:
    screen: dict[str, Any] = BUILT_IN["screen"]
    width, height = screen["box"]
    lines = [
        "# What is checked, and against what: a first draft, made from the pictures found here.",
        "# Check them with: pytest",
        "#",
        "# For completion in an editor: pytest --deliverable-schema > deliverables.schema.json",
        "# and let the first line of this file be: #:schema ./deliverables.schema.json",
        "",
        "[portfolio]",
        f"title = {toml_string(display_name(title))}" if title.strip() else None,
        'spec = "screen"   # what a picture is held to when it names no spec',
        f"images = {toml_string(images)}   # every picture in this folder must be listed below"
        if images
        else None,
        "",
        f'# "screen" is built in: fits {width} x {height} px, {screen["ppi"]} ppi, baseline JPEG at quality',
        f"# {screen['jpeg']['quality']} or more, sRGB, no gap along an edge, nothing private inside, described.",
        "# Change it to what your site, school or client asks:",
        "# [spec.screen]",
        f"# formats = {json.dumps(screen['formats'] + others)}   # others were found: allow them, or export anew"
        if others
        else None,
        f"# box = [{width}, {height}]",
        '# file-name = "{family}-{given}-{piece}"',
        '# weight = "900 kB"',
        "",
        "# Of each piece: write alt, which fails until somebody has; correct the title; add the finished",
        '# size of the original, such as trim = "11 x 17 in" or trim = "A3 landscape".',
        "",
    ]
    return "\n".join(line for line in lines if line is not None)


def _piece(one: Found, title: str, original: str | None, taken: set[str]) -> str:
    lines = [
        f"[[piece]]   # {_seen(one)}",
        f"id = {toml_string(_new_id(one.file, taken))}",
        f"file = {toml_string(one.file)}",
    ]
    if title:
        lines.append(f"title = {toml_string(title)}")
    if spec := suggested_spec(one):
        lines.append(f"spec = {toml_string(spec)}")
    if original:
        lines.append(f"original = {toml_string(original)}   # of the same name; only ever read")
    lines.append(f"alt = {toml_string(_BLANK)}")
    return "\n".join([*lines, ""])


def _seen(one: Found) -> str:
    if one.problem:
        return f"not readable: {display_name(one.problem)}"
    return f"{one.format.upper()}, {one.width} x {one.height} px"


def _new_id(file: str, taken: set[str]) -> str:
    base = name = safe_id(file)
    number = 1
    while name in taken:
        number += 1
        name = f"{base[: LONGEST_ID - len(str(number)) - 1]}-{number}"
    taken.add(name)
    return name


def guessed_titles(files: Sequence[str]) -> list[str]:
    """Return the words of each name, without those that all names begin with, such as the author's."""
    names = [[word for word in _BREAKS.split(PurePosixPath(file).stem) if word] for file in files]
    shared = 0
    if len(names) > 1:
        shortest = min(len(words) for words in names)
        while shared < shortest - 1 and len({words[shared] for words in names}) == 1:
            shared += 1
    titles = [" ".join(words[shared:]) for words in names]
    return [title[:1].upper() + title[1:] for title in titles]


def suggested_spec(one: Found) -> str:
    """Return the built-in spec whose size or kind the picture has; ``""`` for the usual one.

    A guess is made only where the file itself is telling: another size may simply be wrong.
    """
    if one.format == "tiff":
        return "print-entry"
    if one.format in BUILT_IN["motion"]["formats"] and one.frames != 1:
        return "motion"
    specs = Specs(BUILT_IN, ())
    for name in ("screen", "screen-2x", "social-card", "thumbnail"):
        spec = specs.get(name)
        assert spec is not None, "it is built in"
        assert spec.box is not None, "it has a box"
        expected = expected_size(spec, None)
        assert expected is not None, "it has a box"
        # A thumbnail may be smaller than its box, and so may any picture: only one that fills it tells.
        fills = one.width >= spec.box[0] or one.height >= spec.box[1]
        if fills and expected.accepts(one.width, one.height):
            return "" if name == "screen" else name
    return ""


def images_folder(files: Sequence[str]) -> str:
    """Return the deepest folder that still holds more than half of the files; ``""`` if none does."""
    folder = ""
    while True:
        here = [file for file in files if not folder or file.startswith(f"{folder}/")]
        start = len(folder) + 1 if folder else 0
        below: dict[str, int] = {}
        for file in here:
            first, slash, _ = file[start:].partition("/")
            if slash:
                below[first] = below.get(first, 0) + 1
        most = max(below, key=lambda name: below[name], default="")
        # Below the first folder only a folder that holds everything says more than its parent.
        enough = below.get(most, 0) * 2 > len(files) if not folder else below.get(most) == len(here)
        if not most or not enough:
            return folder
        folder = f"{folder}/{most}" if folder else most


def _originals(found: Sequence[Found]) -> dict[str, str]:
    """Return, by the file of a web picture, the one TIFF of the same name."""
    web: dict[str, list[str]] = {}
    prints: dict[str, list[str]] = {}
    for one in found:
        stem = PurePosixPath(one.file).stem
        (prints if one.format == "tiff" else web).setdefault(stem, []).append(one.file)
    return {
        files[0]: prints[stem][0]
        for stem, files in web.items()
        if len(files) == 1 and len(prints.get(stem, ())) == 1
    }


def toml_string(text: str) -> str:
    """Return a TOML 1.0 basic string; what cannot be seen is escaped. No lone surrogates."""
    return f'"{"".join(map(_toml_character, text))}"'


def _toml_character(character: str) -> str:
    if character in {'"', "\\"}:
        return f"\\{character}"
    if character.isprintable():
        return character
    code = ord(character)
    return f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}"
