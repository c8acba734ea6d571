"""Metadata of one file: private items, credit and embedded previews.

What counts, and why. Numbers and names: CIPA DC-008 (Exif 2.32 and 3.0), IPTC Photo Metadata
Standard 2024.1 (TechReference of 2024-12-11), the published XMP namespaces.

=========================================  ========  ==============================================
item                                       counts    reason
=========================================  ========  ==============================================
GPS directory of Exif, whatever it holds   location  a published copy has no use for one; even an
                                                     empty one shows that nobody removed it
GeoTIFF tie points or matrix (33922,       location  where each pixel lies on the earth
34264)
exif:GPS... in XMP, at any depth           location  the same data, carried over by editors, also
                                                     from a photograph placed in a layout
positions of other vocabularies in XMP,    location  the same data under another name
xmpDM:shotLocation
Iptc4xmpExt:LocationCreated, LocationShown location  where the maker stood, what is in the picture
Iptc4xmpCore:Location, CountryCode,        location  the IPTC standard's older fields for the same;
photoshop:City, State, Country, at any               text, so ``coordinates`` is false
depth;
IIM 2:26, 2:27, 2:90, 2:92, 2:95, 2:100,
2:101
Iptc4xmpCore:CreatorContactInfo            no        an address the maker gives to be reached; it
                                                     is credit
serial numbers (0xA431, 0xA435, 0xC62F;    device    tie all pictures of one camera or lens together
exifEX:, aux: in XMP)                                and to a receipt
camera owner (0xA430), host computer       device    names of people and machines, written without
(0x013C)                                             being asked
ImageUniqueID (0xA420)                     device    the camera's own number for the shot
maker note (0x927C)                        device    its layout is the maker's own; many hold serial
                                                     numbers and cannot be told apart from those
                                                     that do not
xmpMM: document and instance ids,          no        written by editors into every export, about the
Iptc4xmpExt:DigImageGUID                             document, not about a device or person
Make, Model, lens model, Software          no        shared by thousands
Artist, Photographer, XPAuthor, dc:creator credit    published on purpose
=========================================  ========  ==============================================

Fields filled with spaces, zero bytes or zeros are unset and do not count.

The whole file, but for the coded data of a JPEG, is searched for the marks of Exif, XMP and IPTC, so that
a block outside its usual place counts as well (``elsewhere``); where there is more than is read, location
counts as found.

Not seen: previews that are not announced in any directory; place data within a maker note, a compressed
text of another kind, an encrypted part, XMP in UTF-16 outside its usual place, and the boxes of films.
File paths in an editor's history may name a user; they are not judged.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NotRequired, TypedDict

from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.measure.metadata.credit import CreditFacts, credit_facts
from pytest_webdeliverable.measure.metadata.packets import Metadata, read_metadata
from pytest_webdeliverable.measure.metadata.previews import (
    PreviewFact,
    preview_facts,
    preview_images,
)
from pytest_webdeliverable.measure.metadata.privacy import (
    DeviceFact,
    LocationFact,
    device_facts,
    location_facts,
)

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.headers.base import Density, Header
    from pytest_webdeliverable.measure.limits import Limits
    from pytest_webdeliverable.measure.metadata.exif import Exif

__all__ = [
    "CreditFacts",
    "DeviceFact",
    "LocationFact",
    "Metadata",
    "MetadataFacts",
    "PreviewFact",
    "all_densities",
    "metadata_facts",
    "preview_facts",
    "preview_images",
    "read_metadata",
]

_ALT_TEXT = "Iptc4xmpCore:AltTextAccessibility"


class MetadataFacts(TypedDict):
    """What the privacy and credit rules judge. Values of private items are left out on purpose.

    ``previews`` is there once the picture has been decoded and compared with them.
    """

    location: list[LocationFact]
    device: list[DeviceFact]
    credit: CreditFacts
    orientation: int | None
    alt_text: str | None
    problems: list[str]
    previews: NotRequired[list[PreviewFact]]


def metadata_facts(
    header: Header, limits: Limits, metadata: Metadata | None = None
) -> MetadataFacts:
    """Judge-ready facts of the header's metadata. Never raises.

    Pass what ``read_metadata`` returned where it has been called already.
    """
    if metadata is None:
        metadata = read_metadata(header, limits)
    alt = [text for xmp in metadata.xmp for text in xmp.values(_ALT_TEXT)]
    return MetadataFacts(
        location=location_facts(metadata),
        device=device_facts(metadata),
        credit=credit_facts(metadata),
        orientation=metadata.exif.orientation if metadata.exif else None,
        alt_text=display_name(alt[0]) if alt else None,
        problems=metadata.problems,
    )


def all_densities(header: Header, exif: Exif | None) -> list[Density]:
    """Densities of the container followed by that of Exif, for a rule that compares them.

    The first directory of a TIFF file is the container's own and is not counted twice.
    """
    found = list(header.densities)
    if exif and exif.density and header.format != "tiff":
        found.append(exif.density)
    return found
