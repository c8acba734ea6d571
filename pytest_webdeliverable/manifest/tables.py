"""Tables of the manifest: how a key is declared, and how a table is read and described from that.

A key is a dataclass field with a kind, in ``model.py``. Reading, error messages, the schema for
editors and the reference page all come from that declaration.
"""

from __future__ import annotations

from dataclasses import MISSING, Field, dataclass, field, fields
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from pytest_webdeliverable.manifest.kinds import WRONG, Kind, Schema, refuse
from pytest_webdeliverable.manifest.problems import nearest

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from pytest_webdeliverable.manifest.lines import Path


@dataclass(frozen=True, slots=True)
class Either:
    """One of two kinds, chosen by whether the value is a table."""

    plain: Kind
    table: Table

    @property
    def expects(self) -> str:
        return f"{self.plain.expects}, or {self.table.expects}"

    def read(self, value: object, path: Path, report: Callable[[Path, str], None]) -> Any:
        if isinstance(value, dict):
            return self.table.read(value, path, report)
        read: list[tuple[Path, str]] = []
        one = self.plain.read(value, path, lambda at, text: read.append((at, text)))
        return refuse(self, value, path, report) if one is WRONG else one

    def schema(self) -> Schema:
        return {"anyOf": [self.plain.schema(), self.table.schema()]}


@dataclass(frozen=True, slots=True)
class MapOf:
    """A table from names (of rules) to values of one kind; the names are checked later."""

    kind: Kind
    names: str = "rule"

    @property
    def expects(self) -> str:
        return f"a table {{ {self.names.upper()} = ... }}, each value {self.kind.expects}"

    def read(self, value: object, path: Path, report: Callable[[Path, str], None]) -> Any:
        if not isinstance(value, dict):
            return refuse(self, value, path, report)
        read = {name: self.kind.read(item, (*path, name), report) for name, item in value.items()}
        return WRONG if any(item is WRONG for item in read.values()) else read

    def schema(self) -> Schema:
        return {"type": "object", "x-names": self.names, "additionalProperties": self.kind.schema()}


@dataclass(frozen=True, slots=True)
class Table:
    """A table with declared keys, read into a dataclass."""

    model: type[Any]

    @property
    def expects(self) -> str:
        return f"a table {{ {', '.join(f'{name} = ...' for name in key_names(self.model))} }}"

    def read(self, value: object, path: Path, report: Callable[[Path, str], None]) -> Any:
        if not isinstance(value, dict):
            return refuse(self, value, path, report)
        return read_table(self.model, value, path, report)

    def schema(self) -> Schema:
        return table_schema(self.model)


def key(kind: Kind, doc: str, *, rules: tuple[str, ...] = (), default: Any = None) -> Any:
    """Declare a manifest key as a dataclass field; ``default=...`` (Ellipsis) makes it required."""
    metadata = {"kind": kind, "doc": doc, "rules": rules}
    if default is ...:
        return field(metadata=metadata)
    if isinstance(default, (dict, list)):
        return field(default_factory=default.copy, metadata=metadata)
    return field(default=default, metadata=metadata)


def key_name(item: Field[Any]) -> str:
    """Name of a field in the manifest: ``color_mode`` is ``color-mode``, ``from_`` is ``from``."""
    return item.name.rstrip("_").replace("_", "-")


def key_names(model: type[Any]) -> list[str]:
    """Names of a table's keys."""
    return [key_name(item) for item in fields(model) if "kind" in item.metadata]


def home(name: str, tables: Mapping[str, type[Any]]) -> str:
    """Return the end of a sentence that says in which tables a key belongs; ``""`` if in none."""
    found = [heading for heading, model in tables.items() if name in key_names(model)]
    return f"; it belongs below {' or '.join(found)}" if found else ""


def _inner_home(name: str, model: type[Any]) -> str:
    for item in fields(model):
        kind = item.metadata.get("kind")
        table = kind.table if isinstance(kind, Either) else kind
        if isinstance(table, Table) and name in key_names(table.model):
            return f"; it belongs into {key_name(item)} = {{ {name} = ... }}"
    return ""


def is_required(item: Field[Any]) -> bool:
    """Whether the key must be written."""
    return item.default is MISSING and item.default_factory is MISSING


def read_table(
    model: type[Any],
    table: Mapping[str, object],
    path: Path,
    report: Callable[[Path, str], None],
    elsewhere: Mapping[str, type[Any]] = MappingProxyType({}),
) -> Any:
    """Read a TOML table into its dataclass; ``WRONG`` where anything in it was reported.

    ``elsewhere`` are other tables, by their headings, that a key may have been meant for.
    """
    known = {key_name(item): item for item in fields(model) if "kind" in item.metadata}
    values: dict[str, Any] = {}
    good = True
    for name, value in table.items():
        if name not in known:
            hint = _inner_home(name, model) or home(name, elsewhere) or nearest(name, known)
            report((*path, name), f"unknown key{hint}")
            good = False
            continue
        read = known[name].metadata["kind"].read(value, (*path, name), report)
        if read is WRONG:
            good = False
        else:
            values[known[name].name] = read
    for name, item in known.items():
        if is_required(item) and name not in table:
            report(path, f'the key "{name}" is missing: {item.metadata["doc"]}')
            good = False
    return model(**values) if good else WRONG


def table_schema(model: type[Any]) -> Schema:
    """Return the JSON Schema of a declared table."""
    properties: Schema = {}
    required: list[str] = []
    for item in fields(model):
        if "kind" not in item.metadata:
            continue
        properties[key_name(item)] = {
            "description": item.metadata["doc"],
            **item.metadata["kind"].schema(),
        }
        if is_required(item):
            required.append(key_name(item))
    schema: Schema = {"type": "object", "additionalProperties": False, "properties": properties}
    return {**schema, "required": required} if required else schema
