"""Which traces of the past are looked for in which format, and what hides them all."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from pytest_webdeliverable.measure import history

NOISE = Image.fromarray(np.random.default_rng(1).integers(0, 256, (256, 256)).astype(np.uint8))
NOTHING = {"found": False}


@pytest.mark.parametrize(
    ("form", "quality", "again", "blocks"),
    [
        ("jpeg", 90.4, True, "own"),
        ("jpeg", None, False, "own"),
        ("png", None, False, "none"),
        ("png", 90, False, "none"),
        ("gif", None, False, "none"),
        ("tiff", None, False, "none"),
        ("bmp", None, False, "other"),
    ],
)
def test_what_is_looked_for_in_which_format(monkeypatch, form, quality, again, blocks):
    seen = {}
    monkeypatch.setattr(history._resaved, "resaved", lambda *given: seen.update(again=given[3]) or NOTHING)  # fmt: skip
    monkeypatch.setattr(history._cropped, "cropped", lambda *_: NOTHING)
    monkeypatch.setattr(history._enlarged, "enlarged", lambda _, **keys: seen.update(keys) or NOTHING)  # fmt: skip
    facts = history.history_facts(NOISE, format=form, quality=quality)
    assert seen["blocks"] == blocks
    assert seen["quality"] == (None if quality is None else round(quality))
    assert ("again" in seen) is again
    if again:
        assert seen["again"] == quality
    else:
        assert "only a JPEG of known quality" in facts["resaved"]["undecided"]


@pytest.mark.parametrize("form", ["webp", "avif"])
def test_formats_whose_coding_has_rhythms_of_its_own(monkeypatch, form):
    monkeypatch.setattr(history._cropped, "cropped", lambda *_: {"found": True})
    monkeypatch.setattr(history._enlarged, "art_repeats", lambda _: False)
    facts = history.history_facts(NOISE, format=form, quality=None)
    assert "own coding" in facts["enlarged"]["undecided"]
    assert facts["cropped"] == {"found": True}


@pytest.mark.parametrize("part", ["resaved", "cropped", "enlarged", None])
@pytest.mark.parametrize("repeats", [False, True])
def test_art_that_repeats_hides_the_past_where_anything_is_found(monkeypatch, part, repeats):
    """An earlier block grid also makes rhythms like enlarging: blocks are of another place then."""
    blocks = []
    tell = lambda name: {"found": part == name}  # noqa: E731
    monkeypatch.setattr(history._resaved, "resaved", lambda *_: tell("resaved"))
    monkeypatch.setattr(history._cropped, "cropped", lambda *_: tell("cropped"))
    monkeypatch.setattr(history._enlarged, "enlarged", lambda _, **keys: blocks.append(keys["blocks"]) or tell("enlarged"))  # fmt: skip
    monkeypatch.setattr(history._enlarged, "art_repeats", lambda _: repeats)
    facts = history.history_facts(NOISE, format="jpeg", quality=90)
    assert blocks == ["other" if part in {"resaved", "cropped"} else "own"]
    for name in ("resaved", "cropped", "enlarged"):
        if part and repeats:
            assert "repeats every few pixels" in facts[name]["undecided"]
        else:
            assert facts[name] == tell(name)
