"""All rules, in the order in which they are judged and listed."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final, get_args

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
from pytest_webdeliverable.rules.base import Family, Rule

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from types import ModuleType

_NAME: Final = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
"""Safe in a node's name, in a key of TOML and in a mark expression."""

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
    """Return every rule by name; a later rule of the same name takes the place of an earlier one.

    Raises TypeError for one of ``more`` that is not a rule, or that names no known family.
    """
    rules = {rule.name: rule() for rule in BUILT_IN}
    for rule in more:
        if not isinstance(rule, Rule):
            raise TypeError(f"{rule!r} is not a rule: return rules ready for use, such as [Rule()]")
        if getattr(rule, "family", None) not in get_args(Family):
            families = ", ".join(get_args(Family))
            raise TypeError(f'the rule "{rule.name}" needs a family, one of: {families}')
        if not _NAME.fullmatch(rule.name):
            raise TypeError(f'"{rule.name}" is no name of a rule: use letters, digits and hyphens')
        rules[rule.name] = rule
    return rules
