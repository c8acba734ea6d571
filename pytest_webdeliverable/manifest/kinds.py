"""Kinds of manifest values: each reads one value, says what it expects, and gives its JSON Schema."""

from __future__ import annotations

import datetime
import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Protocol

from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.file_names import template_problem
from pytest_webdeliverable.manifest.problems import nearest
from pytest_webdeliverable.manifest.quantities import (
    LENGTH_PATTERN,
    SIZE_PATTERN,
    WEIGHT_PATTERN,
    parse_length,
    parse_trim,
    parse_weight,
)
from pytest_webdeliverable.manifest.slips import without_slips

if TYPE_CHECKING:
    from collections.abc import Callable

    from pytest_webdeliverable.manifest.lines import Path

Schema = dict[str, Any]

WRONG: Final = object()
"""Stands for a value that was reported as wrong; its key keeps the default."""


class Kind(Protocol):
    """Reads one value."""

    @property
    def expects(self) -> str:
        """What a good value is, in words."""
        ...

    def read(self, value: object, path: Path, report: Callable[[Path, str], None]) -> Any:
        """Return the value as the program uses it, or report what is wrong and return ``WRONG``."""
        ...

    def schema(self) -> Schema:
        """Return the JSON Schema of the value."""
        ...


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, str):
        return f'"{display_name(value[:60])}"'
    try:
        return display_name(str(value)[:60])
    except ValueError:  # an integer of more digits than Python prints
        return "a very large number"


def refuse(
    kind: Kind, value: object, path: Path, report: Callable[[Path, str], None], hint: str = ""
) -> Any:
    """Report that a value is not what its kind expects."""
    report(path, f"expected {kind.expects}, not {_shown(value)}{hint}")
    return WRONG


@dataclass(frozen=True, slots=True)
class Text:
    """A string, optionally of a pattern; ``most`` characters, because a report repeats it."""

    expects: str = "text in quotes"
    pattern: str = ""
    empty: bool = False
    most: int = 10_000

    def read(self, value: object, path: Path, report: Callable[[Path, str], None]) -> Any:
        if not isinstance(value, str) or not (value.strip() or self.empty):
            return refuse(self, value, path, report)
        if len(value) > self.most:
            return refuse(self, value, path, report, f"; at most {self.most:,} characters")
        if self.pattern and not re.fullmatch(self.pattern, value):
            return refuse(self, value, path, report)
        return value

    def schema(self) -> Schema:
        schema: Schema = {"type": "string"}
        if self.pattern:
            schema["pattern"] = f"^{self.pattern}$"
        elif not self.empty:
            schema["minLength"] = 1
        return schema


@dataclass(frozen=True, slots=True)
class Template:
    """A template of a file name."""

    expects: str = 'a template such as "{family}-{given}-{piece}"'

    def read(self, value: object, path: Path, report: Callable[[Path, str], None]) -> Any:
        if not isinstance(value, str):
            return refuse(self, value, path, report)
        problem = template_problem(value)
        return refuse(self, value, path, report, f": {problem}") if problem else value

    def schema(self) -> Schema:
        return {"type": "string", "pattern": r"\{[a-z][a-z0-9_-]*\}"}


@dataclass(frozen=True, slots=True)
class Flag:
    """True or false."""

    expects: str = "true or false"

    def read(self, value: object, path: Path, report: Callable[[Path, str], None]) -> Any:
        return value if isinstance(value, bool) else refuse(self, value, path, report)

    def schema(self) -> Schema:
        return {"type": "boolean"}


@dataclass(frozen=True, slots=True)
class Never:
    """The word false, where a table says more."""

    expects: str = "false"

    def read(self, value: object, path: Path, report: Callable[[Path, str], None]) -> Any:
        return False if value is False else refuse(self, value, path, report)

    def schema(self) -> Schema:
        return {"const": False}


