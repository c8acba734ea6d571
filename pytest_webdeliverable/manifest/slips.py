"""What was probably meant, where a manifest cannot be read as it stands: one hint for each usual slip."""

from __future__ import annotations

import re
from typing import Final

_CURLY: Final = "“”„«»‘’"
"""Quotation marks that word processors and messengers put in place of straight ones."""
_SYNTAX: Final = (
    (r"Illegal character '\\n'|Unterminated string|Expected \"'\"", "close the quotes"),
    (r"Unescaped|hex value|scalar value", "write / between folders, not \\"),
    (r"Invalid value", 'put text in straight quotes, as in title = "Tide table"; true and false in small letters'),
    (r"Invalid statement|Expected '='", 'write key = value; a key has letters, digits and hyphens; a comment begins with #'),
    (r"Expected newline", "write one value for each key: text in quotes, a number without commas, a date as 2027-03-31"),
    (r"Cannot overwrite|Duplicate inline", "the same key or table stands there twice"),
    (r"Cannot declare|Cannot mutate|Cannot redefine", "the same table stands there twice"),
    (r"end of a table|end of an array decl", "close the heading: [portfolio], [spec.NAME], [[piece]]"),
    (r"Unclosed inline table", "put a comma between the keys and } behind the last"),
    (r"Unclosed array", "put a comma between the values and ] behind the last"),
)  # fmt: skip
"""Messages of the TOML reader, and what a person has to do about them."""
_UNITS: Final = {
    "b": "B", "bytes": "B", "k": "kB", "kb": "kB", "m": "MB", "mb": "MB", "kib": "KiB", "mib": "MiB",
    '"': "in", "″": "in", "inch": "in", "inches": "in", "mm": "mm", "cm": "cm", "in": "in",
    "millimeters": "mm", "centimeters": "cm", "pixel": "px", "pixels": "px", "px": "px",
}  # fmt: skip
_UNIT_BEHIND: Final = re.compile(r"(.*[0-9])\s*([A-Za-z]+|[\"″])", re.DOTALL)
_STANDARD: Final = re.compile(r"(din|iso|jis)[ -]*", re.IGNORECASE)


def syntax_hint(message: str, line: str) -> str:
    """Return the end of a sentence that says how to mend TOML; ``""`` where nothing is known.

    ``message`` is the reader's, ``line`` the text of the line it points to.
    """
    if any(mark in line for mark in _CURLY) and "string" not in message:
        return '; write straight quotes, " and not “ or ”'
    return next((f"; {hint}" for found, hint in _SYNTAX if re.search(found, message)), "")


def without_slips(text: str) -> str:
    """Return a quantity with its unit as this manifest writes units, or a paper without its standard."""
    text = _STANDARD.sub("", text.strip()[:60], count=1)
    if (match := _UNIT_BEHIND.fullmatch(text)) and match[2].lower() in _UNITS:
        return f"{match[1]} {_UNITS[match[2].lower()]}"
    return text
