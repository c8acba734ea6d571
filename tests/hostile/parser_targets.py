"""What fuzzing calls, by name: each parser of this project on any bytes, and what must hold of its answer.

``fuzz_parsers.py`` runs these for hours, guided by what they execute; ``test_fuzz_short.py`` for
seconds in every run. A finding is an exception other than the parser's own.
"""

from __future__ import annotations

import json
import tempfile
import zlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

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
        facts = metadata_facts(found, DEFAULT_LIMITS, read_metadata(found, DEFAULT_LIMITS, data))
        json.dumps(facts, allow_nan=False)

    return target


def with_right_checksums(data: bytes) -> bytes:
    """A PNG whose chunks fit their checksums, so that what is behind the check is tried as well."""
    parts, at = [data[:8]], 8
    while at + 12 <= len(data):
        end = at + 8 + int.from_bytes(data[at : at + 4], "big")
        if end + 4 > len(data):
            break
        parts += [data[at:end], zlib.crc32(data[at + 4 : end]).to_bytes(4, "big")]
        at = end + 4
    return b"".join([*parts, data[at:]])


def png_chunks(data: bytes) -> None:
    header(png.read)(data)
    header(png.read)(with_right_checksums(data))


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
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "deliverables.toml")
        path.write_bytes(data)
        try:
            load_manifest(path, path.parent, KNOWN)
        except ManifestError as error:
            for sentence in str(error).split("\n"):
                is_plain(sentence)
                assert sentence.startswith(("deliverables.toml:", "... and")), sentence
                assert "::" not in sentence


def places(data: bytes) -> None:
    """The scanner of lines on text that is no TOML at all."""
    assert lines.LineMap(data.decode("utf-8", "replace")).line(("piece", 0, "id")) >= 1


TARGETS: dict[str, Callable[[bytes], None]] = {
    "jpeg": header(jpeg.read),
    "png": png_chunks,
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
