"""Further pictures within an AVIF: previews (thmb), pictures of their own, and what belongs to one.

ISO/IEC 23008-12: items of a file (6.2), thumbnails (6.4.3, reference "thmb" from the preview to its
picture), auxiliary pictures (6.4.4, "auxl"), derived ones (6.4.2, "dimg" to what they are made of).
"""

from __future__ import annotations

import io
import struct

import pytest
from header_files import FTYP, box, infe, saved
from PIL import Image

from pytest_webdeliverable.measure.content import content_facts
from pytest_webdeliverable.measure.headers import read_header
from tests.edges import drawn

PICTURE = drawn.draw("landscape", 3, (320, 240))
OTHER = drawn.draw("landscape", 8, (160, 120))


def coded(picture: Image.Image) -> tuple[list[bytes], bytes]:
    """Size, depths and coder of a picture that Pillow writes, and its data."""
    data = saved(picture, "AVIF", quality=90)
    kinds = (b"ispe", b"pixi", b"av1C", b"colr")
    starts = [data.index(kind) - 4 for kind in kinds]
    boxes = [data[at : at + int.from_bytes(data[at : at + 4], "big")] for at in starts]
    return boxes, data[data.index(b"mdat") + 4 :]


def avif(*pictures: Image.Image, references: tuple[tuple[bytes, int, int], ...] = (), more: bytes = b"",
         kind: bytes = b"av01") -> bytes:  # fmt: skip
    """Pictures as items 1, 2 ...; the first is the main one. ``references`` are kind, origin, target."""
    parts = [coded(picture) for picture in pictures]
    properties = [one for boxes, _ in parts for one in boxes]
    count, each = len(parts), len(parts[0][0])
    owned = b"".join(
        struct.pack(">HB", number + 1, each)
        + bytes(range(number * each + 1, (number + 1) * each + 1))
        for number in range(count)
    )
    infos = [infe(number, b"av01" if number == 1 else kind) for number in range(1, count + 1)]
    told = [
        box(name, struct.pack(">HHH", origin, 1, target)) for name, origin, target in references
    ]

    def meta(start: int) -> bytes:
        places = b""
        for number, (_, data) in enumerate(parts, 1):
            places += struct.pack(">HHHII", number, 0, 1, start, len(data))
            start += len(data)
        handler = box(b"hdlr", bytes(4), b"pict", bytes(13), full=0)
        return box(
            b"meta",
            handler,
            box(b"pitm", struct.pack(">H", 1), full=0),
            box(b"iloc", struct.pack(">HH", 0x4400, count), places, full=0),
            box(b"iinf", struct.pack(">H", count), *infos, more, full=0),
            box(
                b"iprp",
                box(b"ipco", *properties),
                box(b"ipma", struct.pack(">I", count), owned, full=0),
            ),
            box(b"iref", *told, full=0) if told else b"",
            full=0,
        )

    size = len(meta(0))
    return FTYP + meta(len(FTYP) + size + 8) + box(b"mdat", *(data for _, data in parts))


def previews(data: bytes) -> list[tuple[str, int, int, bool, str | None]]:
    facts = content_facts(data, ["previews"])
    assert "problem" not in facts
    return [
        (one["place"], one["width"], one["height"], one["same"], one["problem"])
        for one in facts["metadata"]["previews"]
    ]


def test_the_file_is_what_it_is_meant_to_be() -> None:
    with Image.open(io.BytesIO(avif(PICTURE, OTHER))) as opened:
        assert opened.size == (320, 240)
    assert previews(avif(PICTURE)) == []


@pytest.mark.parametrize(("shown", "same"), [(PICTURE.resize((160, 120)), True), (OTHER, False)])
def test_a_preview_is_compared_with_its_picture(shown: Image.Image, same: bool) -> None:
    data = avif(PICTURE, shown, references=((b"thmb", 2, 1),))
    assert previews(data) == [("file header", 160, 120, same, None)]
    assert read_header(data).frames == 1


def test_a_preview_coded_in_another_way_is_told() -> None:
    data = avif(PICTURE, OTHER, references=((b"thmb", 2, 1),), kind=b"hvc1")
    assert previews(data) == [("file header", 0, 0, False, "the preview cannot be opened")]


def test_a_second_picture_is_a_second_picture() -> None:
    assert read_header(avif(PICTURE)).frames == 1
    assert read_header(avif(PICTURE, OTHER)).frames == 2
    assert read_header(avif(PICTURE, OTHER, OTHER)).frames == 3


@pytest.mark.parametrize("reference", [(b"auxl", 2, 1), (b"dimg", 9, 2)])
def test_planes_and_parts_are_none(reference: tuple[bytes, int, int]) -> None:
    """A map of depth or gain, and what a picture with gain is put together of."""
    data = avif(PICTURE, OTHER, references=(reference,))
    assert (read_header(data).frames, previews(data)) == (1, [])


def test_previews_of_a_large_file_are_not_copied_with_it() -> None:
    """Each would be as large as the file: the coded data stands for it, and cannot be opened."""
    data = avif(PICTURE, OTHER, references=((b"thmb", 2, 1),)) + box(
        b"free", bytes(4 * 1024 * 1024)
    )
    (preview,) = read_header(data).previews
    assert preview == coded(OTHER)[1]
    assert previews(data) == [("file header", 0, 0, False, "the preview cannot be opened")]


def test_an_animation_beside_the_picture_is_one_more() -> None:
    """AVIF v1, 6 and 7: readers of pictures show the main item, those of sequences the track."""
    frames = [OTHER, OTHER.transpose(Image.Transpose.ROTATE_180), OTHER]
    moving = saved(frames[0], "AVIF", save_all=True, append_images=frames[1:])
    assert read_header(moving).frames == 3
    still = moving[:8] + b"avif" + moving[12:]
    with Image.open(io.BytesIO(still)) as opened:
        assert getattr(opened, "n_frames", 1) == 1
    assert read_header(still).frames == 2
