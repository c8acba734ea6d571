"""A file by another writer, and what the rule that its id begins with must say about it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from pytest_webdeliverable.rules import registry

if TYPE_CHECKING:
    from collections.abc import Callable

RULES = sorted(registry(), key=len, reverse=True)


@dataclass(frozen=True, kw_only=True)
class Case:
    """One piece: the id begins with the rule that it is about.

    ``make`` gives the bytes; ``spec`` the lines of a spec table, ``piece`` those of a piece table;
    ``outcome`` and ``says``, a part of the message, are expected of that rule. No other rule may fail or
    advise, but those in ``also``.
    """

    id: str
    make: Callable[[], bytes]
    outcome: str
    says: str = ""
    spec: str = ""
    piece: str = ""
    suffix: str = ".jpg"
    file: str = ""
    also: tuple[str, ...] = ()

    @property
    def rule(self) -> str:
        """The rule that the id begins with."""
        return next(rule for rule in RULES if self.id.startswith(f"{rule}-"))

    @property
    def name(self) -> str:
        """Path of the file."""
        return self.file or f"{self.id}{self.suffix}"


def passes(id_: str, make: Callable[[], bytes], spec: str = "", **more: object) -> Case:
    """A near miss that passes."""
    return Case(id=id_, make=make, outcome="passed", spec=spec, **more)  # type: ignore[arg-type]


def fails(id_: str, make: Callable[[], bytes], says: str, spec: str = "", **more: object) -> Case:
    """A near miss that fails, with part of its message."""
    return Case(id=id_, make=make, outcome="failed", says=says, spec=spec, **more)  # type: ignore[arg-type]
