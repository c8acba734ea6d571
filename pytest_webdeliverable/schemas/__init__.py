"""The JSON Schemas that ship with the package, and how they are made.

``python -m pytest_webdeliverable.schemas`` writes the manifest's schema anew from its declaration.
"""

from __future__ import annotations

import json
from importlib.resources import files
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable


def schema_text(name: str) -> str:
    """Return the text of a schema file: ``manifest`` or ``report``."""
    return files(__name__).joinpath(f"{name}.schema.json").read_text(encoding="utf-8")


def load_schema(name: str) -> dict[str, Any]:
    """Return a schema as data."""
    schema: dict[str, Any] = json.loads(schema_text(name))
    return schema


def made_manifest_schema(rules: Iterable[str] = ()) -> str:
    """Return the text of the manifest's schema as the declaration gives it now.

    ``rules`` are the names that rules may have; default: those of the package.
    """
    from pytest_webdeliverable.manifest.schema import manifest_schema
    from pytest_webdeliverable.rules import registry

    return json.dumps(manifest_schema(rules or registry()), indent=2) + "\n"