@dataclass(frozen=True, slots=True)
class Number:
    """A finite number between two bounds, whole or not."""

    least: float
    most: float
    whole: bool = True
    unit: str = ""

    @property
    def expects(self) -> str:
        unit = f" {self.unit}" if self.unit else ""
        return (
            f"a {'whole ' if self.whole else ''}number from {self.least:g} to {self.most:g}{unit}"
        )

    def read(self, value: object, path: Path, report: Callable[[Path, str], None]) -> Any:
        kinds = (int,) if self.whole else (int, float)
        if isinstance(value, bool) or not isinstance(value, kinds):
            return refuse(self, value, path, report)
        if not (math.isfinite(value) if isinstance(value, float) else True):
            return refuse(self, value, path, report)
        return value if self.least <= value <= self.most else refuse(self, value, path, report)

    def schema(self) -> Schema:
        return {
            "type": "integer" if self.whole else "number",
            "minimum": self.least,
            "maximum": self.most,
        }


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a few words or numbers."""

    options: tuple[str | int, ...]

    @property
    def expects(self) -> str:
        words = [f'"{word}"' if isinstance(word, str) else str(word) for word in self.options]
        return f"one of {', '.join(words)}"

    def read(self, value: object, path: Path, report: Callable[[Path, str], None]) -> Any:
        if isinstance(value, (str, int)) and not isinstance(value, bool) and value in self.options:
            return value
        hint = ""
        if isinstance(value, str):
            hint = nearest(value, [word for word in self.options if isinstance(word, str)])
            hint = hint if "did you mean" in hint else ""
        return refuse(self, value, path, report, hint)

    def schema(self) -> Schema:
        return {"enum": list(self.options)}


@dataclass(frozen=True, slots=True)
class ListOf:
    """A list of one kind, read as a tuple; ``single`` lets one value stand without brackets."""

    kind: Kind
    least: int = 1
    most: int = 100_000
    single: bool = False
    example: str = ""

    @property
    def expects(self) -> str:
        count = f"{self.least} " if self.least == self.most else ""
        either = f"{self.kind.expects}, or " if self.single else ""
        example = f" such as {self.example}" if self.example else ""
        return f"{either}a list of {count}values{example}, each {self.kind.expects}"

    def read(self, value: object, path: Path, report: Callable[[Path, str], None]) -> Any:
        if self.single and not isinstance(value, list):
            one = self.kind.read(value, path, report)
            return one if one is WRONG else (one,)
        if value == [] and 0 < self.least < self.most:
            report(path, "the list is empty; leave the key out to check nothing")
            return WRONG
        if not isinstance(value, list) or not self.least <= len(value) <= self.most:
            many = isinstance(value, list) and len(value) > self.most > self.least
            return refuse(self, value, path, report, f"; at most {self.most:,}" if many else "")
        read = [self.kind.read(item, (*path, index), report) for index, item in enumerate(value)]
        return WRONG if any(item is WRONG for item in read) else tuple(read)

    def schema(self) -> Schema:
        schema: Schema = {"type": "array", "items": self.kind.schema(), "minItems": self.least}
        if self.least == self.most:
            schema["maxItems"] = self.most
        return {"anyOf": [self.kind.schema(), schema]} if self.single else schema


@dataclass(frozen=True, slots=True)
class _Parsed:
    """A string that a function turns into a quantity, or None."""

    expects: str
    parse: Callable[[str], object | None]
    pattern: str
    unit: str
    """Unit that is tried where none is written."""

    def read(self, value: object, path: Path, report: Callable[[Path, str], None]) -> Any:
        parsed = self.parse(value) if isinstance(value, str) else None
        if parsed is not None:
            return parsed
        meant = without_slips(value) if isinstance(value, str) else _shown(value)
        if self.parse(meant) is not None:
            return refuse(self, value, path, report, f'; did you mean "{meant}"?')
        if self.parse(f"{meant} {self.unit}") is not None:
            return refuse(self, value, path, report, "; the unit is missing")
        return refuse(self, value, path, report)

    def schema(self) -> Schema:
        return {"type": "string", "pattern": self.pattern}


WEIGHT: Final = _Parsed('a weight such as "900 kB" or "1.5 MB"', parse_weight, WEIGHT_PATTERN, "kB")
TRIM: Final = _Parsed(
    'a finished size such as "11 x 17 in", "297 x 420 mm" or "A3 landscape"',
    parse_trim,
    SIZE_PATTERN,
    "mm",
)
LENGTH: Final = _Parsed('a length such as "3 mm" or "0.125 in"', parse_length, LENGTH_PATTERN, "mm")


@dataclass(frozen=True, slots=True)
class Day:
    """A TOML date."""

    expects: str = "a date without quotes, such as 2027-03-31"

    def read(self, value: object, path: Path, report: Callable[[Path, str], None]) -> Any:
        if isinstance(value, datetime.datetime):
            return value.date()
        return value if isinstance(value, datetime.date) else refuse(self, value, path, report)

    def schema(self) -> Schema:
        # Editors hand a TOML date to the validator as text.
        return {"type": "string", "format": "date"}
