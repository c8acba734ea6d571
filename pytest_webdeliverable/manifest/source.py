"""Read one TOML file into a document that knows its lines and collects its problems."""

from __future__ import annotations

import os
import stat
from typing import TYPE_CHECKING, Any, Final

import tomli

from pytest_webdeliverable.manifest.lines import LineMap
from pytest_webdeliverable.manifest.problems import ManifestError, Problem
from pytest_webdeliverable.manifest.slips import syntax_hint

if TYPE_CHECKING:
    from pathlib import Path as FilePath

    from pytest_webdeliverable.manifest.lines import Path

LARGEST: Final = 3 * 1024 * 1024
"""Bytes of a manifest and its shared specs together: 10,000 pieces of 300 bytes each. Measured: the
dearest text of this size takes 3 s and 400 MB."""
MOST_PROBLEMS: Final = 100
"""Problems of a manifest and its shared specs after which they are read no further."""
LONGEST_LINE: Final = 1000
"""Characters of a line that are looked through for what was meant."""


class Document:
    """One TOML file: its data, where each key stands, and what is wrong with it."""

    def __init__(self, shown: str, folder: str, text: str, data: dict[str, Any]) -> None:
        self.shown = shown
        self.folder = folder
        self.data = data
        self.problems: list[Problem] = []
        self.size = 0
        """Bytes that were read."""
        self._text = text
        self._lines: LineMap | None = None

    def line(self, path: Path) -> int:
        """Line of a key path; the text is scanned on first use."""
        if self._lines is None:
            self._lines = LineMap(self._text)
        return self._lines.line(path)

    def report(self, path: Path, text: str) -> None:
        """Note a problem at a key path. Raises ManifestError where there are too many to go on."""
        self.problems.append(
            Problem(
                file=self.shown,
                line=self.line(path),
                place=self._place(path),
                key=_key_text(path),
                text=text,
            )
        )
        if len(self.problems) >= MOST_PROBLEMS:
            raise ManifestError(self.problems)

    def _place(self, path: Path) -> str:
        if len(path) >= 2 and path[0] == "piece" and isinstance(path[1], int):
            pieces = self.data["piece"]
            entry = pieces[path[1]] if path[1] < len(pieces) else None
            name = entry.get("id", entry.get("file")) if isinstance(entry, dict) else None
            return f'piece "{name}"' if isinstance(name, str) else f"piece {path[1] + 1}"
        if len(path) >= 2 and path[0] == "spec":
            return f'spec "{path[1]}"'
        return f"[{path[0]}]" if len(path) >= 2 else ""


def _key_text(path: Path) -> str:
    inner = path[2:] if path and path[0] in {"piece", "spec"} else path[1:]
    if not inner:
        return str(path[0]) if len(path) == 1 else ""
    words: list[str] = []
    for part in inner:
        if isinstance(part, int):
            words[-1:] = [f"{words[-1] if words else ''} {part + 1}".strip()]
        else:
            words.append(part)
    return ".".join(words)


def read_document(path: FilePath, shown: str, folder: str, most: int = LARGEST) -> Document:
    """Read a TOML 1.1 file of at most so many bytes.

    ``shown`` is its name in messages, ``folder`` its folder below the root as a posix path. Raises
    ManifestError with the line, and the column where TOML itself is broken.
    """
    raw = _read_bytes(path, shown, most)
    text = _decode(raw, shown)
    try:
        data = tomli.loads(text)
    except tomli.TOMLDecodeError as error:
        line = min(error.lineno, text.count("\n") + 1)
        hint = syntax_hint(error.msg, text.split("\n")[line - 1][:LONGEST_LINE])
        _fail(shown, line, f"this is not valid TOML, column {error.colno}: {error.msg}{hint}")
    except RecursionError:
        _fail(shown, 1, "values are nested too deeply")
    except ValueError:  # an integer with more digits than Python converts
        _fail(shown, 1, "a number has too many digits")
    document = Document(shown, folder, text, data)
    document.size = len(raw)
    return document


def _fail(shown: str, line: int, text: str) -> Any:
    raise ManifestError([Problem(file=shown, line=line, place="", key="", text=text)]) from None


def _read_bytes(path: FilePath, shown: str, most: int) -> bytes:
    try:
        # Non-blocking, so that a FIFO in place of the file cannot hold the run for ever.
        handle = os.open(
            path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
        )
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a usable path"
        _fail(shown, 1, f"the file cannot be read: {reason}")
    if not stat.S_ISREG(os.fstat(handle).st_mode):
        os.close(handle)
        _fail(shown, 1, "this is not a regular file")
    with os.fdopen(handle, "rb") as file:
        data = file.read(most + 1)
    if len(data) > most:
        together = "" if most == LARGEST else " with the manifest and the files before it"
        _fail(shown, 1, f"the file is larger than {LARGEST // 1024**2} MiB{together}")
    return data


def _decode(data: bytes, shown: str) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        _fail(shown, line, "the text is not UTF-8; save the file as UTF-8 in your text editor")
    return text.replace("\r\n", "\n")
