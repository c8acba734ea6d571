"""The numbers of the code with what is written beside them, for the page on sources.

A number is a constant at the top of a module, or a field of a table of limits. What it means stands
below it as a string, or behind it as a comment; constants that follow each other share the string.
Codes of a file format are written in hexadecimal, as its standard does, and are left out.
"""

from __future__ import annotations

import ast
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator

PACKAGE = Path(__file__).parents[1] / "pytest_webdeliverable"
SUBJECTS = {
    "measure/limits.py": "What a file may cost",
    "manifest": "The manifest",
    "rules": "Rules",
    "measure/edges": "Edges",
    "measure/history": "History",
    "likeness": "Likeness",
    "measure/flash": "Flashing",
    "measure/motion": "Flashing",
    "measure/color": "Color",
    "measure/icc": "Color",
    "measure/srgb": "Color",
    "measure/ciede2000": "Color",
    "measure/metadata": "Metadata",
    "measure/headers": "Reading files",
    "measure": "Measuring",
    "report": "The report",
    "": "Everything else",
}
"""Titles by the beginning of a module's path; the first that fits counts."""


class Number(NamedTuple):
    """A number: module, name, value as written, and what is said of it."""

    module: str
    name: str
    value: str
    meaning: str

    @property
    def place(self) -> str:
        """Where it stands, as one would import it from the package."""
        return f"{self.module.removesuffix('.py').replace('/', '.')}.{self.name}"


def numbers() -> Iterator[Number]:
    """Yield all numbers, module by module; ``meaning`` is empty where nothing is written."""
    for path in sorted(PACKAGE.rglob("*.py")):
        source = path.read_text(encoding="utf-8")
        tree = ast.parse(source)
        limits = [
            one for one in tree.body if isinstance(one, ast.ClassDef) and one.name == "Limits"
        ]
        for body in (tree.body, *(one.body for one in limits)):
            yield from _in_body(path.relative_to(PACKAGE).as_posix(), source, body)


def _in_body(module: str, source: str, body: list[ast.stmt]) -> Iterator[Number]:
    lines = source.splitlines()
    waiting: list[tuple[str, str]] = []
    for node in [*body, ast.Pass()]:
        text = node.value.value if _is_text(node) else ""
        if waiting and not _is_number(node):
            yield from (Number(module, *one, " ".join(text.split())) for one in waiting)
            waiting = []
        if not _is_number(node):
            continue
        written = ast.get_source_segment(source, node.value) or ""
        if "0x" in written:
            continue
        comment = lines[(node.end_lineno or 1) - 1].partition("  # ")[2]
        if comment:
            yield Number(module, node.target.id, written, comment)
        else:
            waiting.append((node.target.id, " ".join(written.split())))


def _is_text(node: ast.stmt) -> bool:
    return (
        isinstance(node, ast.Expr)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
    )


def _is_number(node: ast.stmt) -> bool:
    return isinstance(node, ast.AnnAssign) and node.value is not None and _numeric(node.value)


def _numeric(node: ast.expr) -> bool:
    match node:
        case ast.Constant(value):
            return isinstance(value, int | float) and not isinstance(value, bool)
        case ast.BinOp(left=left, right=right):
            return _numeric(left) and _numeric(right)
        case ast.UnaryOp(operand=operand):
            return _numeric(operand)
        case ast.Name(name):
            return name.lstrip("_").isupper()
        case ast.Call(func=ast.Name("Fraction")):
            return True
    return False


def by_subject() -> dict[str, list[Number]]:
    """Return all numbers under the titles of their subjects."""
    subjects: dict[str, list[Number]] = {title: [] for title in SUBJECTS.values()}
    for one in numbers():
        start = next(start for start in SUBJECTS if one.module.startswith(start))
        subjects[SUBJECTS[start]].append(one)
    return subjects
