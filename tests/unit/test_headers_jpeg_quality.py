"""Quality read back from quantization tables given by hand."""

from __future__ import annotations

import pytest
from jpegs import assembled, tables_segment

from pytest_webdeliverable.measure.headers.jpeg import read
from pytest_webdeliverable.measure.headers.jpeg_quality import QualityFacts, read_quality, scaled
from pytest_webdeliverable.measure.headers.jpeg_tables import K1_LUMINANCE, K2_CHROMINANCE, ZIGZAG


def luma(quality: int, largest: int = 255) -> tuple[int, ...]:
    table = scaled(K1_LUMINANCE, quality, largest)
    return tuple(table[index] for index in ZIGZAG)


def chroma(quality: int) -> tuple[int, ...]:
    table = scaled(K2_CHROMINANCE, quality)
    return tuple(table[index] for index in ZIGZAG)


def told(*tables: tuple[int, ...]) -> QualityFacts:
    facts = read_quality(tables)
    assert facts is not None
    return facts


def test_gray_has_brightness_only() -> None:
    assert told(luma(81)) == {"value": 81.0, "exact": True, "luma": 81.0, "chroma": None}


def test_the_lower_of_two_exact_qualities_counts() -> None:
    facts = told(luma(92), chroma(75), chroma(75))
    assert facts == {"value": 75.0, "exact": True, "luma": 92.0, "chroma": 75.0}
    assert told(luma(60), chroma(90), chroma(80))["value"] == 60.0
    assert told(luma(95), chroma(90), chroma(80))["chroma"] == 80.0


def test_color_that_shares_the_brightness_table() -> None:
    assert told(luma(88), luma(88), luma(88)) == {
        "value": 88.0, "exact": True, "luma": 88.0, "chroma": 88.0
    }  # fmt: skip


def test_black_shares_the_first_table() -> None:
    assert told(luma(88), chroma(88), chroma(88), luma(88))["exact"]


@pytest.mark.parametrize("quality", [1, 2, 3])
def test_equal_chrominance_tables_follow_the_luminance(quality: int) -> None:
    assert told(luma(quality), chroma(quality), chroma(quality))["chroma"] == quality


def test_entries_beyond_a_byte() -> None:
    assert told(luma(5, largest=32767))["value"] == 5.0


def test_sixteen_bit_tables_are_read_from_the_file() -> None:
    tables = (luma(5, largest=32767), chroma(50))
    header = read(assembled(0xC1, factors=(0x11,) * 3, before=tables_segment(*tables, wide=True)))
    assert header.jpeg is not None
    assert header.jpeg["quality"] == {"value": 5.0, "exact": True, "luma": 5.0, "chroma": 50.0}


@pytest.mark.parametrize("quality", [30, 50, 75, 90, 96])
def test_tables_near_a_scaled_one_give_an_estimate_near_it(quality: int) -> None:
    near = (luma(quality)[0] + 1, *luma(quality)[1:])
    facts = told(near)
    assert not facts["exact"]
    assert abs(facts["value"] - quality) <= 1.0


def test_one_foreign_table_makes_the_whole_an_estimate() -> None:
    foreign = (chroma(80)[0] + 3, *chroma(80)[1:])
    facts = told(luma(90), foreign, foreign)
    assert not facts["exact"]
    assert facts["luma"] == 90.0
    assert facts["value"] == facts["chroma"]


@pytest.mark.parametrize(("entry", "value"), [(1, 99.1), (65535, 1.0)], ids=["finest", "coarsest"])
def test_estimates_stay_on_the_scale(entry: int, value: float) -> None:
    # 64 ones are exactly quality 100; one 2 among them is no scaled table.
    table = (2 if entry == 1 else entry, *[entry] * 63)
    facts = told(table)
    assert facts["value"] == pytest.approx(value, abs=0.1)
    assert not facts["exact"]


@pytest.mark.parametrize("tables", [(), ((),), ((0,) * 64,), (tuple(range(1, 65)), (1, 2))])
def test_no_usable_table_no_quality(tables: tuple[tuple[int, ...], ...]) -> None:
    assert read_quality(tables) is None
