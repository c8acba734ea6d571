"""The manifest's schema, for editors: judged by jsonschema, a validator that is not ours.

Each broken manifest is refused by our own reader too, so that neither list can go stale.
"""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Any

import pytest
import tomli
from jsonschema import Draft7Validator, FormatChecker

from pytest_webdeliverable.manifest.builtin import BUILT_IN
from pytest_webdeliverable.manifest.load import Known, load_manifest
from pytest_webdeliverable.manifest.problems import ManifestError
from pytest_webdeliverable.rules import registry
from pytest_webdeliverable.schemas import load_schema

EXAMPLE = Path(__file__).parents[2] / "example_portfolio"
EXAMPLES = sorted(
    path.name for path in EXAMPLE.glob("*.toml") if path.name != "rejected-specs.toml"
)
"""Every manifest; the other file is one of shared specs, and lists no piece."""
KNOWN = Known(rules=registry(), specs=BUILT_IN)
PIECE = '[[piece]]\nid = "a"\nfile = "a.jpg"\n'


def plain(value: Any) -> Any:
    """Return TOML data as JSON has it: editors hand a date to the validator as text."""
    if isinstance(value, dict):
        return {name: plain(item) for name, item in value.items()}
    if isinstance(value, list):
        return [plain(item) for item in value]
    return value.isoformat() if isinstance(value, datetime.date) else value


def complaints(text: str) -> list[str]:
    """What the schema has against a manifest."""
    validator = Draft7Validator(load_schema("manifest"), format_checker=FormatChecker())
    return [error.message for error in validator.iter_errors(plain(tomli.loads(text)))]


@pytest.mark.parametrize("manifest", EXAMPLES)
def test_the_schema_takes_the_examples(manifest: str) -> None:
    assert complaints((EXAMPLE / manifest).read_text(encoding="utf-8")) == []


GOOD = {
    "smallest": PIECE,
    "dates": PIECE + 'waive = [{ rule = "edge-gap", reason = "torn", until = 2027-03-31 }]\n',
    "either of two kinds": PIECE + "[spec.s]\nppi = 72\nanimation = false\n[spec.t]\nppi = {min = 300}\n",
    "one value or a list": PIECE + '[spec.s]\nformats = "png"\ncolor-mode = ["rgb", "gray"]\n',
    "every paper": PIECE + 'trim = "Tabloid landscape"\n',
    "rubric": PIECE + "[spec.screen]\npoints = { edge-gap = 2.5, alt-text = 0 }\n",
}  # fmt: skip


@pytest.mark.parametrize("text", GOOD.values(), ids=GOOD)
def test_the_schema_takes_what_the_reader_takes(tmp_path: Path, text: str) -> None:
    (tmp_path / "deliverables.toml").write_text(text, encoding="utf-8")
    load_manifest(tmp_path / "deliverables.toml", tmp_path, KNOWN)
    assert complaints(text) == []


