"""Find the line on which each key of a TOML document stands.

tomli gives values without positions, and a message without a line sends a designer searching. This
scanner runs on text that tomli has accepted, so it only has to follow the structure, not check it.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from contextlib import suppress
from typing import Final

Path = tuple[str | int, ...]

_SPACE: Final = re.compile(r"(?:[ \t\r\n]++|#[^\n]*+)++")
_BLANK: Final = re.compile(r"[ \t]+")
_BARE_KEY: Final = re.compile(r"[A-Za-z0-9_-]+")
_STRINGS: Final = (
    re.compile(r'"""[^"\\]*+(?:(?:\\.|"(?!""))[^"\\]*+)*+"{3,5}', re.DOTALL),
    re.compile(r"'''[^']*+(?:'(?!'')[^']*+)*+'{3,5}", re.DOTALL),
    re.compile(r'"[^"\\\n]*+(?:\\.[^"\\\n]*+)*+"'),
    re.compile(r"'[^'\n]*'"),
)
_SCALAR: Final = re.compile(r"[^,\]}\n#]+")
MOST_PLACES: Final = 1_000_000
"""Keys and items whose lines are known; 50,000 pieces of ten keys each are half of that."""


class LineMap:
    """Line numbers (from 1) by key path, such as ``("piece", 2, "trim")``."""

    def __init__(self, text: str) -> None:
        self._lines: dict[Path, int] = {}
        self._text = text
        self._breaks = [match.start() for match in re.finditer("\n", text)]
        self._at = 0
        self._counts: dict[Path, int] = {}
        # A shape this scanner does not know costs precision of a line number, never the message.
        with suppress(IndexError, RecursionError):
            self._scan()

    def line(self, path: Path) -> int:
        """Line of the path, or of its nearest parent that is written down; 1 where none is."""
        for length in range(len(path), 0, -1):
            if (line := self._lines.get(path[:length])) is not None:
                return line
        return 1

    def _here(self) -> int:
        return bisect_right(self._breaks, self._at - 1) + 1 if self._at else 1

    def _skip(self, pattern: re.Pattern[str]) -> None:
        if match := pattern.match(self._text, self._at):
            self._at = match.end()

    def _scan(self) -> None:
        table: Path = ()
        self._skip(_SPACE)
        while self._at < len(self._text):
            if self._text[self._at] == "[":
                table = self._header()
            else:
                self._pair(table)
            self._skip(_SPACE)

    def _header(self) -> Path:
        line = self._here()
        double = self._text.startswith("[[", self._at)
        self._at += 2 if double else 1
        path = self._resolve(self._key())
        self._at += 2 if double else 1
        if double:
            index = self._counts.get(path, -1) + 1
            self._counts[path] = index
            path = (*path, index)
        self._note(path, line)
        return path

    def _note(self, path: Path, line: int) -> None:
        if len(self._lines) >= MOST_PLACES:
            raise IndexError
        self._lines.setdefault(path, line)

    def _resolve(self, parts: Path) -> Path:
        """Follow a header through arrays of tables: ``[piece.x]`` means the last piece."""
        path: Path = ()
        for number, part in enumerate(parts):
            path = (*path, part)
            if number < len(parts) - 1 and path in self._counts:
                path = (*path, self._counts[path])
        return path

    def _key(self) -> Path:
        parts: list[str | int] = []
        while True:
            self._skip(_BLANK)
            if match := _BARE_KEY.match(self._text, self._at):
                parts.append(match.group())
                self._at = match.end()
            else:
                start = self._at
                self._string()
                parts.append(_unquote(self._text[start : self._at]))
            self._skip(_BLANK)
            if self._text[self._at] != ".":
                return tuple(parts)
            self._at += 1

    def _pair(self, table: Path) -> None:
        line = self._here()
        path = (*table, *self._key())
        self._note(path, line)
        self._at += 1  # the equals sign
        self._skip(_BLANK)
        self._value(path)

    def _value(self, path: Path) -> None:
        sign = self._text[self._at]
        if sign in "\"'":
            self._string()
        elif sign == "[":
            self._at += 1
            self._skip(_SPACE)
            index = 0
            while self._text[self._at] != "]":
                self._note((*path, index), self._here())
                self._value((*path, index))
                index += 1
                self._skip_comma()
            self._at += 1
        elif sign == "{":
            self._at += 1
            self._skip(_SPACE)
            while self._text[self._at] != "}":
                self._pair(path)
                self._skip_comma()
            self._at += 1
        elif match := _SCALAR.match(self._text, self._at):
            self._at = match.end()
        else:
            raise IndexError

    def _skip_comma(self) -> None:
        self._skip(_SPACE)
        if self._text[self._at] == ",":
            self._at += 1
            self._skip(_SPACE)

    def _string(self) -> None:
        for pattern in _STRINGS:
            if match := pattern.match(self._text, self._at):
                self._at = match.end()
                return
        raise IndexError


def _unquote(text: str) -> str:
    """Text of a quoted key; escapes are rare in keys and only matter for the look-up."""
    return text[1:-1]
