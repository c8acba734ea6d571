"""Generated pages and schemas are those that the declarations make."""

from __future__ import annotations

import re
import runpy
from pathlib import Path

import pytest
from jsonschema import Draft7Validator, Draft202012Validator

from pytest_webdeliverable.rules import registry
from pytest_webdeliverable.schemas import load_schema, made_manifest_schema, schema_text

ROOT = Path(__file__).parents[2]
PAGES = [*ROOT.glob("*.md"), *sorted((ROOT / "docs").glob("*.md"))]


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


def links(page: Path) -> set[Path]:
    """Files that a page links to, by paths relative to itself."""
    found = re.findall(r"\]\(([^)#:]+)[^)]*\)", page.read_text(encoding="utf-8"))
    return {(page.parent / link).resolve() for link in found}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_link_leads_somewhere(page: Path) -> None:
    assert [str(link) for link in links(page) if not link.exists()] == []


def test_every_page_is_reached_from_the_readme() -> None:
    reached: set[Path] = set()
    new = {ROOT / "README.md"}
    while new:
        reached |= new
        new = {link for page in new for link in links(page) if link.suffix == ".md"} - reached
    assert [page.name for page in PAGES if page.resolve() not in reached] == []


def test_the_changes_count_the_rules() -> None:
    (counted,) = re.findall(r"(\d+) rules", (ROOT / "CHANGELOG.md").read_text(encoding="utf-8"))
    assert int(counted) == len(registry())
