"""Turn a manifest file into pieces with resolved specs, or into one error that lists every problem."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import PurePosixPath
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.manifest.kinds import WRONG
from pytest_webdeliverable.manifest.model import Manifest, Piece, PieceEntry, Portfolio, Spec
from pytest_webdeliverable.manifest.paths import below_root, linked_outside, path_problem
from pytest_webdeliverable.manifest.problems import ManifestError, Problem, nearest
from pytest_webdeliverable.manifest.source import LARGEST, Document, read_document
from pytest_webdeliverable.manifest.specs import Specs
from pytest_webdeliverable.manifest.tables import home, read_table

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping
    from pathlib import Path

    from pytest_webdeliverable.manifest.lines import Path as KeyPath
    from pytest_webdeliverable.manifest.model import CopyEntry, Waiver

PORTFOLIO_ID: Final = "portfolio"
"""Name of the node for the portfolio itself; no piece may take it."""
_TABLES: Final = ("portfolio", "spec", "piece")
_HOMES: Final = MappingProxyType(
    {"[portfolio]": Portfolio, "[[piece]]": PieceEntry, "[spec.NAME]": Spec}
)
"""Where a key may have been meant for that stands in another place."""
_UNSAFE: Final = re.compile(r"[^A-Za-z0-9_-]+")
LONGEST_ID: Final = 200
"""Characters of an id made from a file's name, as many as a written one may have (PIECE_ID)."""
MOST_PIECES: Final = 10_000
"""Pieces and copies of a manifest: 20 times the largest portfolio that a report is made for. pytest itself
takes 100 kB and 12 ms for the checks of each, whatever is in its file."""
_OUTSIDE: Final = "links lead out of the folder that pytest runs in (its root directory)"


@dataclass(frozen=True, slots=True)
class Known:
    """What a manifest may name: rules, and specs that exist before it is read."""

    rules: Collection[str]
    specs: Mapping[str, Mapping[str, Any]]


def load_manifest(path: Path, root: Path, known: Known) -> Manifest:
    """Read the manifest at ``path``; ``root`` is pytest's root directory.

    Raises ManifestError that lists every problem with file and line.
    """
    folder = folder_below(path.parent, root)
    shown = f"{folder}/{path.name}" if folder else path.name
    if linked_outside(path, root):
        raise ManifestError([Problem(file=shown, line=1, place="", key="", text=_OUTSIDE)])
    return _Loader(read_document(path, shown, folder), path.parent, root, known).load()


def folder_below(folder: Path, root: Path) -> str:
    """Posix path of a folder below the root; ``""`` for the root, or for a folder outside of it."""
    try:
        relative = folder.relative_to(root).as_posix()
    except ValueError:
        return ""
    return "" if relative == "." else relative


