"""File names: templates, and names that break on one system or another."""

from __future__ import annotations

import re
from typing import Final

_FIELD: Final = re.compile(r"\{([^{}]*)\}")
_ENDS: Final = frozenset("abcdefghijklmnopqrstuvwxyz0123456789")
_INNER: Final = _ENDS | {"-"}
_UNRESERVED: Final = re.compile(r"[A-Za-z0-9._~-]+")
"""RFC 3986 section 2.3: what needs no percent-encoding in a URL."""
_SUPERSCRIPTS: Final = {"¹": "1", "²": "2", "³": "3"}
RESERVED: Final = frozenset(
    {"CON", "PRN", "AUX", "NUL"}
    | {f"{port}{number}" for port in ("COM", "LPT") for number in range(1, 10)}
)
"""Device names of Windows, with any suffix and in any case (Microsoft, Naming Files). The digits
include the superscripts 1, 2 and 3 there."""
LONGEST: Final = 255
"""Bytes of one name on common file systems."""


def unsound_name(name: str) -> str:
    """Say what breaks a file name somewhere, as the end of "the name x ..."; ``""`` for a sound one."""
    stem = name.partition(".")[0].rstrip(" ").upper()
    if "".join(_SUPERSCRIPTS.get(sign, sign) for sign in stem) in RESERVED:
        return "is reserved on Windows and cannot be saved there"
    if name.endswith((".", " ")):
        return "ends in a period or space, which Windows drops"
    if name.startswith("."):
        return "starts with a period, which hides the file on many systems"
    if " " in name:
        return "holds a space; write a hyphen instead"
    if not _UNRESERVED.fullmatch(name):
        odd = sorted({sign for sign in name if not _UNRESERVED.fullmatch(sign)})
        shown = " ".join(
            f"{sign}" if sign.isprintable() else f"U+{ord(sign):04X}" for sign in odd[:5]
        )
        return f"holds characters that a web address must encode: {shown}"
    if len(name.encode()) > LONGEST:
        return f"is longer than {LONGEST} bytes"
    return ""


def template_problem(template: str) -> str:
    """Say what is wrong with a template; ``""`` for a good one."""
    fields = _FIELD.findall(template)
    rest = _FIELD.sub("", template)
    if "{" in rest or "}" in rest:
        return "a brace is not closed"
    if not fields:
        return 'the template has no field, such as "{piece}"'
    if len(fields) > 20:
        return "the template has more than 20 fields"
    if any(not re.fullmatch(r"[a-z][a-z0-9_-]*", field) for field in fields):
        return "a field's name is lower-case letters, digits, - and _"
    if re.search(r"\}\{", template):
        return "two fields need something between them"
    return ""


def matches_template(stem: str, template: str) -> bool:
    """Whether a stem can be read as the template, each field a run of a-z, 0-9 and inner hyphens.

    All positions at which the text so far can end are kept, instead of backing up, so that the time is
    bounded by fields times length squared whatever the template. A field that occurs twice may differ.
    """
    parts = _FIELD.split(template)  # literal, field, literal, field, ..., literal
    ends = {len(parts[0])} if stem.startswith(parts[0]) else set()
    for literal in parts[2::2]:
        after: set[int] = set()
        for start in ends:
            if stem[start : start + 1] not in _ENDS:
                continue
            for end in range(start + 1, len(stem) + 1):
                if stem[end - 1] not in _INNER:
                    break
                if stem[end - 1] != "-" and stem.startswith(literal, end):
                    after.add(end + len(literal))
        ends = after
    return len(stem) in ends
