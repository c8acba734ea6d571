"""Write the generated parts of the documentation anew, from the declarations in the code.

A generated part stands between ``<!-- made: NAME -->`` and ``<!-- end: NAME -->``. Run with ``--check``
to learn whether one is stale; a test does so.
"""

from __future__ import annotations

import re
import sys
from dataclasses import MISSING, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pytest_webdeliverable.manifest.builtin import BUILT_IN
from pytest_webdeliverable.manifest.kinds import ListOf
from pytest_webdeliverable.manifest.model import PieceEntry, Portfolio, Spec
from pytest_webdeliverable.manifest.tables import Either, Table, is_required, key_name
from pytest_webdeliverable.options import FAMILIES
from pytest_webdeliverable.rules import registry

sys.path.append(str(Path(__file__).parent))
from list_numbers import by_subject

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

ROOT = Path(__file__).parents[1]
SPEC_NAMES = """A name has letters, digits, `-` and `_`, at most 100 of them: a copy is named after its spec.

"""
_PART = re.compile(r"(<!-- made: ([a-z-]+) -->\n).*?(<!-- end: \2 -->)", re.DOTALL)


def rule_table() -> str:
    """Return all rules as a table."""
    lines = ["| rule | family | level | what holds |", "| --- | --- | --- | --- |"]
    lines += [
        f"| `{rule.name}` | {rule.family} | {rule.default_level} | {_cell(rule.text())} |"
        for rule in registry().values()
    ]
    return "\n".join(lines)


def rule_reference() -> str:
    """Return every rule with its whole text, by family."""
    parts: list[str] = []
    for family, what in FAMILIES.items():
        parts.append(f"## {family}: {what}\n")
        for rule in registry().values():
            if rule.family == family:
                lines = [line.strip() for line in (rule.__doc__ or "").strip().splitlines()]
                text = "\n".join(lines).replace("``", "`")
                parts.append(
                    f"### `{rule.name}`\n\n{text}\n\nLevel by default: {rule.default_level}.\n"
                )
    return "\n".join(parts)


def manifest_reference() -> str:
    """Return every key of the manifest, table by table."""
    parts = [
        "## [portfolio]\n\n" + key_table(Portfolio),
        "## [[piece]]\n\n" + key_table(PieceEntry),
        "## [spec.NAME]\n\n" + SPEC_NAMES + key_table(Spec),
    ]
    for model, title in _inner(Portfolio, PieceEntry, Spec):
        parts.append(f"### {title}\n\n" + key_table(model))
    return "\n\n".join(parts)


def _inner(*models: type[Any]) -> Iterator[tuple[type[Any], str]]:
    seen: set[type[Any]] = set()
    for model in models:
        for item in fields(model):
            kind: Any = item.metadata.get("kind")
            while isinstance(kind, (ListOf, Either)):
                kind = kind.kind if isinstance(kind, ListOf) else kind.table
            if isinstance(kind, Table) and kind.model not in seen:
                seen.add(kind.model)
                yield kind.model, f"the table `{key_name(item)}`"


def key_table(model: type[Any]) -> str:
    """Return the keys of one table."""
    lines = ["| key | value | meaning | default | rules |", "| --- | --- | --- | --- | --- |"]
    for item in fields(model):
        if "kind" not in item.metadata:
            continue
        default = "required" if is_required(item) else ""
        if item.default is not MISSING and item.default not in (None, "", ()):
            default = f"`{str(item.default).lower()}`"
        rules = " ".join(f"`{rule}`" for rule in item.metadata["rules"])
        cells = (item.metadata["kind"].expects, item.metadata["doc"], default, rules)
        lines.append(f"| `{key_name(item)}` | " + " | ".join(_cell(cell) for cell in cells) + " |")
    return "\n".join(lines)


def built_in_specs() -> str:
    """Return the built-in specs as a manifest would write them."""
    parts = ["```toml"]
    for name, raw in BUILT_IN.items():
        parts.append(f"[spec.{name}]")
        parts += [f"{key} = {_toml(value)}" for key, value in raw.items()]
        parts.append("")
    return "\n".join([*parts[:-1], "```"])


def number_tables() -> str:
    """Return all numbers of the code, with what is written beside them."""
    head = ["| name | value | what it is, and where it comes from |", "| --- | --- | --- |"]
    parts = []
    for title, found in by_subject().items():
        rows = [f"| `{one.place}` | `{one.value}` | {_cell(one.meaning)} |" for one in found]
        parts.append("\n".join([f"## {title}", "", *head, *rows]))
    return "\n\n".join(parts)


def page_list() -> str:
    """Return all pages by their titles, those for users first."""
    pages = [*sorted((ROOT / "docs").glob("*.md")), *sorted(ROOT.glob("[!R]*.md"))]
    titles = [page.read_text(encoding="utf-8").partition("\n")[0].lstrip("# ") for page in pages]
    return "\n".join(
        f"- [{title}]({page.relative_to(ROOT).as_posix()})"
        for title, page in zip(titles, pages, strict=True)
    )


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_toml(item)}" for key, item in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_toml(item) for item in value) + "]"
    return f'"{value}"' if isinstance(value, str) else str(value)


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ").replace("``", "`")


MAKERS: dict[str, Callable[[], str]] = {
    "rule-table": rule_table,
    "rules": rule_reference,
    "manifest": manifest_reference,
    "specs": built_in_specs,
    "numbers": number_tables,
    "pages": page_list,
}


def renewed(text: str) -> str:
    """Return a page with its generated parts made anew; parts that others make stay."""

    def part(match: re.Match[str]) -> str:
        maker = MAKERS.get(match[2])
        return match[0] if maker is None else f"{match[1]}{maker()}\n{match[3]}"

    return _PART.sub(part, text)


def stale_pages() -> dict[Path, str]:
    """Return the pages that differ from what they would be, with their new text."""
    pages = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
    texts = {page: page.read_text(encoding="utf-8") for page in pages if page.is_file()}
    return {page: new for page, text in texts.items() if (new := renewed(text)) != text}


if __name__ == "__main__":
    stale = stale_pages()
    for page, text in stale.items():
        if "--check" in sys.argv:
            print(f"stale: {page.relative_to(ROOT)}")
        else:
            page.write_text(text, encoding="utf-8")
    sys.exit(bool(stale) and "--check" in sys.argv)