class _Loader:
    def __init__(self, document: Document, folder: Path, root: Path, known: Known) -> None:
        self._document = document
        self._folder = folder
        self._root = root
        self._known = known
        self._left = LARGEST - document.size
        self._specs = Specs(known.specs, known.rules)
        self._lines_by_id: dict[str, int] = {}

    def load(self) -> Manifest:
        for name, value in self._document.data.items():
            if name not in _TABLES:
                is_key = not isinstance(value, (dict, list))
                hint = (home(name, _HOMES) if is_key else "") or nearest(name, _TABLES)
                self._report((name,), f"unknown table or key{hint}")
        portfolio = self._portfolio()
        for index, shared in enumerate(portfolio.specs_from):
            self._shared_specs(shared, ("portfolio", "specs-from", index))
        self._specs.add(self._document)
        self._specs.check()
        spec = self._spec(portfolio.spec, ("portfolio", "spec"))
        pieces = self._pieces(portfolio)
        if self._document.problems or spec is None:
            raise ManifestError(self._document.problems)
        return Manifest(
            portfolio=portfolio,
            portfolio_spec=spec,
            line=self._document.line(("portfolio",)),
            pieces=pieces,
        )

    def _report(self, path: KeyPath, text: str) -> None:
        self._document.report(path, text)

    def _portfolio(self) -> Portfolio:
        table = self._document.data.get("portfolio", {})
        if not isinstance(table, dict):
            self._report(("portfolio",), "write it as a table: [portfolio]")
            return Portfolio()
        portfolio = read_table(Portfolio, table, ("portfolio",), self._report, _HOMES)
        if portfolio is WRONG:
            return Portfolio()
        self._path(portfolio.images, ("portfolio", "images"))
        count = portfolio.pieces
        if count and None not in {count.min, count.max} and count.min > count.max:
            self._report(("portfolio", "pieces"), "min is larger than max")
        self._waivers(portfolio.waive, ("portfolio",))
        return portfolio  # type: ignore[no-any-return]

    def _shared_specs(self, shared: str, path: KeyPath) -> None:
        if not self._path(shared, path):
            return
        if linked_outside(self._folder / shared, self._root):
            self._report(path, _OUTSIDE)
            return
        if not os.path.exists(self._folder / shared):  # noqa: PTH110 - False also for odd names
            self._report(path, f'there is no file "{display_name(shared)}"')
            return
        below = below_root(shared, self._document.folder)
        folder = str(PurePosixPath(below).parent)
        try:
            document = read_document(
                self._folder / shared, below, "" if folder == "." else folder, self._left
            )
        except ManifestError as error:
            self._document.problems.extend(error.problems)
            return
        self._left -= document.size
        document.problems = self._document.problems  # counted together
        for name in document.data:
            if name != "spec":
                document.report((name,), "a file of shared specs holds [spec.NAME] tables only")
        self._specs.add(document)

    def _pieces(self, portfolio: Portfolio) -> tuple[Piece, ...]:
        entries = self._document.data.get("piece", [])
        if not isinstance(entries, list) or not all(isinstance(item, dict) for item in entries):
            self._report(("piece",), "write each piece as a table: [[piece]]")
            return ()
        if not entries:
            self._report((), "the manifest lists no picture: add a [[piece]] table")
        pieces: list[Piece] = []
        for index, table in enumerate(entries):
            path: KeyPath = ("piece", index)
            if len(pieces) >= MOST_PIECES:
                self._report(
                    path, f"more than {MOST_PIECES:,} pieces and copies; split the portfolio"
                )
                break
            entry = read_table(PieceEntry, table, path, self._report, _HOMES)
            if entry is WRONG:
                # Its id still counts, so that a repeated id is reported in the same run.
                if isinstance(table.get("id"), str):
                    self._claim(table["id"], path)
            else:
                pieces.extend(self._piece(entry, path, portfolio))
        return tuple(pieces)

    def _piece(self, entry: PieceEntry, path: KeyPath, portfolio: Portfolio) -> list[Piece]:
        self._path(entry.file, (*path, "file"))
        if entry.original is not None:
            self._path(entry.original, (*path, "original"))
        self._waivers(entry.waive, path)
        name = entry.id or safe_id(entry.file)
        self._claim(name, path)
        spec_path = (*path, "spec") if entry.spec else path
        spec = self._spec(entry.spec or portfolio.spec, spec_path)
        if spec is None:
            return []
        piece = entry.as_piece(name, self._document.line(path), spec)
        copies = (
            self._copy(copy, (*path, "copies", index), piece)
            for index, copy in enumerate(entry.copies)
        )
        return [piece, *(copy for copy in copies if copy is not None)]

    def _copy(self, entry: CopyEntry, path: KeyPath, piece: Piece) -> Piece | None:
        self._path(entry.file, (*path, "file"))
        self._waivers(entry.waive, path)
        name = f"{piece.id}--{entry.spec}"
        self._claim(name, path)
        if entry.crop and not (entry.crop[0] < entry.crop[2] and entry.crop[1] < entry.crop[3]):
            self._report((*path, "crop"), "expected left < right and top < bottom")
        spec = self._spec(entry.spec, (*path, "spec"))
        if spec is None:
            return None
        return Piece(
            id=name,
            file=entry.file,
            line=self._document.line(path),
            spec=spec,
            title=piece.title,
            alt=piece.alt if entry.alt is None else entry.alt,
            decorative=piece.decorative,
            trim=None if entry.crop else piece.trim,
            keyline=piece.keyline,
            waive=entry.waive,
            copy_of=piece.id,
            crop=entry.crop,
        )

    def _spec(self, name: str, path: KeyPath) -> Spec | None:
        spec = self._specs.get(name)
        if spec is None and name not in self._specs.names:
            hint = nearest(name, self._specs.names)
            self._report(path, f'there is no spec "{display_name(name)}"{hint}')
        return spec

    def _path(self, text: str | None, path: KeyPath) -> bool:
        if text is None:
            return False
        if problem := path_problem(text, self._document.folder):
            self._report(path, problem)
            return False
        return True

    def _waivers(self, waivers: tuple[Waiver, ...], path: KeyPath) -> None:
        for index, waiver in enumerate(waivers):
            if waiver.rule not in self._known.rules:
                hint = nearest(waiver.rule, self._known.rules)
                where = (*path, "waive", index, "rule")
                self._report(where, f'there is no rule "{display_name(waiver.rule)}"{hint}')

    def _claim(self, name: str, path: KeyPath) -> None:
        if name == PORTFOLIO_ID:
            self._report(
                path, f'"{PORTFOLIO_ID}" is the name of the portfolio itself; choose another id'
            )
        if name in self._lines_by_id:
            first = self._lines_by_id[name]
            self._report(
                (*path, "id") if len(path) == 2 else path,
                f'the id "{name}" is taken by the piece on line {first}; an id of its own tells '
                "them apart",
            )
        else:
            self._lines_by_id[name] = self._document.line(path)


def safe_id(file: str) -> str:
    """Return the id of a piece that names none: the file's stem, unsafe characters made hyphens."""
    stem = PurePosixPath(file).stem
    return _UNSAFE.sub("-", stem).strip("-")[:LONGEST_ID] or "piece"
