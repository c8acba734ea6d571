"""Resolve specs: built-in ones, those of plugins, shared files and the manifest itself, layer by layer.

A table of the same name changes the layer below; ``from`` derives from another spec. Tables inside a
spec are merged key by key, everything else is replaced.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.manifest.kinds import WRONG
from pytest_webdeliverable.manifest.model import SPEC_NAME, PieceEntry, Spec
from pytest_webdeliverable.manifest.paths import below_root, path_problem
from pytest_webdeliverable.manifest.problems import nearest
from pytest_webdeliverable.manifest.tables import read_table

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping

    from pytest_webdeliverable.manifest.lines import Path
    from pytest_webdeliverable.manifest.source import Document

LONGEST_CHAIN: Final = 32
"""Specs, each derived from the next; a school, a class and a portfolio make three."""
MOST_SPECS: Final = 300
"""Specs that a manifest can name, built-in and shared ones among them; a house has a dozen."""
_PIECES: Final = MappingProxyType({"[[piece]]": PieceEntry})
PROFILE_WORDS = frozenset({"srgb", "embedded", "none"})


@dataclass(frozen=True, slots=True)
class Layer:
    """One raw [spec.NAME] table and the one it changes."""

    raw: Mapping[str, Any]
    below: Layer | None
    report: Callable[[Path, str], None]


class Specs:
    """All specs a manifest can name."""

    def __init__(
        self,
        built_in: Mapping[str, Mapping[str, Any]],
        rules: Collection[str],
        report: Callable[[Path, str], None] | None = None,
    ) -> None:
        self._layers: dict[str, Layer] = {}
        self._done: dict[str, Spec] = {}
        self._rules = rules
        for name, raw in built_in.items():
            self._layers[name] = Layer(raw, self._layers.get(name), report or _ignore)

    @property
    def names(self) -> list[str]:
        """Every name a piece may use."""
        return sorted(self._layers)

    def add(self, document: Document) -> None:
        """Lay the [spec.NAME] tables of a file over what is there."""
        tables = document.data.get("spec", {})
        if not isinstance(tables, dict):
            document.report(("spec",), "write specs as tables: [spec.NAME]")
            return
        if len(tables) + len(self._layers) > MOST_SPECS:
            document.report(("spec",), f"more than {MOST_SPECS:,} specs")
            return
        added: dict[str, Layer] = {}
        for name, raw in tables.items():
            path: Path = ("spec", name)
            if problem := name_problem(name):
                document.report(path, problem)
                continue
            if not isinstance(raw, dict):
                document.report(path, "write a spec as a table: [spec.NAME], such as [spec.screen]")
                continue
            good = read_table(Spec, raw, path, document.report, _PIECES) is not WRONG
            good = self._check_rules(raw, path, document.report) and good
            placed = self._place_profile(raw, path, document) if good else None
            if placed is not None:
                added[name] = Layer(placed, self._layers.get(name), document.report)
        self._layers.update(added)

    def get(self, name: str) -> Spec | None:
        """Return a resolved spec, or None where the name is unknown or its origin is broken."""
        if name not in self._layers:
            return None
        if name not in self._done:
            merged = self._merge(name)
            spec = None if merged is None else read_table(Spec, merged, (), _ignore)
            if spec is None or spec is WRONG:
                return None
            self._done[name] = replace(spec, name=name)
        return self._done[name]

    def check(self) -> None:
        """Report a ``from`` that names nothing or runs in a circle, even in a spec nobody uses."""
        for name in self._layers:
            self.get(name)

    def _merge(self, name: str) -> dict[str, Any] | None:
        """Lay the tables of a spec over those that it changes and derives from, the deepest first."""
        laid: list[Mapping[str, Any]] = []
        seen = [name]
        layer: Layer | None = self._layers[name]
        while layer is not None:
            laid.append(layer.raw)
            origin = layer.raw.get("from", seen[-1])
            if origin == seen[-1]:
                layer = layer.below
                continue
            if problem := self._origin_problem(origin, seen):
                layer.report(("spec", seen[-1], "from"), problem)
                return None
            seen.append(origin)
            layer = self._layers[origin]
        merged: dict[str, Any] = {}
        for raw in reversed(laid):
            merged = _laid_over(merged, raw)
        return merged

    def _origin_problem(self, origin: str, seen: list[str]) -> str:
        if origin in seen:
            return "specs derive from each other in a circle"
        if origin not in self._layers:
            return f'there is no spec "{display_name(origin)}"{nearest(origin, self._layers)}'
        if len(seen) > LONGEST_CHAIN:
            return f"more than {LONGEST_CHAIN} specs derive from one another"
        return ""

    def _check_rules(
        self, raw: Mapping[str, Any], path: Path, report: Callable[[Path, str], None]
    ) -> bool:
        good = True
        for key in ("levels", "points"):
            for rule in raw.get(key, {}) if isinstance(raw.get(key), dict) else ():
                if rule not in self._rules:
                    hint = nearest(rule, self._rules)
                    report((*path, key, rule), f'there is no rule "{display_name(rule)}"{hint}')
                    good = False
        return good

    @staticmethod
    def _place_profile(
        raw: dict[str, Any], path: Path, document: Document
    ) -> dict[str, Any] | None:
        """Turn a profile path, which is relative to its own file, into one relative to the root."""
        profile = raw.get("profile")
        if profile is None or profile in PROFILE_WORDS:
            return raw
        if not profile.lower().endswith((".icc", ".icm")):
            hint = nearest(profile, PROFILE_WORDS)
            document.report(
                (*path, "profile"),
                f'expected "srgb", "embedded", "none" or a path to an .icc file, '
                f'not "{display_name(profile[:60])}"{hint if "did you mean" in hint else ""}',
            )
            return None
        if problem := path_problem(profile, document.folder):
            document.report((*path, "profile"), problem)
            return None
        return {**raw, "profile": below_root(profile, document.folder)}


def name_problem(name: str) -> str:
    """Say what is wrong with the name of a spec; ``""`` for a good one."""
    good = re.fullmatch(SPEC_NAME, name)
    return "" if good else "a spec has a name of letters, digits, - and _, at most 100 of them"


def problems_of(specs: Mapping[str, Any], rules: Collection[str]) -> list[str]:
    """Return what is wrong with specs that stand in no file but come from a plugin."""
    problems: list[str] = []

    def report(path: Path, text: str) -> None:
        problems.append(f"{'.'.join(map(str, path))}: {text}")

    for name, raw in specs.items():
        if not isinstance(raw, dict):
            report(("spec", name), "a spec is a table: a dict of keys and values")
        elif problem := name_problem(name):
            report(("spec", name), problem)
    if problems:
        return problems
    known = Specs(specs, rules, report)
    for name, raw in specs.items():
        read_table(Spec, raw, ("spec", name), report)
        known._check_rules(raw, ("spec", name), report)
    known.check()
    return problems


def _laid_over(base: Mapping[str, Any], top: Mapping[str, Any]) -> dict[str, Any]:
    merged = dict(base)
    for key, value in top.items():
        below = merged.get(key)
        if isinstance(value, dict) and isinstance(below, dict):
            merged[key] = _laid_over(below, value)
        else:
            merged[key] = value
    return merged


def _ignore(path: Path, text: str) -> None:
    """Swallow a report: every layer was checked with its own file and line when it was added."""
