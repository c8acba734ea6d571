"""A bounded reader of XMP packets: no document type, no entities, no unbounded depth or size.

Every packet is decoded here and handed to expat as UTF-8, so that no encoding named inside the
packet is looked up, and the parse ends at the first sign of a document type declaration.

Source: ISO 16684-1 (XMP) for the data model as RDF/XML, from memory; the names that matter here are
those of the IPTC Photo Metadata Standard 2024.1 and the published XMP namespaces.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple
from xml.parsers import expat

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pytest_webdeliverable.measure.limits import Limits

_RDF: Final = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
_XML: Final = "http://www.w3.org/XML/1998/namespace"
_META: Final = "adobe:ns:meta/"
_SYNTAX: Final = frozenset({_RDF, _XML, _META, ""})
"""Namespaces of the wrapping: they carry structure, no property."""

PREFIXES: Final = {
    "http://purl.org/dc/elements/1.1/": "dc",
    "http://ns.adobe.com/exif/1.0/": "exif",
    "http://ns.adobe.com/exif/1.0/aux/": "aux",
    "http://cipa.jp/exif/1.0/": "exifEX",
    "http://ns.adobe.com/tiff/1.0/": "tiff",
    "http://ns.adobe.com/photoshop/1.0/": "photoshop",
    "http://ns.adobe.com/xap/1.0/": "xmp",
    "http://ns.adobe.com/xap/1.0/g/img/": "xmpGImg",
    "http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/": "Iptc4xmpCore",
    "http://iptc.org/std/Iptc4xmpExt/2008-02-29/": "Iptc4xmpExt",
}
"""Preferred prefixes of the standards, so that a file's own choice of prefix does not matter."""

_ELEMENTS_READ: Final = 100_000
"""Elements and attributes per packet; histories of long-lived documents reach tens of thousands."""

_EQUALS_PARSED: Final = 3 * _ELEMENTS_READ
"""Equals signs per packet: expat gathers all attributes of an element before it reports any."""

_FIRST_PART: Final = 64 * 1024
"""Bytes that the parser is given first; most packets are shorter."""

# Byte patterns of the first characters, in the order they must be tried (the marks of UTF-32 begin
# with those of UTF-16). Source: The Unicode Standard, byte order marks; XML 1.0 appendix F.
_ENCODINGS: Final = (
    (b"\x00\x00\xfe\xff", "utf-32-be"),
    (b"\xff\xfe\x00\x00", "utf-32-le"),
    (b"\xfe\xff", "utf-16-be"),
    (b"\xff\xfe", "utf-16-le"),
    (b"\x00\x00\x00<", "utf-32-be"),
    (b"<\x00\x00\x00", "utf-32-le"),
    (b"\x00<", "utf-16-be"),
    (b"<\x00", "utf-16-le"),
)
# What begins with plain letters is looked for ten times as fast as what begins with a border of words.
_POSITION: Final = re.compile(r"GPSL(?<=\bGPSL)(?:at|ong)itude\b")
_PLACE: Final = re.compile(
    r":(?:City|State|Country|CountryCode|Location|LocationCreated|LocationShown)\b"
)
_DECLARATION: Final = re.compile(r"<\?xml\s[^<>]{0,200}\?>")


_TOO_MANY: Final = "the XMP packet holds more elements than are read"


class XmpProperty(NamedTuple):
    """One simple value: the way to it as prefixed names, and its text.

    Arrays and their items leave no trace in the path: three creators are three properties with the
    path ("dc:creator",). A name of an unknown namespace is written "{namespace}name".
    """

    path: tuple[str, ...]
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Xmp:
    """The properties of one packet, as far as it could be read."""

    properties: tuple[XmpProperty, ...] = ()
    problems: tuple[str, ...] = ()
    names_gps: bool = False
    """A packet that could not be read to its end names a GPS position somewhere."""
    names_place: bool = False
    """Such a packet names another field of a place."""
    unread: bool = False
    """The packet is larger or deeper than is read."""

    def values(self, name: str) -> list[str]:
        """Return the texts of the top-level property ``name``, array items in order."""
        return [p.value for p in self.properties if p.path == (name,)]


class _StopError(Exception):
    """The packet holds something that is not read; the text says what."""

    def __init__(self, text: str, *, unread: bool = True) -> None:
        super().__init__(text)
        self.unread = unread


