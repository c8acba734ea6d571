"""What a spec asks, in the words of the report's tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from pytest_webdeliverable.manifest.load import Known, load_manifest
from pytest_webdeliverable.report.asked import asked_words, weight_words
from pytest_webdeliverable.rules import registry

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize(
    ("spec", "piece", "rule", "words"),
    [
        ("box = [80, 60]", "", "pixel-size", "one side touches 80 x 60 px, at most 1 px over"),
        ("box = [80, 60]", 'trim = "40 x 30 mm"', "pixel-size", "80 to 81 x 60 to 61 px"),
        ('box = [80, 60]\nfill = "within"', "", "pixel-size", "within 80 x 60 px"),
        ('box = [80, 60]\nfill = "exact"', "", "pixel-size", "exactly 80 x 60 px"),
        ("ppi = 72", "", "density", "72 ppi"),
        ("ppi = { min = 300 }", "", "density", "at least 300 ppi"),
        # A6 is 105 x 148 mm (ISO 216): 105 / 25.4 * 300 = 1240.2, 148 / 25.4 * 300 = 1748.03.
        ("print = { ppi = 300 }", 'trim = "A6"', "print-size", "at least 1240 x 1748 px"),
        ('formats = ["jpeg", "png"]', "", "file-format", "JPEG or PNG"),
        ('weight = "900 kB"', "", "file-weight", "at most 900 kB"),
        ("jpeg = { quality = 90 }", "", "jpeg-quality", "90 or more"),
        ('profile = "srgb"', "", "color-profile", "sRGB"),
        ("animation = false", "", "single-frame", "1"),
        ("animation = { flashes = 3 }", "", "flash", "at most 3 a second"),
    ],
)
def test_each_value_in_a_few_words(
    tmp_path: Path, spec: str, piece: str, rule: str, words: str
) -> None:
    path = tmp_path / "deliverables.toml"
    path.write_text(
        f'[portfolio]\nspec = "mine"\n[spec.mine]\n{spec}\n[[piece]]\nfile = "a.jpg"\n{piece}\n'
    )
    manifest = load_manifest(path, tmp_path, Known(rules=registry([]), specs={}))
    assert asked_words(manifest.pieces[0]) == {rule: words}


@pytest.mark.parametrize(
    ("count", "words"),
    [
        (0, "0 bytes"),
        (999, "999 bytes"),
        (1000, "1 kB"),
        (142_300, "142 kB"),
        (1_250_000, "1.25 MB"),
    ],
)
def test_weights_count_in_thousands(count: int, words: str) -> None:
    # SI: k is 1000 and M is 1000000 (BIPM, The International System of Units, table 7).
    assert weight_words(count) == words
