"""What to expect of a piece, in words; the arithmetic is tested in reference/test_fit_examples.py."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from pytest_webdeliverable.fit import expected_size
from pytest_webdeliverable.manifest.builtin import BUILT_IN
from pytest_webdeliverable.manifest.load import Known, load_manifest
from pytest_webdeliverable.plan import Row, plan_markdown, plan_rows, plan_text
from pytest_webdeliverable.rules import registry

if TYPE_CHECKING:
    from pathlib import Path

    from pytest_webdeliverable.manifest.model import Manifest

KNOWN = Known(rules=registry(), specs=BUILT_IN)


def planned(folder: Path, extra: str, spec: str = "") -> tuple[Manifest, list[Row]]:
    text = f'[[piece]]\nid = "a"\nfile = "img/a.jpg"\n{extra}\n{spec}\n'
    (folder / "deliverables.toml").write_text(text, encoding="utf-8")
    manifest = load_manifest(folder / "deliverables.toml", folder, KNOWN)
    return manifest, plan_rows(manifest.pieces)


# Worked by hand: 1200 / 17 = 70.588 px an inch, times 11 is 776.47; 1600 / 36 = 44.44, times 18 is 800.
# Largest prints at 300 ppi: 776 / 300 = 2.587 in, 1200 / 300 = 4 in; 2.54 cm to the inch.
@pytest.mark.parametrize(
    ("extra", "spec", "pixels", "why", "prints"),
    [
        ('trim = "11 x 17 in"', "", "776 x 1200 px", "the height binds; 776 to 778 x 1200 to 1201 px pass", "2.6 x 4.0 in (6.6 x 10.2 cm) at 300 ppi"),
        ('trim = "36 x 18 in"', "", "1600 x 800 px", "the width binds; 1600 to 1601 x 800 to 801 px pass", "5.3 x 2.7 in"),
        ('trim = "24 x 18 in"', "", "1600 x 1200 px", "both sides bind", "5.3 x 4.0 in"),
        ("", "", "1600 wide or 1200 high", "one of two, until trim = ... says the shape", "5.3 x 4.0 in"),
        ('spec = "thumbnail"\ntrim = "36 x 18 in"', "", "to 400 x 200 px", "at most this, in this shape", "1.3 x 0.7 in"),
        ('spec = "thumbnail"', "", "to 400 x 300 px", "not larger than the box of 400 x 300 px", "1.3 x 1.0 in"),
        ('spec = "social-card"', "", "1200 x 630 px", "exactly the box of 1200 x 630 px", "4.0 x 2.1 in"),
        # A6 is 105 x 148 mm: (105 + 6) / 25.4 * 300 = 1311.02, (148 + 6) / 25.4 * 300 = 1818.90.
        ('spec = "p"\ntrim = "A6"', '[spec.p]\nfrom = "print-entry"\nprint = {ppi = 300, bleed = "3 mm"}', "1312 x 1819 px", "A6 plus 3 mm bleed on each side at 300 ppi; 1311 x 1818 px or more pass", "A6 at 300 ppi: made for printing"),
        ('spec = "print-entry"', "", "not known", "add the finished size", ""),
        ('spec = "motion"', "", "any", "the spec names no box and no print", ""),
        ('trim = "24 x 18 in"', "[spec.screen]\nprint = {ppi = 300}", "1600 x 1200 px", "the print asks for 7200 x 5400 px", "5.3 x 4.0 in"),
    ],
)  # fmt: skip
def test_sizes(tmp_path: Path, extra: str, spec: str, pixels: str, why: str, prints: str) -> None:
    _, (row,) = planned(tmp_path, extra, spec)
    assert row.size.pixels == pixels
    assert why in row.size.why
    assert prints in row.size.prints
    assert bool(prints) == bool(row.size.prints)


@pytest.mark.parametrize(
    "trim", ["11 x 17 in", "A2", "B2 landscape", "1 x 3000 mm", "1600 x 1199 px"]
)
def test_the_size_to_aim_at_is_one_that_passes(tmp_path: Path, trim: str) -> None:
    manifest, (row,) = planned(tmp_path, f'trim = "{trim}"')
    expected = expected_size(manifest.pieces[0].spec, manifest.pieces[0].trim)
    assert expected is not None
    width, _, height, _ = row.size.pixels.split()
    assert expected.accepts(int(width), int(height))


def test_how_the_file_is_to_be_made(tmp_path: Path) -> None:
    spec = '[spec.screen]\nfile-name = "{family}-{piece}"\nweight = "1.2 MB"\njpeg = { chroma = "4:4:4" }\n'
    _, (row,) = planned(tmp_path, "", spec)
    assert (row.ppi, row.format, row.profile, row.weight) == (
        "72 ppi",
        "JPEG",
        "sRGB",
        "at most 1.2 MB",
    )
    assert row.made == "baseline JPEG, quality 90 or more, chroma 4:4:4, RGB, 8 bits a sample"
    assert row.name == "{family}-{piece}"


def test_a_png_is_not_said_to_be_made_as_a_jpeg(tmp_path: Path) -> None:
    _, (row,) = planned(tmp_path, "", '[spec.screen]\nformats = "png"\n')
    assert "JPEG" not in f"{row.format} {row.made}"


def test_columns_are_aligned_and_what_is_the_same_is_said_once(tmp_path: Path) -> None:
    _, rows = planned(tmp_path, '[[piece]]\nid = "a-longer-name"\nfile = "b.jpg"\ntrim = "A4"\n')
    lines = plan_text(rows)
    heads = [line for line in lines if line[0:1].strip()][:3]
    assert {
        line.index(word) for line, word in zip(heads, ("ppi", "72 ppi", "72 ppi"), strict=True)
    } == {heads[0].index("ppi")}
    assert sum("baseline JPEG" in line for line in lines) == 1


def test_hostile_names_are_text_in_terminal_and_page(tmp_path: Path) -> None:
    name = "<script>\\u001b[31m|`@x`\\u202e##[error]::x"
    manifest, rows = planned(tmp_path, f'title = "{name}"\n[portfolio]\ntitle = "{name}"\n')
    page = plan_markdown([("deliverables.toml", manifest, rows)])
    assert all(
        line.isprintable() for line in plan_text(rows) + page.splitlines() if "\u2060" not in line
    )
    assert "\x1b" not in page
    assert "\u202e" not in page
    assert "<script" not in page
    assert "##[" not in page
    row = next(line for line in page.splitlines() if line.startswith("| a"))
    assert row.replace("\\|", "").count("|") == 10
