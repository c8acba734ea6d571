"""Reading manifests: what good ones mean, and the one clear error of bad ones."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

import pytest

from pytest_webdeliverable.manifest.builtin import BUILT_IN
from pytest_webdeliverable.manifest.load import Known, load_manifest, safe_id
from pytest_webdeliverable.manifest.model import Animation, Manifest, Ppi
from pytest_webdeliverable.manifest.problems import ManifestError
from pytest_webdeliverable.rules import registry

if TYPE_CHECKING:
    from pathlib import Path

KNOWN = Known(rules=registry(), specs=BUILT_IN)


def load(folder: Path, text: str | bytes, name: str = "deliverables.toml") -> Manifest:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return load_manifest(path, folder, KNOWN)


def problems(folder: Path, text: str | bytes, name: str = "deliverables.toml") -> str:
    with pytest.raises(ManifestError) as caught:
        load(folder, text, name)
    return str(caught.value)


PIECE = '[[piece]]\nid = "a"\nfile = "a.jpg"\n'


def test_a_piece_takes_the_built_in_screen_spec(tmp_path: Path) -> None:
    (piece,) = load(tmp_path, PIECE).pieces
    assert (piece.spec.name, piece.spec.box, piece.spec.ppi) == ("screen", (1600, 1200), 72)
    assert piece.spec.jpeg is not None
    assert (piece.spec.jpeg.process, piece.spec.jpeg.quality) == ("baseline", 90)


def test_a_table_of_the_same_name_changes_the_built_in_spec(tmp_path: Path) -> None:
    text = PIECE + "[spec.screen]\nbox = [10, 20]\njpeg = { quality = 95 }\n"
    (piece,) = load(tmp_path, text).pieces
    assert piece.spec.box == (10, 20)
    assert piece.spec.jpeg is not None
    assert (piece.spec.jpeg.process, piece.spec.jpeg.quality) == ("baseline", 95)


def test_specs_derive_through_several_steps(tmp_path: Path) -> None:
    text = (
        PIECE.replace("file", 'spec = "b"\nfile')
        + '[spec.b]\nfrom = "a"\nweight = "2 MB"\n[spec.a]\nfrom = "screen-2x"\nppi = {min = 100}\n'
    )
    (piece,) = load(tmp_path, text).pieces
    assert (piece.spec.name, piece.spec.box, piece.spec.weight) == ("b", (3200, 2400), 2_000_000)
    assert piece.spec.ppi == Ppi(min=100)


def test_shared_specs_come_before_the_manifests_own(tmp_path: Path) -> None:
    (tmp_path / "house.toml").write_text('[spec.screen]\nweight = "1 MB"\nbox = [800, 600]\n')
    text = '[portfolio]\nspecs-from = ["../house.toml"]\n[spec.screen]\nbox = [400, 300]\n' + PIECE
    (piece,) = load(tmp_path, text, "work/deliverables.toml").pieces
    assert (piece.spec.weight, piece.spec.box) == (1_000_000, (400, 300))


def test_a_profile_path_is_relative_to_the_file_that_names_it(tmp_path: Path) -> None:
    (tmp_path / "house").mkdir()
    (tmp_path / "house/specs.toml").write_text('[spec.screen]\nprofile = "icc/press.icc"\n')
    text = '[portfolio]\nspecs-from = "../house/specs.toml"\n' + PIECE
    (piece,) = load(tmp_path, text, "work/deliverables.toml").pieces
    assert piece.spec.profile == "house/icc/press.icc"


def test_copies_become_pieces_of_their_own(tmp_path: Path) -> None:
    text = PIECE + (
        'alt = "Described"\ntrim = "3 x 4 in"\n'
        "copies = [\n"
        '  { file = "t.jpg", spec = "thumbnail" },\n'
        '  { file = "s.jpg", spec = "social-card", crop = [0, 0.1, 1, 0.6], alt = "Part" },\n'
        "]\n"
    )
    piece, thumbnail, card = load(tmp_path, text).pieces
    assert (thumbnail.id, thumbnail.copy_of, thumbnail.alt) == ("a--thumbnail", "a", "Described")
    assert (thumbnail.trim, card.trim) == (piece.trim, None)
    assert (card.id, card.crop, card.alt) == ("a--social-card", (0, 0.1, 1, 0.6), "Part")
    assert (piece.line, thumbnail.line, card.line) == (1, 7, 8)


def test_waivers_dates_and_tables(tmp_path: Path) -> None:
    text = PIECE + 'waive = [{ rule = "edge-gap", reason = "torn paper", until = 2027-03-31 }]\n'
    (piece,) = load(tmp_path, text).pieces
    assert piece.waive[0].until == datetime.date(2027, 3, 31)


def test_motion_limits(tmp_path: Path) -> None:
    (piece,) = load(tmp_path, PIECE + 'spec = "motion"\n').pieces
    assert piece.spec.animation == Animation(frames=300, flashes=3)


@pytest.mark.parametrize(
    ("file", "expected"),
    [
        ("images/Tide Table.jpg", "Tide-Table"),
        ("ä.jpg", "piece"),
        ("x::y[1].png", "x-y-1"),
        ("a" * 300 + ".jpg", "a" * 200),
    ],
)
def test_a_piece_without_id_is_named_after_its_file(file: str, expected: str) -> None:
    assert safe_id(file) == expected


def test_toml_1_1_inline_tables_may_span_lines(tmp_path: Path) -> None:
    text = "[portfolio]\npieces = {\n  min = 1,  # one at least\n  max = 9,\n}\n" + PIECE
    count = load(tmp_path, text).portfolio.pieces
    assert count is not None
    assert (count.min, count.max) == (1, 9)


@pytest.mark.parametrize("mark", ["\ufeff", ""])
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_byte_order_marks_and_line_ends_do_not_matter(
    tmp_path: Path, mark: str, ending: str
) -> None:
    text = (mark + PIECE).replace("\n", ending)
    assert load(tmp_path, text.encode()).pieces[0].id == "a"


BAD = {
    "unknown key": (PIECE + "trm = 1\n", 'deliverables.toml:4: piece "a": key "trm": unknown key', '"trim"'),
    "unknown table": ("[pices]\n" + PIECE, 'deliverables.toml:1: key "pices": unknown table', '"piece"'),
    "wrong type": (PIECE + "title = 3\n", ':4: piece "a": key "title": expected text', "not 3"),
    "true is no number": ("[spec.screen]\nppi = true\n" + PIECE, ":2: spec", "not true"),
    "infinite": ("[spec.screen]\nppi = inf\n" + PIECE, ":2: spec", "not inf"),
    "bad trim": (PIECE + 'trim = "11 by 17"\n', ':4: piece "a": key "trim"', '"11 x 17 in"'),
    "zero trim": (PIECE + 'trim = "0 x 17 in"\n', ':4: piece "a": key "trim"', "expected a finished"),
    "paper that is none": (PIECE + 'trim = "A9"\n', ':4: piece "a"', "finished size"),
    "repeated id": (PIECE + PIECE, ':5: piece "a": key "id"', "line 1"),
    "reserved id": (PIECE.replace('"a"', '"portfolio"'), ":1: piece", "choose another id"),
    "bad id": (PIECE.replace('"a"', '"a::b[1]"'), ':2: piece "a: :b[1]": key "id"', "letters, digits"),
    "unknown rule in a waiver": (
        PIECE + 'waive = [{ rule = "edge-gpa", reason = "x" }]\n',
        ':4: piece "a": key "waive 1.rule": there is no rule "edge-gpa"',
        '"edge-gap"',
    ),
    "waiver without a reason": (PIECE + 'waive = [{ rule = "edge-gap" }]\n', ":4: piece", '"reason"'),
    "waiver with an empty reason": (
        PIECE + 'waive = [{ rule = "edge-gap", reason = " " }]\n', ":4: piece", "reason in words",
    ),
    "date in quotes": (
        PIECE + 'waive = [{ rule = "edge-gap", reason = "x", until = "2027-01-01" }]\n',
        ":4: piece", "without quotes",
    ),
    "unknown spec": (PIECE + 'spec = "scren"\n', ':4: piece "a": key "spec"', '"screen"'),
    "unknown default spec": ('[portfolio]\nspec = "x"\n' + PIECE, ":2: [portfolio]", "no spec"),
    "unknown origin": ('[spec.b]\nfrom = "scren"\n' + PIECE, ':2: spec "b": key "from"', '"screen"'),
    "circle": ('[spec.a]\nfrom = "b"\n[spec.b]\nfrom = "a"\n' + PIECE, "key \"from\"", "circle"),
    "unknown rule in levels": (
        '[spec.screen]\nlevels = { densty = "off" }\n' + PIECE, ':2: spec "screen"', '"density"',
    ),
    "unknown level": (
        '[spec.screen]\nlevels = { density = "warn" }\n' + PIECE, ":2: spec", '"advise"',
    ),
    "negative points": ("[spec.screen]\npoints = { density = -1 }\n" + PIECE, ":2: spec", "from 0"),
    "bad box": ("[spec.screen]\nbox = [1600]\n" + PIECE, ":2: spec", "list of 2"),
    "bad format": ('[spec.screen]\nformats = ["jpg"]\n' + PIECE, ":2: spec", '"jpeg"'),
    "bad weight": ('[spec.screen]\nweight = "2 Mb"\n' + PIECE, ":2: spec", "900 kB"),
    "bad profile": ('[spec.screen]\nprofile = "sRBG"\n' + PIECE, ":2: spec", "srgb"),
    "bad template": ('[spec.screen]\nfile-name = "{a}{b}"\n' + PIECE, ":2: spec", "between them"),
    "bad crop": (
        PIECE + 'copies = [{ file = "t.jpg", spec = "thumbnail", crop = [0.5, 0, 0.2, 1] }]\n',
        ":4: piece", "left < right",
    ),
    "two copies of one spec": (
        PIECE + 'copies = [{ file = "t.jpg", spec = "thumbnail" }, { file = "u.jpg", spec = "thumbnail" }]\n',
        ":4: piece", "is taken",
    ),
    "path that leaves the root": (PIECE.replace("a.jpg", "../a.jpg"), ':3: piece "a": key "file"', "leaves"),
    "path that leaves and returns": (PIECE.replace("a.jpg", "../x/a.jpg"), ":3: piece", "leaves"),
    "absolute path": (PIECE.replace("a.jpg", "/etc/a.jpg"), ":3: piece", "relative"),
    "drive": (PIECE.replace("a.jpg", "C:/a.jpg"), ":3: piece", "relative"),
    "backslash": (PIECE.replace("a.jpg", "images\\\\a.jpg"), ":3: piece", "write / between"),
    "missing file key": ('[[piece]]\nid = "a"\n', ':1: piece "a"', '"file" is missing'),
    "piece as a table": ('[piece]\nfile = "a.jpg"\n', ":1:", "[[piece]]"),
    "portfolio as a list": ("[[portfolio]]\n" + PIECE, ":1:", "[portfolio]"),
    "spec as a value": ("spec = 3\n" + PIECE, ":1:", "[spec.NAME]"),
    "spec that is no table": ("[spec]\nscreen = 3\n" + PIECE, ":2: spec", "[spec.NAME]"),
    "empty manifest": ("", ":1:", "lists no picture"),
    "nothing but a title": ('[portfolio]\ntitle = "x"\n', ":1:", "lists no picture"),
    "invalid TOML": ('[[piece]]\nfile = "a.jpg\n', "deliverables.toml:2: this is not valid TOML, column", ""),
    "not UTF-8": (b'[[piece]]\nfile = "\xff"\n', "deliverables.toml:2: the text is not UTF-8", ""),
    "NUL": (b"[[piece]]\n\x00", "deliverables.toml:2: this is not valid TOML", ""),
    "huge number": ("[spec.screen]\noverflow = " + "9" * 10_000 + "\n", "deliverables.toml:1:", "digits"),
    "deep nesting": ("a = " + "[" * 100_000 + "]" * 100_000, "deliverables.toml:", "nest"),
    "missing shared specs": (
        '[portfolio]\nspecs-from = ["no.toml"]\n' + PIECE,
        'deliverables.toml:2: [portfolio]: key "specs-from 1": there is no file "no.toml"', "",
    ),
    "web address": (PIECE.replace("a.jpg", "https://b.example/a.jpg"), ":3: piece", "a file beside"),
    "more pieces than less": (
        "[portfolio]\npieces = { min = 9, max = 6 }\n" + PIECE, ':2: [portfolio]: key "pieces"', "larger",
    ),
    "key of a table at the top": ('title = "x"\n' + PIECE, ':1: key "title"', "below [portfolio]"),
    "key of a spec in a piece": (PIECE + "box = [1, 2]\n", ':4: piece "a": key "box"', "below [spec.NAME]"),
    "key of a piece in a spec": ('[spec.screen]\nfile = "a"\n' + PIECE, ":2: spec", "below [[piece]]"),
    "key of a table in a spec": ("[spec.screen]\nquality = 90\n" + PIECE, ":2: spec", "into jpeg = {"),
    "capitals": ('[spec.screen]\ncolor-mode = "RGB"\n' + PIECE, ":2: spec", 'mean "rgb"?'),
    "a name for a profile": ('[spec.screen]\nprofile = "sRGB"\n' + PIECE, ":2: spec", 'mean "srgb"?'),
    "unit in capitals": ('[spec.screen]\nweight = "900 KB"\n' + PIECE, ":2: spec", 'mean "900 kB"?'),
    "weight without a unit": ("[spec.screen]\nweight = 900\n" + PIECE, ":2: spec", "unit is missing"),
    "trim without a unit": (PIECE + 'trim = "11x17"\n', ':4: piece "a"', "unit is missing"),
    "trim in words": (PIECE + 'trim = "11 x 17 inches"\n', ':4: piece "a"', 'mean "11 x 17 in"?'),
    "paper with its standard": (PIECE + 'trim = "DIN A3"\n', ':4: piece "a"', 'mean "A3"?'),
    "huge weight": ("[spec.screen]\nweight = 0x" + "f" * 9999 + "\n" + PIECE, ":2: spec", "very large"),
    "open quotes": (PIECE + 'title = "x\n', ":4: this is not", "close the quotes"),
    "curly quotes": (PIECE + "title = “x”\n", ":4: this is not", "straight quotes"),
    "no quotes": (PIECE + "title = x\n", ":4: this is not", "straight quotes"),
    "other slash": (PIECE.replace("a.jpg", "images\\quill.jpg"), ":3: this is not", "write / between"),
    "colon for the equals sign": (PIECE + 'title: "x"\n', ":4: this is not", "key = value"),
    "key twice": (PIECE + 'file = "b.jpg"\n', ":4: this is not", "there twice"),
    "table twice": ("[portfolio]\n[portfolio]\n" + PIECE, ":2: this is not", "there twice"),
    "open brace": (PIECE + "waive = [{ rule = 3 reason = 4 }]\n", ":4: this is not", "comma"),
    "number with a comma": ("[spec.screen]\nbox = 1,600\n" + PIECE, ":2: this is not", "without commas"),
    "open heading": ("[portfolio\n" + PIECE, ":1: this is not", "close the heading"),
}  # fmt: skip


@pytest.mark.parametrize(("text", "start", "hint"), BAD.values(), ids=BAD)
def test_bad_manifests(tmp_path: Path, text: str | bytes, start: str, hint: str) -> None:
    said = problems(tmp_path, text)
    assert start in said
    assert hint in said
    assert len(said.splitlines()) <= 2
    assert "Traceback" not in said


def test_all_problems_are_told_at_once_in_order(tmp_path: Path) -> None:
    said = problems(tmp_path, PIECE + "trm = 1\n" + '[[piece]]\nfile = "../b.jpg"\n')
    assert [line.split(":")[1] for line in said.splitlines()] == ["4", "6"]


def test_a_flood_of_problems_is_cut(tmp_path: Path) -> None:
    said = problems(tmp_path, PIECE * 50)
    assert said.splitlines()[-1] == "... and 29 more"


def test_shared_specs_may_hold_specs_only(tmp_path: Path) -> None:
    (tmp_path / "house.toml").write_text('[portfolio]\ntitle = "x"\n[spec.screen]\nboxx = 1\n')
    said = problems(tmp_path, '[portfolio]\nspecs-from = "house.toml"\n' + PIECE)
    assert "house.toml:1:" in said
    assert "house.toml:4:" in said
    assert '"box"' in said


def test_a_manifest_that_is_a_folder(tmp_path: Path) -> None:
    (tmp_path / "deliverables.toml").mkdir()
    with pytest.raises(ManifestError, match=r"cannot be read|not a regular file"):
        load_manifest(tmp_path / "deliverables.toml", tmp_path, KNOWN)


def test_terminal_escapes_and_workflow_commands_are_made_harmless(tmp_path: Path) -> None:
    said = problems(tmp_path, PIECE + '"\\u001b[31m::error::x" = 1\n')
    assert "\x1b" not in said
    assert "::" not in said
