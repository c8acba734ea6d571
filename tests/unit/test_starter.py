"""A first manifest from the files of a folder: it loads, whatever the names hold."""

from __future__ import annotations

import os
import sys
import tomllib
from typing import TYPE_CHECKING, Any

import pictures
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pytest_webdeliverable.manifest.builtin import BUILT_IN
from pytest_webdeliverable.manifest.load import Known, load_manifest
from pytest_webdeliverable.rules import registry
from pytest_webdeliverable.start import find_pictures
from pytest_webdeliverable.starter import (
    Found,
    guessed_titles,
    images_folder,
    manifest_text,
    suggested_spec,
    toml_string,
)

if TYPE_CHECKING:
    from pathlib import Path

    from pytest_webdeliverable.manifest.model import Manifest

KNOWN = Known(rules=registry(), specs=BUILT_IN)
HOSTILE = [
    'quote".jpg',
    "back\\slash.jpg",
    "line\nbreak.jpg",
    "\x1b[31mred.jpg",
    "turned\u202egpj.jpg",
    "~home.jpg",
    "C:drive.jpg",
    "narrow\u202fspace 3.04.05 PM.jpg",
    "${{ github.token }}.jpg",
    "]]].jpg",
    "'''.jpg",
    "#comment.jpg",
    "::error::x.jpg",
    "##[error]x.jpg",
    "e\u0301.jpg",
    "\U0001f5bc.jpg",
    "portfolio.jpg",
    "a.jpg",
    "A b.jpg",
    "A-b.jpg",
    "....jpg",
    f"{'long' * 60}.jpg",
]


def load(folder: Path, text: str) -> Manifest:
    (folder / "deliverables.toml").write_text(text, encoding="utf-8")
    return load_manifest(folder / "deliverables.toml", folder, KNOWN)


def picture(file: str, **what: Any) -> Found:
    return Found(**{"file": file, "format": "jpeg", "width": 1600, "height": 1200, **what})


@pytest.mark.skipif(sys.platform == "win32", reason="such names cannot be written there")
def test_hostile_names_are_listed_or_left_out_and_said(tmp_path: Path) -> None:
    data = pictures.encoded(pictures.art(40, 30))
    for name in HOSTILE:
        (tmp_path / name).write_bytes(data)
    (tmp_path / os.fsdecode(b"not-utf-8-\xff.jpg")).write_bytes(data)
    found, left_out = find_pictures(tmp_path, [])
    manifest = load(tmp_path, manifest_text(tmp_path.name, found, left_out))
    listed = {piece.file for piece in manifest.pieces}
    refused = {HOSTILE[index] for index in range(1, 7)}
    hidden = {"....jpg"}
    assert listed == set(HOSTILE) - refused - hidden
    assert len(left_out) == len(refused) + 1
    assert all(sentence.isprintable() for sentence in left_out)


NAMES = st.text(st.characters(), min_size=1, max_size=60)