BROKEN = {
    "no piece": '[portfolio]\ntitle = "x"\n',
    "piece as one table": '[piece]\nfile = "a.jpg"\n',
    "no pieces in the list": "piece = []\n",
    "piece without file": '[[piece]]\nid = "a"\n',
    "misspelt key of a piece": PIECE + 'trm = "A3"\n',
    "misspelt table": PIECE + "[portfolo]\n",
    "misspelt key of a spec": PIECE + "[spec.screen]\nboxx = [1, 2]\n",
    "misspelt key of the portfolio": PIECE + '[portfolio]\nnames = "x"\n',
    "misspelt key inside a table": PIECE + "[spec.screen]\njpeg = { qualty = 90 }\n",
    "id with a space": PIECE.replace('"a"', '"a b"'),
    "id with colons": PIECE.replace('"a"', '"a::b"'),
    "empty file": PIECE.replace("a.jpg", ""),
    "file as a number": PIECE.replace('"a.jpg"', "3"),
    "title as a list": PIECE + 'title = ["x"]\n',
    "decorative in quotes": PIECE + 'decorative = "yes"\n',
    "trim without unit": PIECE + 'trim = "11 x 17"\n',
    "trim of an unknown paper": PIECE + 'trim = "A9"\n',
    "waiver without reason": PIECE + 'waive = [{ rule = "edge-gap" }]\n',
    "waiver of an unknown rule": PIECE + 'waive = [{ rule = "edge-gaps", reason = "x" }]\n',
    "waiver until no date": PIECE + 'waive = [{ rule = "edge-gap", reason = "x", until = "soon" }]\n',
    "copy without spec": PIECE + 'copies = [{ file = "b.jpg" }]\n',
    "crop of three numbers": PIECE + 'copies = [{ file = "b.jpg", spec = "thumbnail", crop = [0, 0, 1] }]\n',
    "crop beyond the picture": PIECE + 'copies = [{ file = "b.jpg", spec = "thumbnail", crop = [0, 0, 1, 2] }]\n',
    "box of one number": PIECE + "[spec.screen]\nbox = [1600]\n",
    "box of no size": PIECE + "[spec.screen]\nbox = [0, 1200]\n",
    "box with a half pixel": PIECE + "[spec.screen]\nbox = [1600.5, 1200]\n",
    "box in quotes": PIECE + '[spec.screen]\nbox = "1600x1200"\n',
    "unknown fill": PIECE + '[spec.screen]\nfill = "cover"\n',
    "unknown format": PIECE + '[spec.screen]\nformats = ["jpeg", "heic"]\n',
    "no format at all": PIECE + "[spec.screen]\nformats = []\n",
    "quality above 100": PIECE + "[spec.screen]\njpeg = { quality = 101 }\n",
    "unknown chroma": PIECE + '[spec.screen]\njpeg = { chroma = "4:4:2" }\n',
    "ppi as a boolean": PIECE + "[spec.screen]\nppi = true\n",
    "print without ppi": PIECE + '[spec.screen]\nprint = { bleed = "3 mm" }\n',
    "bleed without unit": PIECE + '[spec.screen]\nprint = { ppi = 300, bleed = "3" }\n',
    "weight without unit": PIECE + '[spec.screen]\nweight = "900"\n',
    "weight as a number": PIECE + "[spec.screen]\nweight = 900000\n",
    "bit depth of 10": PIECE + "[spec.screen]\nbit-depth = 10\n",
    "animation true": PIECE + "[spec.screen]\nanimation = true\n",
    "unknown level": PIECE + '[spec.screen]\nlevels = { edge-gap = "warn" }\n',
    "level of an unknown rule": PIECE + '[spec.screen]\nlevels = { edge-gaps = "off" }\n',
    "negative points": PIECE + "[spec.screen]\npoints = { edge-gap = -1 }\n",
    "template without a field": PIECE + '[spec.screen]\nfile-name = "poster"\n',
    "spec that is no table": PIECE + "[spec]\nscreen = 3\n",
    "credit nobody has": PIECE + '[spec.screen]\ncredit = ["author"]\n',
}  # fmt: skip
"""Broken manifests that an editor marks."""

UNSEEN = {
    "unknown spec of a piece": PIECE + 'spec = "scren"\n',
    "unknown spec to derive from": PIECE + '[spec.s]\nfrom = "scren"\n',
    "specs in a circle": PIECE + '[spec.s]\nfrom = "t"\n[spec.t]\nfrom = "s"\n',
    "repeated id": PIECE + PIECE,
    "id of the portfolio itself": PIECE.replace('"a"', '"portfolio"'),
    "crop upside down": PIECE + 'copies = [{ file = "b.jpg", spec = "thumbnail", crop = [0, 1, 1, 0] }]\n',
    "path that leaves the folder": PIECE.replace("a.jpg", "../a.jpg"),
    "absolute path": PIECE.replace("a.jpg", "/a.jpg"),
    "trim of no width": PIECE + 'trim = "0 x 17 in"\n',
    "two fields side by side": PIECE + '[spec.screen]\nfile-name = "{a}{b}"\n',
    "missing file of shared specs": PIECE + '[portfolio]\nspecs-from = ["no.toml"]\n',
    "unknown profile": PIECE + '[spec.screen]\nprofile = "adobe"\n',
}  # fmt: skip
"""What no schema of one file sees, or not without saying everything twice: names that other tables or files
define, ids across the list, two numbers against each other, paths, and quantities that are zero."""


@pytest.mark.parametrize("text", BROKEN.values(), ids=BROKEN)
def test_the_schema_refuses_broken_manifests(tmp_path: Path, text: str) -> None:
    assert complaints(text)
    refused_by_the_reader(tmp_path, text)


@pytest.mark.parametrize("text", UNSEEN.values(), ids=UNSEEN)
def test_kinds_of_faults_that_only_the_reader_sees(tmp_path: Path, text: str) -> None:
    assert complaints(text) == []
    refused_by_the_reader(tmp_path, text)


def refused_by_the_reader(folder: Path, text: str) -> None:
    (folder / "deliverables.toml").write_text(text, encoding="utf-8")
    with pytest.raises(ManifestError):
        load_manifest(folder / "deliverables.toml", folder, KNOWN)


def test_thirty_broken_manifests_and_more() -> None:
    assert len(BROKEN) >= 30
