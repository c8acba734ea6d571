"""All rules, in the order in which they are judged and listed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.rules import (
    color,
    copies,
    edges,
    file,
    history,
    jpeg,
    metadata,
    motion,
    portfolio,
    size,
    text,
)
from pytest_webdeliverable.rules.base import Rule

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from types import ModuleType

_MODULES: Final = (
    file,
    size,
    color,
    jpeg,
    edges,
    history,
    metadata,
    motion,
    text,
    copies,
    portfolio,
)


def _rules_in(module: ModuleType) -> Iterator[type[Rule]]:
    """Yield the rules that a module defines, in order; a leading underscore marks a base class."""
    for name, value in vars(module).items():
        if (
            isinstance(value, type)
            and issubclass(value, Rule)
            and value.__module__ == module.__name__
            and not name.startswith("_")
        ):
            yield value


BUILT_IN: Final = tuple(rule for module in _MODULES for rule in _rules_in(module))


def registry(more: Iterable[Rule] = ()) -> dict[str, Rule]:
    """Return every rule by name; a later rule of the same name takes the place of an earlier one."""
    rules = {rule.name: rule() for rule in BUILT_IN}
    rules.update((rule.name, rule) for rule in more)
    return rules
