"""Manifests made to cost or to mislead: one clear error or pieces, in bounded time and memory."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING

import pytest
from bounded import bounded
from hypothesis import given, settings
from hypothesis import strategies as st

from pytest_webdeliverable.manifest.builtin import BUILT_IN
from pytest_webdeliverable.manifest.load import Known, load_manifest
from pytest_webdeliverable.manifest.problems import ManifestError
from pytest_webdeliverable.rules import registry

if TYPE_CHECKING:
    from pathlib import Path

KNOWN = Known(rules=registry([]), specs=BUILT_IN)
LOAD = """
import tempfile
from pytest_webdeliverable.manifest.builtin import BUILT_IN
from pytest_webdeliverable.manifest.load import Known, load_manifest
from pytest_webdeliverable.manifest.problems import ManifestError
from pytest_webdeliverable.rules import registry

def measured(data):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "deliverables.toml")
        path.write_bytes(data)
        try:
            return len(load_manifest(path, path.parent, Known(registry([]), BUILT_IN)).pieces)
        except ManifestError as error:
            return str(error)
"""
PIECE = '[[piece]]\nid = "a"\nfile = "a.jpg"\n'


def pieces(count: int) -> str:
    return "".join(f'[[piece]]\nid = "p{n}"\nfile = "images/p{n}.jpg"\n' for n in range(count))


COSTLY = {
    "10000-pieces": (lambda: pieces(10_000), 10_000),
    "50000-pieces": (lambda: pieces(50_000), "more than 10,000 pieces"),
    "3-mb-of-comment": (lambda: "#" * 3_000_000 + "\n" + PIECE, 1),
    "3-mb-of-text": (lambda: f'{PIECE}title = "{"x" * 3_000_000}"\n', "at most 10,000 characters"),
    "3-mb-of-quotes": (
        lambda: PIECE + 'title = """' + 'a"" ' * 750_000 + '"""\n',
        "at most 10,000 characters",
    ),
    "a-million-items": (lambda: f"{PIECE}copies = [{'1,' * 1_000_000}]\n", "expected a list"),
    "ninety-thousand-shared-files": (
        lambda: "[portfolio]\nspecs-from = [" + "'manifest.toml'," * 90_000 + "]\n" + PIECE,
        "at most 32",
    ),
    "a-hundred-thousand-keys": (
        lambda: PIECE + "".join(f"k{n} = 1\n" for n in range(100_000)),
        "unknown key",
    ),
    "100000-levels": (lambda: f"a = {'[' * 100_000}{']' * 100_000}", "nested too deeply"),
    "100000-inline-tables": (lambda: "a = " + "{a=" * 100_000, "nested too deeply"),
    "digits": (lambda: f"a = {'9' * 10_000}", "too many digits"),
    "trim-of-digits": (lambda: f'{PIECE}trim = "{"1" * 1_000_000} x 1 in"', "trim"),
    "trim-of-spaces": (lambda: f'{PIECE}trim = "1{" " * 1_000_000}x 1 in"', 1),
    "a-hundred-thousand-specs": (
        lambda: "".join(f'[spec.s{n}]\nfrom = "s{n + 1}"\n' for n in range(100_000)) + PIECE,
        "more than 300 specs",
    ),
    "template": (lambda: f'{PIECE}[spec.screen]\nfile-name = "{"{a}-" * 100_000}"', "20 fields"),
    "id-of-140000": (lambda: PIECE.replace('"a"', f'"{"a" * 140_000}"'), "expected a name"),
    "4-mb": (lambda: "#" * 4_000_000, "larger than 3 MiB"),
}


@pytest.mark.parametrize("name", COSTLY)
def test_costs_stay_bounded(tmp_path: Path, name: str) -> None:
    """At most 5 s of processor time and 512 MB, the limits of one image, also for a manifest."""
    pytest.importorskip("resource", reason="limits of processes are POSIX")
    make, expected = COSTLY[name]
    path = tmp_path / "manifest"
    path.write_text(make())
    found = bounded(LOAD, path)
    assert found == expected if isinstance(expected, int) else expected in found
    assert len(str(found)) < 20_000


def loaded(folder: Path, data: bytes) -> str:
    """The sentences of the error, or "" where there is none."""
    path = folder / "deliverables.toml"
    path.write_bytes(data)
    try:
        load_manifest(path, folder, KNOWN)
    except ManifestError as error:
        text = str(error)
        assert text.replace("\n", "").isprintable()
        assert all(line.startswith(("deliverables.toml:", "... and")) for line in text.split("\n"))
        return text
    return ""


ODD = {
    "nul": (PIECE.encode() + b'title = "a\0b"', "not valid TOML"),
    "control": (PIECE.encode() + b'title = "a\x1bb"', "not valid TOML"),
    "not-utf-8": (b"# \xff\n" + PIECE.encode(), "not UTF-8"),
    "utf-16": (PIECE.encode("utf-16"), "not UTF-8"),
    "byte-order-mark": (b"\xef\xbb\xbf" + PIECE.encode(), ""),
    "line-ends": (PIECE.replace("\n", "\r\n").encode(), ""),
    "lone-returns": (PIECE.replace("\n", "\r").encode(), "not valid TOML"),
    "homoglyph": ('[[piece]]\n"fil\u0435" = "a.jpg"'.encode(), "unknown key"),
    "infinite": (f"[spec.screen]\nbox = [inf, 3]\n{PIECE}".encode(), "box"),
    "truth": (f"[spec.screen]\nbox = [true, 3]\n{PIECE}".encode(), "box"),
    "not-a-number": (f"[spec.screen]\nppi = nan\n{PIECE}".encode(), "ppi"),
    "upwards": (PIECE.replace("a.jpg", "../a.jpg").encode(), "leaves the folder"),
    "absolute": (PIECE.replace("a.jpg", "/etc/passwd").encode(), "must be relative"),
    "empty-name": (PIECE.replace("a.jpg", "").encode(), 'key "file"'),
    "spec-circle": (f'[spec.a]\nfrom = "b"\n[spec.b]\nfrom = "a"\n{PIECE}'.encode(), "spec"),
    "commands": (PIECE.encode() + b'"\\n::error::x" = 1\n"##[error]" = 2', "unknown key"),
    "empty": (b"", "lists no picture"),
}


@pytest.mark.parametrize("name", ODD)
def test_odd_text_is_one_clear_error(tmp_path: Path, name: str) -> None:
    data, words = ODD[name]
    found = loaded(tmp_path, data)
    assert words in found if words else not found
    assert "::" not in found
    assert "##[" not in found


SPEAKING = r'"a\n::error file=x::owned\n##[error]\u001b[2J\u202e\u2028"'
QUOTED = {
    "a-spec-of-a-piece": f"{PIECE}spec = {SPEAKING}",
    "a-spec-of-a-copy": f'{PIECE}copies = [{{ file = "b.jpg", spec = {SPEAKING} }}]',
    "a-spec-of-the-portfolio": f"[portfolio]\nspec = {SPEAKING}\n{PIECE}",
    "an-origin": f"[spec.b]\nfrom = {SPEAKING}\n{PIECE}",
    "a-spec-meant": f'[spec.{SPEAKING}]\nppi = 72\n{PIECE}spec = {SPEAKING[:-1]}x"',
    "a-spec-of-few": f'[spec.{SPEAKING}]\nppi = 72\n{PIECE}spec = "zzzzzzzzzzzzz"',
    "a-key-of-a-spec": f"[spec.{SPEAKING}]\n{SPEAKING} = 72\n{PIECE}",
    "a-level": f'[spec.b.levels]\n{SPEAKING} = "off"\n{PIECE}',
    "points": f"[spec.b.points]\n{SPEAKING} = 5\n{PIECE}",
    "a-waiver": f'{PIECE}waive = [{{ rule = {SPEAKING}, reason = "so" }}]',
    "a-waiver-of-the-portfolio": (
        f'[portfolio]\nwaive = [{{ rule = {SPEAKING}, reason = "so" }}]\n{PIECE}'
    ),
    "an-id": f"{PIECE}[[piece]]\nid = {SPEAKING}\nfile = 'b.jpg'",
    "a-profile": f"[spec.b]\nprofile = {SPEAKING}\n{PIECE}",
    "a-choice": f"[spec.b]\nformats = {SPEAKING}\n{PIECE}",
    "a-size": f"{PIECE}trim = {SPEAKING}",
    "a-template": f"[spec.b]\nfile-name = {SPEAKING}\n{PIECE}",
    "shared-specs": f"[portfolio]\nspecs-from = {SPEAKING}\n{PIECE}",
    "a-table": f"[{SPEAKING}]\na = 1\n{PIECE}",
}


@pytest.mark.parametrize("name", QUOTED)
def test_names_quoted_in_an_error_do_nothing(tmp_path: Path, name: str) -> None:
    """A line of its own in such a sentence would be a command to a CI service."""
    found = loaded(tmp_path, QUOTED[name].encode())
    assert found
    assert "::" not in found
    assert "##[" not in found


def test_links_do_not_lead_to_manifests_outside(tmp_path: Path) -> None:
    (tmp_path / "outside.toml").write_text(f"[secret]\n{PIECE}")
    root = tmp_path / "root"
    root.mkdir()
    (root / "specs.toml").symlink_to("../outside.toml")
    found = loaded(root, f'[portfolio]\nspecs-from = "specs.toml"\n{PIECE}'.encode())
    assert "links lead out of the folder" in found
    (root / "linked.toml").symlink_to("../outside.toml")
    with pytest.raises(ManifestError, match="links lead out of the folder"):
        load_manifest(root / "linked.toml", root, KNOWN)


WORDS = [
    "[[piece]]",
    "[spec.screen]",
    "[portfolio]",
    "\n",
    "=",
    "id",
    "file",
    '"a.jpg"',
    "box",
    "[1,2]",
]
WORDS += [
    "{",
    "}",
    "[",
    "]",
    '"',
    "'",
    ",",
    ".",
    "waive",
    "copies",
    "from",
    "levels",
    "inf",
    "#",
    "9" * 99,
]


@given(st.lists(st.sampled_from(WORDS) | st.text(max_size=5), max_size=40).map(" ".join))
@settings(max_examples=300)
def test_any_text_is_pieces_or_sentences(
    tmp_path_factory: pytest.TempPathFactory, text: str
) -> None:
    loaded(tmp_path_factory.getbasetemp(), text.encode("utf-8", "surrogatepass"))


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3)
    ),
    max_leaves=6,
)
KEYS = [
    "id",
    "file",
    "title",
    "alt",
    "spec",
    "trim",
    "original",
    "keyline",
    "waive",
    "copies",
    "decorative",
]


def written(value: object) -> str:
    if isinstance(value, dict):
        inner = ", ".join(f"{json.dumps(key)} = {written(one)}" for key, one in value.items())
        return f"{{{inner}}}"
    if isinstance(value, list):
        return f"[{', '.join(map(written, value))}]"
    if isinstance(value, float):
        return "nan" if value != value else repr(value)
    return json.dumps("" if value is None else value)


@given(st.dictionaries(st.sampled_from(KEYS), VALUES, max_size=4))
@settings(max_examples=300)
def test_any_values_are_pieces_or_sentences(
    tmp_path_factory: pytest.TempPathFactory, table: dict[str, object]
) -> None:
    lines = "\n".join(f"{key} = {written(value)}" for key, value in table.items())
    loaded(tmp_path_factory.getbasetemp(), f"[[piece]]\n{lines}\n".encode("utf-8", "surrogatepass"))


FOLDERS = [
    "a\n::error::owned\n##[error]x",
    "::error::owned",
    "##[error]owned",
    "a\x1b[2J",
    "a\u202eb",
]


def test_a_folders_name_is_no_command(portfolio) -> None:
    """pytest prints the path of each manifest: one that would act is refused under a plain name."""
    portfolio.piece()
    sound = (portfolio.folder / "deliverables.toml").read_text()
    plain = "a::b, with \u200cjoiners\u200d"  # acts nowhere, and is somebody's folder
    for name in [*FOLDERS, plain]:
        portfolio.manifest(sound, f"{name}/deliverables.toml")
        (portfolio.folder / name / "a.jpg").write_bytes((portfolio.folder / "a.jpg").read_bytes())
    run = portfolio.run("-v", report=False, GITHUB_ACTIONS="")
    assert run.code == 2
    assert run.out.count("rename the folder") == len(FOLDERS)
    assert f"{len(FOLDERS)} errors" in run.out
    assert not [line for line in run.out.splitlines() if line.startswith("::")]
    assert "##[" not in run.out
    assert "\x1b" not in run.out
    assert "\u202e" not in run.out
    for name in FOLDERS:
        shutil.rmtree(portfolio.folder / name)
    assert portfolio.run(report=False).code == 0
