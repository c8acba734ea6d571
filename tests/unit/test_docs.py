"""Generated pages and schemas are those that the declarations make."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from jsonschema import Draft7Validator, Draft202012Validator

from pytest_webdeliverable.schemas import load_schema, made_manifest_schema, schema_text

ROOT = Path(__file__).parents[2]


def test_no_generated_page_is_stale() -> None:
    generate = runpy.run_path(str(ROOT / "docs/generate.py"))
    assert list(generate["stale_pages"]()) == [], "run: python docs/generate.py"


def test_every_number_says_what_it_is() -> None:
    listed = list(runpy.run_path(str(ROOT / "docs/list_numbers.py"))["numbers"]())
    assert len(listed) > 200
    assert [one.place for one in listed if not one.meaning] == []


def test_the_manifests_schema_is_not_stale() -> None:
    assert schema_text("manifest") == made_manifest_schema(), (
        "run: python -m pytest_webdeliverable.schemas"
    )


def test_schemas_are_schemas() -> None:
    Draft7Validator.check_schema(load_schema("manifest"))
    Draft202012Validator.check_schema(load_schema("report"))


@pytest.mark.parametrize("page", ["docs/rules.md", "docs/manifest.md", "README.md"])
def test_generated_parts_are_filled(page: str) -> None:
    assert "`edge-gap`" in (ROOT / page).read_text(encoding="utf-8")
