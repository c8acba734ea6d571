"""The code keeps to docs/architecture.md: who imports what when it runs."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "pytest_webdeliverable"
PYTEST = {
    "advice.py", "hookspecs.py", "links.py", "listing.py", "merging.py", "nodes.py", "options.py",
    "plugin.py", "report/collector.py", "start.py", "summary_lines.py",
}  # fmt: skip
"""Modules that may import pytest; DEVELOPERS.md has the list."""


def imports(path: Path) -> set[str]:
    """Modules that a module imports when it runs, not those that only its types need."""

    def walk(node: ast.AST) -> set[str]:
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            return set()
        if isinstance(node, ast.Import):
            return {alias.name for alias in node.names}
        if isinstance(node, ast.ImportFrom):
            return {node.module or ""}
        return set().union(*map(walk, ast.iter_child_nodes(node)))

    return walk(ast.parse(path.read_text(encoding="utf-8")))


MODULES = {path.relative_to(PACKAGE).as_posix(): imports(path) for path in PACKAGE.rglob("*.py")}


def users(package: str) -> set[str]:
    return {
        module
        for module, names in MODULES.items()
        if any(name == package or name.startswith(f"{package}.") for name in names)
    }


def test_only_measuring_imports_pillow() -> None:
    found = users("PIL")
    assert found
    assert {module for module in found if not module.startswith("measure/")} == set()


def test_only_the_thin_layer_imports_pytest() -> None:
    assert users("pytest") | users("_pytest") == PYTEST


def test_the_page_for_contributors_names_each_module_and_folder() -> None:
    page = (PACKAGE.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    parts = {module.partition("/")[0] for module in MODULES} - {"__init__.py", "_version.py"}
    assert {part for part in parts | PYTEST if part not in page} == set()


def test_only_the_manifest_imports_toml() -> None:
    assert {module for module in users("tomli") if not module.startswith("manifest/")} == set()


def test_rules_and_judge_cannot_measure() -> None:
    """Types and words of measuring are no way to open a file; modules that read one are."""
    measuring = users("pytest_webdeliverable.measure.image") | users(
        "pytest_webdeliverable.measure.door"
    )
    assert not [module for module in measuring if module.startswith("rules/")]
    for module, names in MODULES.items():
        if module.startswith("rules/") or module == "judge.py":
            assert not names & {"os", "io", "subprocess", "tempfile", "shutil"}


def test_measuring_knows_no_spec() -> None:
    for part in ("manifest", "rules", "judge", "report", "nodes"):
        for module in users(f"pytest_webdeliverable.{part}"):
            assert not module.startswith("measure/"), f"{module} imports {part}"


@pytest.mark.parametrize("module", ["plugin.py", "hookspecs.py", "__init__.py", "_version.py"])
def test_what_every_run_loads_is_light(module: str) -> None:
    tree = ast.parse((PACKAGE / module).read_text(encoding="utf-8"))
    top = {
        node.module
        for node in tree.body
        if isinstance(node, ast.ImportFrom)
        and (node.module or "").startswith("pytest_webdeliverable")
    }
    assert top <= {"pytest_webdeliverable._version"}
