"""How a name or a piece of metadata from outside is written into a message.

Such text may hold line breaks, terminal escapes, marks that turn the reading direction, or the
openings of commands that a CI service obeys. One function makes all of it plain and visible.
"""

from __future__ import annotations

import sys
from typing import Final

LONGEST: Final = 200
"""Characters of outside text in one message; common practice, no source: two to three lines."""

_CUT: Final = "..."
_FIRST_BYTE_ESCAPE: Final = 0xDC80
_LAST_BYTE_ESCAPE: Final = 0xDCFF  # PEP 383: byte 0x80..0xFF of a name that is not UTF-8


def _visible(character: str) -> str:
    if character.isprintable():
        return character
    code = ord(character)
    if _FIRST_BYTE_ESCAPE <= code <= _LAST_BYTE_ESCAPE:
        return f"\\x{code - 0xDC00:02x}"
    return character.encode("unicode_escape", "backslashreplace").decode("ascii")


def display_name(text: str, longest: int = LONGEST) -> str:
    r"""Return ``text`` on one line, with nothing in it that acts, cut to ``longest``.

    Control, format, private and unassigned characters, spaces other than the common one, lone
    surrogates and bytes that are not UTF-8 become escapes such as ``\n``, ``\u202e`` or ``\xff``.
    ``::`` becomes ``: :`` and ``##`` becomes ``# #``, so that neither workflow commands nor the
    parts of a test's name can be written by a file.
    """
    shown = "".join(map(_visible, text[: longest + 1]))
    for mark in ":#":
        while mark * 2 in shown:
            shown = shown.replace(mark * 2, f"{mark} {mark}")
    if len(text) > longest or len(shown) > longest:
        shown = shown[: longest - len(_CUT)] + _CUT
    return shown


def print_line(text: str) -> None:
    """Print a line, whatever the terminal's character set."""
    known = sys.stdout.encoding or "ascii"
    print(text.encode(known, "backslashreplace").decode(known))
