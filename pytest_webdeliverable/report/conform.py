"""Whether data from outside have the shape that a JSON Schema of this package asks for.

Only the keywords that ``report.schema.json`` uses (JSON Schema, draft 2020-12); a schema with another one
is refused, so that nothing is passed unseen. No library for this is among the package's few needs.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, Final

from pytest_webdeliverable.display import display_name

LARGEST: Final = 1e15
"""Size of a number up to which a float holds every integer, and every format shows it."""

_Check = Callable[[Any, Any, "_Schema"], "str | None"]
_Schema = dict[str, Any]

_TYPES: Final[dict[str, tuple[type, ...]]] = {
    "object": (dict,),
    "array": (list,),
    "string": (str,),
    "integer": (int,),
    "number": (int, float),
    "boolean": (bool,),
    "null": (type(None),),
}
_SILENT: Final = frozenset({"$schema", "$defs", "title", "description"})


def problem_of(value: Any, schema: _Schema) -> str | None:
    """Say where and why ``value`` does not conform to ``schema``; None where it does.

    Raises ValueError for a keyword of JSON Schema that is not known here.
    """
    return _problem(value, schema, schema)


def _problem(value: Any, schema: _Schema, root: _Schema) -> str | None:
    if "$ref" in schema:
        schema = root["$defs"][schema["$ref"].removeprefix("#/$defs/")]
    if isinstance(value, int | float) and not abs(value) <= LARGEST:
        return "a number is too large"
    for keyword in schema:
        if keyword in _SILENT or (keyword == "additionalProperties" and "properties" in schema):
            continue
        if keyword not in _KEYWORDS:
            raise ValueError(f"the keyword {keyword} is not known")
        found = _KEYWORDS[keyword](value, schema, root)
        if found is not None:
            return found
    return None


def _type(value: Any, schema: _Schema, _: _Schema) -> str | None:
    names = [schema["type"]] if isinstance(schema["type"], str) else schema["type"]
    for name in names:
        if isinstance(value, _TYPES[name]) and (name == "boolean" or not isinstance(value, bool)):
            return None
    return f"must be of type {' or '.join(names)}"


def _choice(value: Any, schema: _Schema, _: _Schema) -> str | None:
    allowed = schema["enum"] if "enum" in schema else [schema["const"]]
    if isinstance(value, str | int) and not isinstance(value, bool) and value in allowed:
        return None
    return f"must be {' or '.join(map(repr, allowed))}"


def _properties(value: Any, schema: _Schema, root: _Schema) -> str | None:
    if not isinstance(value, dict):
        return None
    known = schema.get("properties", {})
    others = schema.get("additionalProperties", True)
    for name, one in value.items():
        inner = known.get(name, others)
        if inner is False:
            return f"has an unknown key {display_name(name, 40)!r}"
        found = None if inner is True else _problem(one, inner, root)
        if found is not None:
            return f"{display_name(name, 40)}: {found}"
    return None


def _required(value: Any, schema: _Schema, _: _Schema) -> str | None:
    missing = [name for name in schema["required"] if isinstance(value, dict) and name not in value]
    return f"lacks the key {missing[0]!r}" if missing else None


def _items(value: Any, schema: _Schema, root: _Schema) -> str | None:
    for place, one in enumerate(value if isinstance(value, list) else ()):
        found = _problem(one, schema["items"], root)
        if found is not None:
            return f"{place + 1}: {found}"
    return None


def _length(value: Any, schema: _Schema, _: _Schema) -> str | None:
    if isinstance(value, list):
        least, most = schema.get("minItems", 0), schema.get("maxItems", len(value))
    elif isinstance(value, str):
        least, most = schema.get("minLength", 0), len(value)
    else:
        return None
    return None if least <= len(value) <= most else "has too few or too many parts"


def _bounds(value: Any, schema: _Schema, _: _Schema) -> str | None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    holds = schema.get("minimum", value) <= value <= schema.get(
        "maximum", value
    ) and not value <= schema.get("exclusiveMinimum", value - 1)
    return None if holds else "is out of range"


def _pattern(value: Any, schema: _Schema, _: _Schema) -> str | None:
    if not isinstance(value, str):
        return None
    # "$" is the very end in JSON Schema (ECMA-262), not before a line break as well.
    pattern = schema["pattern"].replace("$", r"\Z")
    return None if re.search(pattern, value) else "has characters it may not have"


def _one_of(value: Any, schema: _Schema, root: _Schema) -> str | None:
    fits = sum(_problem(value, one, root) is None for one in schema["oneOf"])
    return None if fits == 1 else "fits none of the forms it may have"


_KEYWORDS: Final[dict[str, _Check]] = {
    "type": _type,
    "const": _choice,
    "enum": _choice,
    "required": _required,
    "properties": _properties,
    "additionalProperties": _properties,
    "items": _items,
    "minItems": _length,
    "maxItems": _length,
    "minLength": _length,
    "minimum": _bounds,
    "maximum": _bounds,
    "exclusiveMinimum": _bounds,
    "pattern": _pattern,
    "oneOf": _one_of,
}
