"""Texts of a manifest that a stranger would try: names that speak, paths of no disk, values at the rim.

Each is pieces, or one error of sentences in which nothing acts, within the time and memory of one image.
"""

from __future__ import annotations

import itertools
import os
import sys
from typing import TYPE_CHECKING

import pytest
from bounded import bounded
from test_promise_manifests import KNOWN, LOAD, PIECE, SPEAKING, loaded

from pytest_webdeliverable.manifest.builtin import BUILT_IN
from pytest_webdeliverable.manifest.load import load_manifest
from pytest_webdeliverable.manifest.problems import ManifestError
from pytest_webdeliverable.manifest.specs import problems_of
from pytest_webdeliverable.rules import registry

if TYPE_CHECKING:
    from pathlib import Path

WAIVER = '{rule = "blank-picture", reason = "x"},'
FULL = 3 * 1024 * 1024
"""Bytes that a manifest may have, its shared specs among them."""


def often(text: str) -> str:
    """As often as it fits, behind a piece."""
    return text * ((FULL - 200) // len(text.encode()))


def numbered(line: str) -> str:
    """A line with a number in place of ``N``, as often as it fits."""
    lines: list[str] = []
    left = FULL - 200
    for number in itertools.count():
        lines.append(line.replace("N", str(number)))
        left -= len(lines[-1])
        if left < 0:
            return "".join(lines[:-1])
    raise AssertionError


def mixed(number: int) -> str:
    """A name of 100 letters that differs from others in their order alone: the dearest to compare."""
    letters = list("abcdefghij")
    for place in range(9, 0, -1):
        number, other = divmod(number, place + 1)
        letters[place], letters[other] = letters[other], letters[place]
    return "".join(letters) * 10


COSTLY = {
    "digits-of-16": (lambda: f"{PIECE}alt = 0x{often('f')}", "a very large number"),
    "line-breaks": (lambda: PIECE + often("\n"), 1),
    "empty-comments": (lambda: PIECE + often("#\n"), 1),
    "fractions": (lambda: f"[spec.screen]\nbox = [{often('1.5,')}]\n{PIECE}", "a list of 2 values"),
    "empty-lists": (lambda: f"{PIECE}waive = [{often('[],')}]", "at most 100,000"),
    "empty-tables": (lambda: f"{PIECE}copies = [{often('{},')}]", "at most 100,000"),
    "days": (lambda: f"{PIECE}waive = [{often('1979-05-27,')}]", "at most 100,000"),
    "tables": (lambda: PIECE + numbered("[a.bN]\n"), "unknown table"),
    "tables-of-a-piece": (lambda: PIECE + numbered("[piece.aN]\n"), "unknown key"),
    "dotted-keys": (lambda: PIECE + numbered("aN.b = 1\n"), "unknown key"),
    "deep-headings": (lambda: PIECE + numbered(f"[{'a.' * 90}bN]\n"), "unknown"),
    "headings": (lambda: often("[[a]]\n") + PIECE, "unknown table"),
    "long-heading": (lambda: f"[[a{often('.a')}]]\n{PIECE}", "nested too deeply"),
    "long-key": (lambda: f"{PIECE}id{often('.a')} = 1", "nested too deeply"),
    "escapes": (lambda: f'{PIECE}alt = "{often(chr(92) + "x41")}"', "at most 10,000 characters"),
    "names-alike": (
        lambda: (
            "".join(f"[spec.{mixed(n)}]\n" for n in range(280))
            + "".join(f'[[piece]]\nfile = "{n}"\nspec = "{mixed(9000 + n)}"\n' for n in range(200))
        ),
        "there is no spec",
    ),
    "origins-alike": (
        lambda: (
            "".join(f'[spec.{mixed(n)}]\nfrom = "{mixed(9000 + n)}"\n' for n in range(280)) + PIECE
        ),
        "there is no spec",
    ),
    "many-waivers": (
        lambda: PIECE + f"waive = [{WAIVER * 60_000}]",
        1,
    ),
    "copies-of-copies": (
        lambda: (
            "".join(f"[spec.s{n}]\n" for n in range(250))
            + "".join(
                f'[[piece]]\nfile = "{n}"\ncopies = ['
                + ",".join(f'{{file = "a", spec = "s{one}"}}' for one in range(250))
                + "]\n"
                for n in range(60)
            )
        ),
        "more than 10,000 pieces and copies",
    ),
}


@pytest.mark.parametrize("name", COSTLY)
def test_a_full_manifest_costs_no_more_than_an_image(tmp_path: Path, name: str) -> None:
    pytest.importorskip("resource", reason="limits of processes are POSIX")
    make, expected = COSTLY[name]
    path = tmp_path / "manifest"
    path.write_text(make())
    assert path.stat().st_size <= FULL
    found = bounded(LOAD, path)
    assert found == expected if isinstance(expected, int) else expected in found


def test_shared_files_count_with_the_manifest(tmp_path: Path) -> None:
    """Else 32 of them would cost 32 times as much."""
    (tmp_path / "half.toml").write_text("#" * (FULL // 2))
    names = '"half.toml", "half.toml"'
    (tmp_path / "deliverables.toml").write_text(f"[portfolio]\nspecs-from = [{names}]\n{PIECE}")
    with pytest.raises(ManifestError) as caught:
        load_manifest(tmp_path / "deliverables.toml", tmp_path, KNOWN)
    assert str(caught.value) == (
        "half.toml:1: the file is larger than 3 MiB with the manifest and the files before it"
    )


def test_layers_upon_layers_are_no_recursion(tmp_path: Path) -> None:
    """32 files change each of 32 specs that derive from one another: some 1,000 tables in a row."""
    files = [f"s{number}.toml" for number in range(32)]
    for place, file in enumerate(files):
        tables = (
            f'[spec.a{n}]\nweight = "{place + 1} kB"\n' + f'from = "a{n + 1}"\n' * (place == 0)
            for n in range(32)
        )
        (tmp_path / file).write_text("".join(tables) + "[spec.a32]\nppi = 72\n")
    lines = f'[portfolio]\nspec = "a0"\nspecs-from = {files}\n{PIECE}'
    (tmp_path / "deliverables.toml").write_text(lines)
    before = sys.getrecursionlimit()
    sys.setrecursionlimit(300)
    try:
        spec = load_manifest(tmp_path / "deliverables.toml", tmp_path, KNOWN).pieces[0].spec
    finally:
        sys.setrecursionlimit(before)
    assert (spec.ppi, spec.weight) == (72, 32_000)


NAMES = {
    "speaking": SPEAKING,
    "colons": '"a::b"',
    "brackets": '"##[error]x"',
    "a-space": '"a b"',
    "a-slash": '"a/b"',
    "empty": '""',
    "a-break-behind": '"a\\n"',
    "look-alike": '"\\u0455creen"',
    "too-long": "a" * 101,
}


@pytest.mark.parametrize("name", NAMES)
def test_the_name_of_a_spec_is_a_part_of_a_nodes_name(tmp_path: Path, name: str) -> None:
    """``<id>--<spec>`` is what pytest prints for a copy, so it holds what an id may hold."""
    spec = NAMES[name]
    copies = f'copies = [{{ file = "b.jpg", spec = {spec if spec[0] == chr(34) else repr(spec)} }}]'
    found = loaded(tmp_path, f"[spec.{spec}]\nppi = 72\n{PIECE}{copies}\n".encode())
    assert "a spec has a name of letters, digits, - and _" in found
    assert "::" not in found
    assert "##[" not in found


def test_specs_of_a_plugin_have_such_names_too() -> None:
    problems = problems_of({**BUILT_IN, "x\n::error::y": {"ppi": 72}}, registry([]))
    assert ["a spec has a name of letters" in problem for problem in problems] == [True]


PATHS = {
    "no-character": "a\\u0000b.toml",
    "too-long-for-a-disk": "a" * 300 + ".toml",
    "too-many-folders": "a/" * 4000 + "b.toml",
    "below-a-file": "deliverables.toml/b.toml",
    "of-another-script": "\u6771\u4eac/\U0001f5bc.toml",
}


@pytest.mark.parametrize("name", PATHS)
def test_shared_specs_that_no_disk_holds(tmp_path: Path, name: str) -> None:
    found = loaded(tmp_path, f'[portfolio]\nspecs-from = "{PATHS[name]}"\n{PIECE}'.encode())
    assert found.startswith(
        'deliverables.toml:2: [portfolio]: key "specs-from 1": there is no file'
    )


KINDS = {
    "a-folder": (lambda path: path.mkdir(), "not a regular file"),
    "a-binary": (lambda path: path.write_bytes(bytes(range(256))), "not UTF-8"),
    "a-huge-hole": (lambda path: (path.touch(), os.truncate(path, 10**9)), "larger than 3 MiB"),
    "a-command": (lambda path: path.write_text("\n::error::x = \n"), "not valid TOML"),
}


@pytest.mark.parametrize("name", KINDS)
def test_shared_specs_that_are_none(tmp_path: Path, name: str) -> None:
    make, words = KINDS[name]
    make(tmp_path / "shared.toml")
    (tmp_path / "deliverables.toml").write_text(f'[portfolio]\nspecs-from = "shared.toml"\n{PIECE}')
    with pytest.raises(ManifestError, match=words) as caught:
        load_manifest(tmp_path / "deliverables.toml", tmp_path, KNOWN)
    assert "::" not in str(caught.value)


VALUES = {
    "negative-zero": ("[spec.a]\nbox = [-0, 0x10]\n", "box 1"),
    "infinite-points": ('[spec.a.points]\n"edge-gap" = 1e309\n', "points.edge-gap"),
    "no-number": ("[spec.a]\nprint = { ppi = -nan }\n", "ppi"),
    "a-time-of-day": ("[spec.a]\nppi = 07:32:00\n", "ppi"),
    "other-digits": ('[spec.a]\nweight = "\uff11\uff12 kB"\n', "weight"),
    "nan-weight": ('[spec.a]\nweight = "nan MB"\n', "weight"),
    "exponent": ('[spec.a]\nweight = "1e9 kB"\n', "weight"),
    "nested-field": ('[spec.a]\nfile-name = "{a{b}}-{c}"\n', "a brace is not closed"),
    "hexadecimal-fraction": ("[spec.a]\nppi = 0x1.8p3\n", "not valid TOML"),
    "twice-through-dots": ("spec.a.ppi = 72\n[spec.a]\nppi = 300\n", "twice"),
    "empty-key": ('"" = 1\n', "unknown table or key"),
}


@pytest.mark.parametrize("name", VALUES)
def test_values_at_the_rim_are_refused(tmp_path: Path, name: str) -> None:
    text, words = VALUES[name]
    assert words in loaded(tmp_path, f"{text}{PIECE}".encode())


def test_what_is_new_in_toml_1_1_is_read(tmp_path: Path) -> None:
    """Escapes for one byte, and tables in braces over several lines (toml.io, v1.1.0)."""
    reason = r'"\e[31m\x0d::error::x"'
    waiver = f'waive = [{{\n rule = "edge-gap", # why\n reason = {reason},\n}}]\n'
    (tmp_path / "deliverables.toml").write_text(PIECE + waiver)
    (piece,) = load_manifest(tmp_path / "deliverables.toml", tmp_path, KNOWN).pieces
    assert piece.waive[0].reason == "\x1b[31m\r::error::x"
