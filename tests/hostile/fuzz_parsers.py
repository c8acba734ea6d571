"""Coverage-guided fuzzing of each parser of this project, with atheris; no part of the test run.

    python tests/hostile/fuzz_parsers.py TARGET [FOLDER ...] [libFuzzer's options]

TARGET is one of ``TARGETS``; FOLDER holds samples to start from, the first one takes what is found.
A finding is an exception other than the parser's own, or an input that takes more than five seconds.
DEVELOPERS.md says how to set it up.
"""

from __future__ import annotations

import json
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

sys.path.insert(0, str(Path(__file__).parents[2]))

import atheris

with atheris.instrument_imports(include=["pytest_webdeliverable"]):
    from pytest_webdeliverable.manifest import lines
    from pytest_webdeliverable.manifest.builtin import BUILT_IN
    from pytest_webdeliverable.manifest.load import Known, load_manifest
    from pytest_webdeliverable.manifest.problems import ManifestError
    from pytest_webdeliverable.measure import icc
    from pytest_webdeliverable.measure.headers import avif, gif, jpeg, png, tiff, webp
    from pytest_webdeliverable.measure.headers.base import DamagedError
    from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS
    from pytest_webdeliverable.measure.metadata import metadata_facts, read_metadata
    from pytest_webdeliverable.measure.metadata.exif import read_exif
    from pytest_webdeliverable.measure.metadata.iptc import read_iptc
    from pytest_webdeliverable.measure.metadata.xmp import read_xmp
    from pytest_webdeliverable.rules import registry

if TYPE_CHECKING:
    from collections.abc import Callable

KNOWN = Known(rules=registry([]), specs=BUILT_IN)
FOLDER = Path(tempfile.mkdtemp(prefix="fuzz"))


def is_plain(text: str) -> None:
    """A sentence that says something, and in which nothing acts."""
    assert text
    assert text.isprintable()


def header(read: Callable[..., Any]) -> Callable[[bytes], None]:
    def target(data: bytes) -> None:
        try:
            found = read(data)
        except DamagedError as damage:
            is_plain(str(damage))
            return
        assert found.width > 0
        assert found.height > 0
        assert all(text.isprintable() for text in found.problems)
        facts = metadata_facts(found, DEFAULT_LIMITS, read_metadata(found, DEFAULT_LIMITS))
        json.dumps(facts, allow_nan=False)

    return target


def profile(data: bytes) -> None:
    try:
        json.dumps(icc.profile_facts(data), allow_nan=False)
    except icc.DamagedProfileError as error:
        is_plain(str(error))


def metadata(read: Callable[..., Any]) -> Callable[[bytes], None]:
    def target(data: bytes) -> None:
        assert all(text.isprintable() for text in read(data, DEFAULT_LIMITS).problems)

    return target


def manifest(data: bytes) -> None:
    path = FOLDER / "deliverables.toml"
    path.write_bytes(data)
    try:
        load_manifest(path, FOLDER, KNOWN)
    except ManifestError as error:
        is_plain(str(error).replace("\n", ""))


def places(data: bytes) -> None:
    """The scanner of lines on text that is no TOML at all."""
    assert lines.LineMap(data.decode("utf-8", "replace")).line(("piece", 0, "id")) >= 1


TARGETS: dict[str, Callable[[bytes], None]] = {
    "jpeg": header(jpeg.read),
    "png": header(png.read),
    "gif": header(gif.read),
    "webp": header(webp.read),
    "avif": header(avif.read),
    "tiff": header(tiff.read),
    "icc": profile,
    "exif": metadata(read_exif),
    "xmp": metadata(read_xmp),
    "iptc": metadata(read_iptc),
    "manifest": manifest,
    "lines": places,
}

if __name__ == "__main__":
    name = sys.argv.pop(1)
    atheris.Setup([*sys.argv, "-timeout=5", "-rss_limit_mb=512"], TARGETS[name])
    atheris.Fuzz()
