"""The contract's wording of what pixel-size accepts, case by case."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pytest_webdeliverable.fit import expected_size, size_to_export
from pytest_webdeliverable.manifest.model import Spec
from pytest_webdeliverable.manifest.quantities import parse_trim


@pytest.mark.parametrize(
    ("size", "accepted"),
    [
        ((1600, 1200), True),
        ((1600, 700), True),
        ((1601, 700), True),
        ((1602, 700), False),
        ((900, 1200), True),
        ((900, 1201), True),
        ((900, 1202), False),
        ((1599, 1199), False),
        ((1200, 1600), False),
        ((1601, 1201), True),
        ((1, 1200), True),
    ],
)
def test_touch_without_trim(size: tuple[int, int], accepted: bool) -> None:
    expected = expected_size(Spec(box=(1600, 1200)), None)
    assert expected is not None
    assert expected.accepts(*size) is accepted


def test_the_contracts_example() -> None:
    expected = expected_size(Spec(box=(1600, 1200)), parse_trim("11 x 17 in"))
    assert expected is not None
    assert expected.as_json() == {"width": [776, 778], "height": [1200, 1201]}


@pytest.mark.parametrize(
    ("overshoot", "size", "accepted"),
    [
        (0, (1601, 900), False),
        (0, (1600, 900), True),
        (5, (1605, 900), True),
        (5, (1606, 900), False),
    ],
)
def test_overshoot(overshoot: int, size: tuple[int, int], accepted: bool) -> None:
    expected = expected_size(Spec(box=(1600, 1200), overshoot=overshoot), None)
    assert expected is not None
    assert expected.accepts(*size) is accepted


@pytest.mark.parametrize(
    ("trim", "size", "accepted"),
    [
        (None, (400, 300), True),
        (None, (10, 10), True),
        (None, (402, 300), False),
        ("3 x 4 in", (225, 300), True),
        ("3 x 4 in", (150, 200), True),
        ("3 x 4 in", (151, 200), True),
        ("3 x 4 in", (160, 200), False),
        ("3 x 4 in", (200, 150), False),
    ],
)
def test_within(trim: str | None, size: tuple[int, int], accepted: bool) -> None:
    spec = Spec(box=(400, 300), fill="within")
    expected = expected_size(spec, parse_trim(trim) if trim else None)
    assert expected is not None
    assert expected.accepts(*size) is accepted


@pytest.mark.parametrize(
    ("size", "accepted"), [((1200, 630), True), ((1201, 630), False), ((1200, 629), False)]
)
def test_exact_means_exact(size: tuple[int, int], accepted: bool) -> None:
    expected = expected_size(Spec(box=(1200, 630), fill="exact"), parse_trim("3 x 4 in"))
    assert expected is not None
    assert expected.accepts(*size) is accepted


def test_no_box_expects_nothing() -> None:
    assert expected_size(Spec(), None) is None


SIDE = st.integers(1, 5000)


@given(
    st.tuples(SIDE, SIDE),
    st.sampled_from(["touch", "within", "exact"]),
    st.sampled_from([None, "A3", "A3 landscape", "11 x 17 in", "1 x 30 cm", "30 x 1 cm"]),
    st.tuples(SIDE, SIDE),
)
def test_the_size_to_export_is_one_that_is_accepted(
    box: tuple[int, int], fill: str, trim: str | None, size: tuple[int, int]
) -> None:
    spec = Spec(box=box, fill=fill)  # type: ignore[arg-type]
    finished = parse_trim(trim) if trim else None
    expected = expected_size(spec, finished)
    assert expected is not None
    assert expected.accepts(*size_to_export(spec, finished, Fraction(*size)))


def test_the_size_to_export_fills_the_box() -> None:
    spec = Spec(box=(800, 600))
    assert size_to_export(spec, None, Fraction(840, 630)) == (800, 600)
    assert size_to_export(spec, None, Fraction(800, 1067)) == (450, 600)
    assert size_to_export(spec, parse_trim("A3 landscape"), Fraction(1)) == (800, 566)
