"""Properties a color difference must have."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pytest_webdeliverable.measure.ciede2000 import ciede2000, delta_e, lab

RGB = st.tuples(*[st.integers(0, 255)] * 3)
LAB = st.tuples(st.floats(0, 100), st.floats(-150, 150), st.floats(-150, 150))


@pytest.mark.parametrize("code", range(0, 256, 15))
def test_neutral_colors_have_no_chroma(code):
    lightness, a, b = lab((code, code, code))
    assert 0 <= lightness <= 100
    assert (a, b) == pytest.approx((0, 0), abs=1e-9)


def test_white_and_black_are_the_ends_of_lightness():
    assert lab((255, 255, 255)) == pytest.approx((100, 0, 0), abs=1e-9)
    assert lab((0, 0, 0)) == pytest.approx((0, 0, 0), abs=1e-9)
    assert delta_e((0, 0, 0), (255, 255, 255)) == pytest.approx(100, abs=1e-9)


@given(first=RGB, second=RGB)
def test_difference_is_symmetric_and_zero_only_for_the_same(first, second):
    forth, back = delta_e(first, second), delta_e(second, first)
    assert forth == pytest.approx(back, abs=1e-9)
    assert (forth == 0) == (first == second)


@given(first=LAB, second=LAB)
def test_any_lab_gives_a_finite_difference(first, second):
    assert 0 <= ciede2000(first, second) < 1000
