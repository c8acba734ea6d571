"""The manifest's JSON Schema, made from its declaration, for editors that complete and check TOML."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pytest_webdeliverable.manifest.model import SPEC_NAME, PieceEntry, Portfolio, Spec
from pytest_webdeliverable.manifest.tables import table_schema

if TYPE_CHECKING:
    from collections.abc import Iterable

    from pytest_webdeliverable.manifest.kinds import Schema

DRAFT = "http://json-schema.org/draft-07/schema#"
"""Draft 7 is the one that TOML editors understand."""


def manifest_schema(rules: Iterable[str]) -> Schema:
    """Return the schema of a manifest; ``rules`` are the names that levels, points and waivers take."""
    schema: Schema = {
        "$schema": DRAFT,
        "title": "deliverables.toml of pytest-webdeliverable",
        "type": "object",
        "additionalProperties": False,
        "properties": {
            "portfolio": {
                "description": "what holds for all pieces together",
                **table_schema(Portfolio),
            },
            "spec": {
                "description": "specs: [spec.NAME] changes a built-in one or makes a new one",
                "type": "object",
                "propertyNames": {"pattern": f"^{SPEC_NAME}$"},
                "additionalProperties": table_schema(Spec),
            },
            "piece": {
                "description": "the pictures, one [[piece]] each",
                "type": "array",
                "minItems": 1,
                "items": table_schema(PieceEntry),
            },
        },
        "required": ["piece"],
    }
    _name_rules(schema, sorted(rules))
    return schema


def _name_rules(schema: Any, rules: list[str]) -> None:
    """Let the names of rules be completed wherever the declaration says that one stands."""
    if isinstance(schema, list):
        for item in schema:
            _name_rules(item, rules)
    elif isinstance(schema, dict):
        if schema.pop("x-names", None) == "rule":
            schema["propertyNames"] = {"enum": rules}
        for name, item in schema.items():
            if name == "rule" and isinstance(item, dict) and item.get("type") == "string":
                item["enum"] = rules
                item.pop("minLength", None)
            _name_rules(item, rules)
