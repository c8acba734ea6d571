"""Problems of a manifest, collected so that one run shows them all."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.display import display_name

if TYPE_CHECKING:
    from collections.abc import Iterable

MOST_SHOWN: Final = 20
"""Problems printed at most; after so many, the first ones are the ones to mend."""

LIKE: Final = 0.65
"""Ratio of difflib from which a name is taken for a misspelling; tried on misspellings, no source."""

FEW: Final = 30
"""Valid names listed at most; all keys of a spec are fewer."""

LONGEST_NAME: Final = 40
"""Characters of names that are compared; comparing takes the square of them."""

MOST_COMPARED: Final = 60
"""Valid names that one is compared with, those that begin alike and are as long first; rules are 45."""

LONGEST_TEXT: Final = 2000
"""Characters of one problem; its own words and the names that would be valid are fewer."""


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Problem:
    """One thing wrong in one place; ``place`` names the piece or table, ``key`` the key."""

    file: str
    line: int
    place: str
    key: str
    text: str

    def __str__(self) -> str:
        parts = [f"{display_name(self.file)}:{self.line}"]
        if self.place:
            parts.append(display_name(self.place))
        if self.key:
            parts.append(f'key "{display_name(self.key)}"')
        # What is quoted from the manifest is plain already; this holds for all that is still to come.
        return ": ".join([*parts, display_name(self.text, LONGEST_TEXT)])


class ManifestError(Exception):
    """A manifest that cannot be used, with every problem found in it."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = sorted(set(problems))
        super().__init__(str(self))

    def __str__(self) -> str:
        lines = [str(problem) for problem in self.problems[:MOST_SHOWN]]
        if len(self.problems) > MOST_SHOWN:
            lines.append(f"... and {len(self.problems) - MOST_SHOWN} more")
        return "\n".join(lines)


def nearest(name: str, names: Iterable[str]) -> str:
    """Return the end of a sentence that names the nearest valid name, or all of them if few."""
    known = sorted(names)
    close = _most_like(name[:LONGEST_NAME], known, LIKE)
    if close:
        return f'; did you mean "{display_name(close)}"?'
    if len(known) <= FEW:
        return f"; valid here: {', '.join(map(display_name, known))}" if known else ""
    close = _most_like(name[:LONGEST_NAME], known, 0.0)
    return f'; the nearest valid name is "{display_name(close)}"'


def _most_like(name: str, known: list[str], least: float) -> str:
    """Return the known name that is most like one, in other capitals first; ``""`` where none is."""
    small = name.lower()
    by_start = {one[:LONGEST_NAME]: one for one in reversed(known)}
    for start, one in by_start.items():
        if start.lower() == small:
            return one
    starts = sorted(by_start)
    if len(starts) > MOST_COMPARED:
        starts.sort(key=lambda one: (one[:1].lower() != small[:1], abs(len(one) - len(name))))
        del starts[MOST_COMPARED:]
    close = get_close_matches(name, starts, n=1, cutoff=least)
    return by_start[close[0]] if close else ""