@given(st.lists(NAMES, min_size=1, max_size=8, unique=True), NAMES, st.lists(NAMES, max_size=3))
@settings(max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_names_make_a_manifest_that_loads(
    tmp_path: Path, names: list[str], title: str, sentences: list[str]
) -> None:
    """What the door and the manifest refuse is left out before; here all else is thrown in."""
    from pytest_webdeliverable.manifest.paths import path_problem
    from pytest_webdeliverable.measure.door import refused_name

    found = [picture(f"{name}.jpg") for name in names]
    found = [one for one in found if not refused_name(one.file) and not path_problem(one.file, "")]
    if not found:
        return
    manifest = load(tmp_path, manifest_text(title, found, sentences))
    assert [piece.file for piece in manifest.pieces] == [one.file for one in found]


@given(st.text(st.characters(exclude_categories=["Cs"])))
def test_strings_come_back_from_another_reader(text: str) -> None:
    """tomllib of Python's standard library reads TOML 1.0."""
    assert tomllib.loads(f"x = {toml_string(text)}") == {"x": text}


def test_ids_and_titles_are_guessed(tmp_path: Path) -> None:
    files = ["a/tide_table.jpg", "b/tide_table.png", "b/portfolio.jpg", "\xe4.jpg"]
    manifest = load(tmp_path, manifest_text("Spring", [picture(file) for file in files], []))
    assert [(piece.id, piece.title) for piece in manifest.pieces] == [
        ("tide_table", "Tide table"),
        ("tide_table-2", "Tide table"),
        ("portfolio-2", "Portfolio"),
        ("piece", "\xc4"),
    ]
    assert manifest.portfolio.title == "Spring"
    assert {piece.alt for piece in manifest.pieces} == {
        "TO WRITE: what somebody who cannot see the picture should know"
    }


@pytest.mark.parametrize(
    ("files", "titles"),
    [
        (["x/lind-ada-tide_table.jpg", "lind-ada-loom.jpg"], ["Tide table", "Loom"]),
        (["lind-ada-loom.jpg"], ["Lind ada loom"]),
        (["lind-ada.jpg", "lind-ada-loom.jpg"], ["Ada", "Ada loom"]),
        (["a.jpg", "a.png"], ["A", "A"]),
        (["-.jpg", "a.jpg"], ["", "A"]),
    ],
)
def test_titles_leave_out_what_all_names_begin_with(files: list[str], titles: list[str]) -> None:
    assert guessed_titles(files) == titles


@pytest.mark.parametrize(
    ("what", "spec"),
    [
        ({}, ""),
        ({"width": 800}, ""),
        ({"width": 1601, "height": 900}, ""),
        ({"width": 3200, "height": 2000}, "screen-2x"),
        ({"width": 1800, "height": 2400}, "screen-2x"),
        ({"width": 400, "height": 200}, "thumbnail"),
        ({"width": 399, "height": 200}, ""),
        ({"width": 1200, "height": 630}, "social-card"),
        ({"width": 1200, "height": 631}, ""),
        ({"format": "tiff"}, "print-entry"),
        ({"format": "gif", "frames": 12}, "motion"),
        ({"format": "webp", "frames": None}, "motion"),
        ({"format": "gif"}, ""),
        ({"format": "", "width": 0, "height": 0, "problem": "cut off"}, ""),
    ],
)
def test_a_spec_is_suggested_only_where_the_file_is_telling(
    what: dict[str, Any], spec: str
) -> None:
    assert suggested_spec(picture("a.jpg", **what)) == spec


@pytest.mark.parametrize(
    ("files", "folder"),
    [
        (["a.jpg"], ""),
        (["images/a.jpg"], "images"),
        (["images/a.jpg", "images/small/a.jpg", "b.jpg"], "images"),
        (["images/a.jpg", "b.jpg"], ""),
        (["2026/web/a.jpg", "2026/web/b.jpg", "x.jpg"], "2026/web"),
        (["2026/web/a.jpg", "2026/old/b.jpg"], "2026"),
    ],
)
def test_the_folder_of_most_images(files: list[str], folder: str) -> None:
    assert images_folder(files) == folder


def test_a_tiff_of_the_same_name_is_the_original(tmp_path: Path) -> None:
    found = [
        picture("images/loom.jpg"),
        picture("originals/loom.tif", format="tiff"),
        picture("originals/other.tif", format="tiff"),
    ]
    loom, other = load(tmp_path, manifest_text("x", found, [])).pieces
    assert (loom.file, loom.original) == ("images/loom.jpg", "originals/loom.tif")
    assert (other.file, other.spec.name) == ("originals/other.tif", "print-entry")


def test_folders_that_pytest_does_not_enter_are_left_alone(tmp_path: Path) -> None:
    for folder in ("node_modules", ".hidden", "env/lib", "images"):
        pictures.save(tmp_path / folder / "a.jpg", pictures.art(40, 30))
    (tmp_path / "env/pyvenv.cfg").touch()
    found, left_out = find_pictures(tmp_path, ["node_modules"])
    assert ([one.file for one in found], left_out) == (["images/a.jpg"], [])


def test_formats_that_the_usual_spec_refuses_are_pointed_out() -> None:
    found = [picture("a.jpg"), picture("b.png", format="png"), picture("c.tif", format="tiff")]
    assert '# formats = ["jpeg", "png"]' in manifest_text("x", found, [])
    assert "# formats" not in manifest_text("x", found[:1], [])


def test_what_cannot_be_read_is_listed_all_the_same(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(b"<html>")
    found, _ = find_pictures(tmp_path, [])
    assert found[0].problem
    text = manifest_text("x", found, [])
    assert "not readable" in text
    assert load(tmp_path, text).pieces[0].file == "a.jpg"
