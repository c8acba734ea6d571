"""The mutants of a text: every change of one thing in its syntax tree."""

from __future__ import annotations

import ast
import copy
from functools import partial
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

_COMPARED = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
_CALCULATED = {
    ast.Add: (ast.Sub,),
    ast.Sub: (ast.Add,),
    ast.Mult: (ast.Div,),
    ast.Div: (ast.Mult,),
    ast.FloorDiv: (ast.Mult,),
    ast.Mod: (ast.FloorDiv,),
    ast.Pow: (ast.Mult,),
    ast.LShift: (ast.RShift,),
    ast.RShift: (ast.LShift,),
    ast.BitAnd: (ast.BitOr,),
    ast.BitOr: (ast.BitAnd,),
    ast.BitXor: (ast.BitOr,),
}


def changes(node: ast.AST) -> Iterator[tuple[str, Any]]:
    """Every mutant of one node: what is done, and the node that takes its place.

    Comparisons move their border or turn round, calculations take another operator, ``and`` becomes
    ``or``, conditions turn round, numbers move by one (fractions by a tenth), truths flip, loops end
    instead of going on, results are None, and plain statements are left out.
    """
    match node:
        case ast.Compare(ops=[operator], left=left, comparators=right):
            for other in _COMPARED[type(operator)]:
                yield (
                    f"{type(operator).__name__} to {other.__name__}",
                    ast.Compare(left, [other()], right),
                )
        case ast.BinOp(left=left, op=operator, right=right):
            if isinstance(left, ast.Constant) and isinstance(left.value, str | bytes):
                return  # a text that is composed
            for other in _CALCULATED.get(type(operator), ()):
                yield (
                    f"{type(operator).__name__} to {other.__name__}",
                    ast.BinOp(left, other(), right),
                )
        case ast.AugAssign(target=target, op=operator, value=value):
            for other in _CALCULATED.get(type(operator), ()):
                named = f"{type(operator).__name__}= to {other.__name__}="
                yield named, ast.AugAssign(target, other(), value)
        case ast.BoolOp(op=operator, values=values):
            other = ast.Or if isinstance(operator, ast.And) else ast.And
            yield f"{type(operator).__name__} to {other.__name__}", ast.BoolOp(other(), values)
        case ast.UnaryOp(op=ast.Not() | ast.USub(), operand=operand):
            yield f"without {type(node.op).__name__}", operand
        case ast.If() | ast.While() | ast.IfExp():
            other = copy.copy(node)
            other.test = ast.UnaryOp(ast.Not(), node.test)
            yield "condition turned round", other
        case ast.Constant(value=bool() as value):
            yield f"{value} to {not value}", ast.Constant(not value)
        case ast.Constant(value=int() as value):
            yield f"{value} to {value + 1}", ast.Constant(value + 1)
            if value > 0:
                yield f"{value} to {value - 1}", ast.Constant(value - 1)
        case ast.Constant(value=float() as value):
            yield (
                f"{value} to {value * 1.1 + (value == 0)}",
                ast.Constant(value * 1.1 + (value == 0)),
            )
            yield f"{value} to {value * 0.9}", ast.Constant(value * 0.9)
        case ast.Break():
            yield "break to continue", ast.Continue()
        case ast.Continue():
            yield "continue to break", ast.Break()
        case ast.Return(value=value) if value is not None and not _is_none(value):
            yield "return None", ast.Return(ast.Constant(None))
        case ast.Expr(value=ast.Call()) | ast.AugAssign():
            yield "statement left out", ast.Pass()


def _is_none(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


def _left_alone(node: ast.AST) -> bool:
    """Types, and what is only there for them."""
    match node:
        case (
            ast.If(test=ast.Name(id="TYPE_CHECKING"))
            | ast.JoinedStr()
            | ast.ImportFrom()
            | ast.Import()
        ):
            return True
        case ast.Expr(value=ast.Constant()):
            return True
    return False


def _places(node: ast.AST) -> Iterator[tuple[ast.AST, str, int | None, ast.AST]]:
    """Parent, field, index and child of every node that may change, types left out."""
    for field, value in ast.iter_fields(node):
        if field in {"annotation", "returns", "decorator_list", "type_params", "format_spec"}:
            continue
        for index, child in enumerate(value) if isinstance(value, list) else [(None, value)]:
            if isinstance(child, ast.AST) and not _left_alone(child):
                yield node, field, index, child
                yield from _places(child)


def mutants(text: str) -> Iterator[tuple[str, int, int, Callable[[], str]]]:
    """Every mutant of a module: what is done, first and last line of it, what makes the new text."""
    lines = text.splitlines(keepends=True)
    tree = ast.parse(text)
    statement = _statements(tree)
    for _, _, _, child in _places(tree):
        if not hasattr(child, "lineno"):
            continue
        for done, other in changes(child):
            yield done, *statement[id(child)], partial(_replaced, lines, child, other)


def _statements(tree: ast.Module) -> dict[int, tuple[int, int]]:
    """First and last line of the statement, or the head of the block, that each node stands in."""
    found: dict[int, tuple[int, int]] = {}

    def walk(node: ast.AST, span: tuple[int, int]) -> None:
        if isinstance(node, ast.stmt | ast.match_case):
            first = node.lineno if isinstance(node, ast.stmt) else node.pattern.lineno
            body = getattr(node, "body", None)
            last = getattr(node, "end_lineno", None) or first
            span = (first, max(first, body[0].lineno - 1) if body else last)
        found[id(node)] = span
        for child in ast.iter_child_nodes(node):
            walk(child, span)

    walk(tree, (1, 1))
    return found


def _replaced(lines: list[str], node: Any, other: Any) -> str:
    """The text with one node written anew; lines keep their numbers where the node has one line."""

    def at(line: int, column: int) -> int:
        return sum(map(len, lines[: line - 1])) + len(lines[line - 1].encode()[:column].decode())

    start, end = at(node.lineno, node.col_offset), at(node.end_lineno, node.end_col_offset)
    text = "".join(lines)
    ast.fix_missing_locations(other)
    new = ast.unparse(other)
    if isinstance(node, ast.expr):
        new = f"({new})"
    if "\n" in new:  # a block keeps its place
        indent = "\n" + " " * node.col_offset
        new = new.replace("\n", indent)
    return text[:start] + new + text[end:]