def read_xmp(packet: bytes, limits: Limits) -> Xmp:
    """Read one packet. Never raises; what was read before a fault is kept.

    At most ``limits.metadata_bytes`` bytes, ``limits.xmp_depth`` levels and 100,000 elements.
    """
    if len(packet) > limits.metadata_bytes:
        return Xmp(problems=("the XMP packet is larger than is read",), unread=True)
    text, problems = _text(packet)
    if not text:
        return Xmp(problems=(*problems, "the XMP packet is empty"))
    builder = _Builder(limits.xmp_depth)
    unread = False
    try:
        builder.parse(text)
        return Xmp(properties=tuple(builder.found), problems=tuple(problems))
    except _StopError as stop:
        problems.append(str(stop))
        unread = stop.unread
    except expat.ExpatError:
        problems.append("the XMP packet is not well-formed XML")
    return Xmp(
        properties=tuple(builder.found),
        problems=tuple(problems),
        names_gps=_POSITION.search(text) is not None,
        names_place=_PLACE.search(text) is not None,
        unread=unread,
    )


def _text(packet: bytes) -> tuple[str, list[str]]:
    # The packet's characters without padding, declaration or byte-order mark.
    start = packet.lstrip(b" \t\r\n")
    encoding = next((name for mark, name in _ENCODINGS if start.startswith(mark)), "utf-8")
    problems: list[str] = []
    try:
        text = packet.decode(encoding)
    except UnicodeDecodeError:
        text = packet.decode(encoding, "replace")
        problems.append("the XMP packet holds bytes that are no text")
    text = text.strip("\ufeff\0 \t\r\n")
    return _DECLARATION.sub("", text, count=1) if "<?xml" in text[:1000] else text, problems


def _parts(packet: bytes) -> Iterator[memoryview]:
    # expat goes on to the end of what it was given after a handler raised, so it is given parts; each as
    # long as all before it, since some versions scan a long token anew with every part (CVE-2023-52425).
    start, end = 0, _FIRST_PART
    with memoryview(packet) as view:
        while start < len(packet):
            yield view[start:end]
            start, end = end, 2 * end


def _name(expanded: str) -> tuple[str, str]:
    # Namespace and prefixed name of expat's "namespace name".
    namespace, _, local = expanded.rpartition(" ")
    prefix = PREFIXES.get(namespace)
    return namespace, f"{prefix}:{local}" if prefix else f"{{{namespace}}}{local}"


class _Builder:
    """Turns the parser's events into properties."""

    def __init__(self, depth: int) -> None:
        self.depth = depth
        self.budget = _ELEMENTS_READ
        self.found: list[XmpProperty] = []
        self.level = 0
        self.path: tuple[str, ...] = ()
        self.paths: list[tuple[str, ...]] = []
        self.text: list[str] = []

    def parse(self, text: str) -> None:
        if text.count("=") > _EQUALS_PARSED:
            raise _StopError(_TOO_MANY)
        parser = expat.ParserCreate(encoding="utf-8", namespace_separator=" ")
        parser.buffer_text = True
        parser.ordered_attributes = True
        parser.StartElementHandler = self.start
        parser.EndElementHandler = self.end
        parser.CharacterDataHandler = self.text.append
        parser.StartDoctypeDeclHandler = _doctype
        parser.EntityDeclHandler = _doctype
        for part in _parts(text.encode("utf-8", "replace")):
            parser.Parse(part)
        parser.Parse(b"", True)

    def start(self, name: str, attributes: list[str]) -> None:
        self.budget -= 1 + len(attributes) // 2
        self.level += 1
        if self.level > self.depth:
            raise _StopError("the XMP packet is nested deeper than is read")
        if self.budget < 0:
            raise _StopError(_TOO_MANY)
        self.text.clear()
        self.paths.append(self.path)
        namespace, prefixed = _name(name)
        if namespace not in _SYNTAX:
            self.path = (*self.path, prefixed)
        for key, value in zip(attributes[::2], attributes[1::2], strict=True):
            space, prefixed = _name(key)
            if space not in _SYNTAX:
                self.add((*self.path, prefixed), value)
            elif key == f"{_RDF} resource" and self.path:
                self.add(self.path, value)

    def end(self, name: str) -> None:  # noqa: ARG002 (expat's signature)
        if self.path:
            self.add(self.path, "".join(self.text))
        self.text.clear()
        self.level -= 1
        self.path = self.paths.pop()

    def add(self, path: tuple[str, ...], value: str) -> None:
        if value := value.strip():
            self.found.append(XmpProperty(path, value))


def _doctype(*_: object) -> None:
    raise _StopError("the XMP packet declares a document type, which is never read", unread=False)
