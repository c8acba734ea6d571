"""Which metadata tell where a picture was made, and which tell whose device made it.

Only that such an item is there goes into the facts, never its value: a report is published too.

Source: CIPA DC-008 (Exif 2.32 and 3.0) tag numbers, IPTC Photo Metadata Standard 2024.1, the
published XMP namespaces; the choices and their reasons stand in the package's docstring.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final, Literal, TypedDict

from pytest_webdeliverable.measure.metadata.directories import Rational, Value

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.metadata.directories import Directory
    from pytest_webdeliverable.measure.metadata.exif import Exif
    from pytest_webdeliverable.measure.metadata.iptc import Iptc
    from pytest_webdeliverable.measure.metadata.packets import Metadata
    from pytest_webdeliverable.measure.metadata.xmp import Xmp

Place = Literal["Exif", "XMP", "IPTC"]


class LocationFact(TypedDict):
    """One item that tells where; ``coordinates`` where it holds a latitude or longitude."""

    place: Place
    what: str
    coordinates: bool


class DeviceFact(TypedDict):
    """One item that identifies the camera, the computer or their owner."""

    place: Place
    what: str


_GPS_VERSION: Final = 0
_GPS_LATITUDE: Final = 2
_GPS_LONGITUDE: Final = 4
"""Tags of the GPS directory (CIPA DC-008, table of GPS attributes)."""

_MAP: Final = frozenset({33922, 34264})
"""Tags that lay the pixels on the earth (OGC GeoTIFF 1.1, 7.1.1: tie points, or a matrix)."""

_EXIF_DEVICE: Final = {
    0x013C: "name of the host computer",
    0xC62F: "camera serial number",  # DNG; number from memory, named so in Pillow's tag list
    0xA420: "unique id of the camera image",
    0xA430: "name of the camera owner",
    0xA431: "camera serial number",
    0xA435: "lens serial number",
    0x927C: "maker note, which may hold serial numbers",
}

_XMP_DEVICE: Final = {
    "tiff:HostComputer": "name of the host computer",
    "exif:ImageUniqueID": "unique id of the camera image",
    "exif:MakerNote": "maker note, which may hold serial numbers",
    "aux:OwnerName": "name of the camera owner",
    "exifEX:CameraOwnerName": "name of the camera owner",
    "aux:SerialNumber": "camera serial number",
    "exifEX:BodySerialNumber": "camera serial number",
    "aux:LensSerialNumber": "lens serial number",
    "exifEX:LensSerialNumber": "lens serial number",
}

_NAME: Final = 80
"""Characters at the end of a name that are looked at."""
_SERIAL: Final = re.compile(r"serial_?(?:number|no)$", re.IGNORECASE)
"""End of the names that makers give such numbers in namespaces of their own."""

_XMP_LOCATION: Final = {
    "Iptc4xmpExt:LocationCreated": "location where it was made",
    "Iptc4xmpExt:LocationShown": "location shown in it",
    "Iptc4xmpCore:Location": "sublocation",
    "Iptc4xmpCore:CountryCode": "country code",
    "photoshop:City": "city",
    "photoshop:State": "province or state",
    "photoshop:Country": "country",
    "{http://ns.adobe.com/xmp/1.0/DynamicMedia/}shotLocation": "location where it was made",
}
_POSITION: Final = re.compile(
    r"(?:latitude|longt?itude|\{http://www\.w3\.org/2003/01/geo/wgs84_pos#\}(?:lat|long))$",
    re.IGNORECASE,
)
"""Ends of the names of a position outside Exif's own namespace: a flying camera's (which misspells one),
Darwin Core's, those of W3C's Basic Geo vocabulary."""

_IPTC_LOCATION: Final = {
    (2, 26): "content location code",  # IIM 4, number from memory
    (2, 27): "content location name",  # IIM 4, number from memory
    (2, 90): "city",
    (2, 92): "sublocation",
    (2, 95): "province or state",
    (2, 100): "country code",
    (2, 101): "country",
}

_MORE: Final = "more entries than are read, so that place data may be among them"

_UNSET: Final = " \t\r\n\0"
"""Characters that writers fill an unset field with."""


def location_facts(metadata: Metadata) -> list[LocationFact]:
    """Every item that tells where, each kind once per place."""
    found = _locations(metadata)
    for part in metadata.more:
        for key, coordinates in _locations(part).items():
            found[key] = coordinates or found.get(key, False)
    if metadata.names_gps and not any(found.values()):
        found["XMP", "GPS position named outside the usual metadata"] = True
    if not found:  # what is known to be there says enough
        found = dict.fromkeys(_unread(metadata), False)
    return [
        LocationFact(place=place, what=what, coordinates=coordinates)
        for (place, what), coordinates in found.items()
    ]


def _unread(metadata: Metadata) -> list[tuple[Place, str]]:
    # Kinds of metadata of which there is more than is read: nobody can vouch for the rest.
    kinds: list[tuple[Place, str]] = []
    for part in (metadata, *metadata.more):
        if (part.exif and part.exif.unread) or part.unread:
            kinds.append(("Exif", _MORE))
        if any(xmp.unread for xmp in part.xmp):
            kinds.append(("XMP", _MORE))
        if part.iptc and part.iptc.unread:
            kinds.append(("IPTC", _MORE))
    return kinds


def _locations(metadata: Metadata) -> dict[tuple[Place, str], bool]:
    found: dict[tuple[Place, str], bool] = {}
    if metadata.exif and metadata.exif.gps is not None:
        what, coordinates = _gps(metadata.exif.gps)
        found["Exif", what] = coordinates
    if metadata.exif and not _MAP.isdisjoint({*metadata.exif.ifd0, *metadata.exif.more}):
        found["Exif", "position as on a map (GeoTIFF)"] = True
    for xmp in metadata.xmp:
        for what, coordinates in _xmp_location(xmp).items():
            found["XMP", what] = coordinates or found.get(("XMP", what), False)
    for what in _iptc_location(metadata.iptc) if metadata.iptc else ():
        found["IPTC", what] = False
    return found


def device_facts(metadata: Metadata) -> list[DeviceFact]:
    """Every item that identifies a device or its owner, each kind once per place."""
    found: dict[tuple[Place, str], None] = {}
    parts = (metadata, *metadata.more)
    for what in (what for part in parts if part.exif for what in _exif_device(part.exif)):
        found["Exif", what] = None
    for xmp in (xmp for part in parts for xmp in part.xmp):
        for path, value in xmp.properties:
            what = next((_XMP_DEVICE[name] for name in path if name in _XMP_DEVICE), "")
            if not what and _ends(_SERIAL, path[-1]):
                what = "serial number of a device"
            if what and _is_set(value):
                found["XMP", what] = None
    return [DeviceFact(place=place, what=what) for place, what in found]


def _gps(gps: Directory) -> tuple[str, bool]:
    # What the GPS directory holds, and whether that is a position.
    stated = [gps[tag] for tag in (_GPS_LATITUDE, _GPS_LONGITUDE) if tag in gps]
    if not gps:
        return "GPS directory, empty or unreadable", False
    if not stated and gps.keys() == {_GPS_VERSION}:
        return "GPS directory with only its version number", False
    if not stated:
        return "GPS directory without a position", False
    numbers = [number for value in stated for number in _numbers(value)]
    if not any(number.den for number in numbers):
        return "GPS directory whose position is no number (0/0)", False
    if not any(number.num for number in numbers):
        return "GPS directory with the position 0, 0", True
    return "GPS directory with a position", True


def _numbers(value: Value) -> list[Rational]:
    values = value if isinstance(value, tuple) and not isinstance(value, Rational) else (value,)
    return [
        number if isinstance(number, Rational) else Rational(number, 1)
        for number in values
        if isinstance(number, Rational | int)
    ]


def _ends(pattern: re.Pattern[str], name: str) -> bool:
    # A name may have a million characters, and stand at a hundred thousand values.
    return pattern.search(name[-_NAME:]) is not None


def _xmp_location(xmp: Xmp) -> dict[str, bool]:
    found: dict[str, bool] = {}
    for path, _ in xmp.properties:
        foreign = not path[-1].startswith("exif:") and _ends(_POSITION, path[-1])
        coordinates = foreign or path[-1] in {"exif:GPSLatitude", "exif:GPSLongitude"}
        # At any depth: a layout keeps the packet of each photograph that is placed in it.
        what = next((_XMP_LOCATION[name] for name in path if name in _XMP_LOCATION), None)
        if what is None and (foreign or any(name.startswith("exif:GPS") for name in path)):
            what = "GPS data"
        if what:
            found[what] = coordinates or found.get(what, False)
    if xmp.names_gps and not any(found.values()):
        # A damaged packet is still read by more forgiving programs.
        found["GPS position in a damaged packet"] = True
    if xmp.names_place and not found:
        found["place named in a damaged packet"] = False
    return found


def _iptc_location(iptc: Iptc) -> list[str]:
    return [what for key, what in _IPTC_LOCATION.items() if iptc.texts(*key)]


def _exif_device(exif: Exif) -> list[str]:
    directories = (exif.ifd0, exif.exif, exif.ifd1, exif.more)
    return [
        what
        for tag, what in _EXIF_DEVICE.items()
        if any(_is_set(directory.get(tag, "")) for directory in directories)
    ]


def _is_set(value: Value) -> bool:
    # Unset fields are filled with spaces or zero bytes; unset ids and serial numbers with "0".
    if isinstance(value, bytes):
        return bool(value.strip(b" \0"))
    if isinstance(value, str):
        return bool(value.strip(_UNSET + "0"))
    return bool(value)
