"""What decoding proves of the picture data: enough of it, and not too much."""

from __future__ import annotations

import io
from typing import Any

import pytest
from jpegs import cut_and_closed, data_span, noise, saved
from PIL import Image

from pytest_webdeliverable.measure.headers.jpeg_scan import PictureFeed

KINDS: list[dict[str, Any]] = [
    {},
    {"optimize": True},
    {"subsampling": 0, "quality": 95},
    {"subsampling": 2, "quality": 30},
    {"progressive": True},
    {"restart_marker_rows": 1},
    {"restart_marker_blocks": 3, "optimize": True},
]


def loaded(data: bytes) -> tuple[PictureFeed, Image.Image]:
    feed = PictureFeed(data)
    picture = Image.open(feed, formats=["JPEG"])
    picture.load()
    return feed, picture


def problem(data: bytes) -> str | None:
    feed, picture = loaded(data)
    return feed.problem(picture)


@pytest.mark.parametrize("options", KINDS, ids=str)
@pytest.mark.parametrize("mode", ["L", "RGB", "CMYK"])
@pytest.mark.parametrize("size", [(1, 1), (8, 8), (17, 33), (160, 120)], ids=str)
def test_sound_pictures_come_through_unchanged(
    options: dict[str, Any], mode: str, size: tuple[int, int]
) -> None:
    data = saved(noise(mode, size), **options)
    feed, picture = loaded(data)
    assert feed.problem(picture) is None
    with Image.open(io.BytesIO(data)) as usual:
        assert picture.tobytes() == usual.tobytes()


@pytest.mark.parametrize("options", KINDS, ids=str)
@pytest.mark.parametrize("color", ["white", "black", (128, 128, 128), (127, 127, 127), "red"])
def test_flat_foot_is_no_missing_tail(options: dict[str, Any], color: Any) -> None:
    picture = noise("RGB", (160, 120))
    picture.paste(color, (0, 40, 160, 120))
    assert problem(saved(picture, **options)) is None
    assert problem(saved(Image.new("RGB", (160, 120), color), **options)) is None


@pytest.mark.parametrize("options", KINDS, ids=str)
@pytest.mark.parametrize("fraction", [0.1, 0.3, 0.5, 0.7, 0.9])
@pytest.mark.parametrize("mode", ["L", "RGB"])
def test_data_cut_short_and_closed_is_found(
    options: dict[str, Any], fraction: float, mode: str
) -> None:
    data = cut_and_closed(saved(noise(mode), **options), fraction)
    feed, picture = loaded(data)
    missing = feed.missing_tail(picture)
    assert missing is not None
    assert 0 < missing <= 1


@pytest.mark.parametrize("rows", [1, 2, 5, 10])
def test_missing_fraction_of_evenly_coded_rows(rows: int) -> None:
    # Noise of one strength costs about the same in every row, so a cut at half leaves half.
    data = saved(Image.effect_noise((160, 160), 90), quality=90)
    feed, picture = loaded(cut_and_closed(data, 1 - rows / 20))
    missing = feed.missing_tail(picture)
    assert missing is not None
    assert missing == pytest.approx(rows / 20, abs=0.06)


def test_the_sentence_gives_the_missing_part() -> None:
    data = saved(Image.effect_noise((160, 160), 90), quality=90)
    text = problem(cut_and_closed(data, 0.5))
    assert text is not None
    assert text.startswith("the picture data stops early: the last ")
    assert text.endswith("% of the picture's height are filled up by the decoder")


def test_stretch_cut_out_of_the_middle_is_missing_at_the_end() -> None:
    data = saved(noise())
    start, end = data_span(data)
    middle = (start + end) // 2
    assert problem(data[:middle] + data[middle + 300 :]) is not None


def test_foreign_stretch_in_the_middle_leaves_data_over() -> None:
    data = saved(noise())
    start, end = data_span(data)
    middle = (start + end) // 2
    text = problem(data[:middle] + data[start : start + 500] + data[middle:])
    assert text is not None
    assert "left over" in text


def test_padding_to_a_word_is_forgiven() -> None:
    data = saved(noise())
    for count in range(4):
        assert problem(data[:-2] + bytes(count) + data[-2:]) is None


def test_fill_before_the_end_marker_is_no_picture_data() -> None:
    data = saved(noise())
    assert problem(data[:-2] + b"\xff" * 50 + data[-2:]) is None


def test_first_of_several_pictures() -> None:
    buffer = io.BytesIO()
    noise().save(buffer, "MPO", save_all=True, append_images=[noise().rotate(90)])
    assert problem(buffer.getvalue()) is None


def test_decoder_that_trips_over_the_spare_bytes_proves_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    feed, picture = loaded(cut_and_closed(saved(noise(), progressive=True), 0.5))

    def trips(*_: object, **__: object) -> Image.Image:
        raise OSError("broken data stream")

    monkeypatch.setattr(Image, "open", trips)
    assert feed.missing_tail(picture) is None


def test_scans_cut_short_before_the_last_are_found() -> None:
    data = saved(noise(), progressive=True)
    scans = [at for at in range(len(data)) if data.startswith(b"\xff\xda", at)]
    end = data.index(b"\xff\xc4", scans[3])
    feed, picture = loaded(data[: end - 200] + data[end:])
    assert feed.missing_tail(picture) is not None


def test_data_missing_between_restart_markers_is_found() -> None:
    data = saved(noise(), restart_marker_rows=1, quality=90)
    marker = data.index(b"\xff\xd2")
    text = problem(data[: marker - 200].rstrip(b"\xff") + data[marker:])
    assert text == "part of the picture data is missing, and the decoder filled up its place"
