"""Any number in any unit comes back the same, and refusals never crash."""

import math

import hypothesis.strategies as st
import pytest
from hypothesis import given
from pydantic_core import PydanticCustomError

from formsim.case.base import THICKNESS
from formsim.case.quantity import Quantity
from formsim.case.units import UNITS, split_text, to_base

PAIRS = [(name, unit) for name, table in UNITS.items() for unit in table if unit]


@given(st.sampled_from(PAIRS), st.floats(1e-6, 1e6))
def test_text_with_unit_reads_as_the_converted_number(pair, value):
    dimension, unit = pair
    open_band = Quantity("a value", dimension, -math.inf, math.inf)
    expected = to_base(value, unit, dimension)
    assert open_band.read(f"{value!r} {unit}") == pytest.approx(expected, rel=1e-15)


@given(st.sampled_from(PAIRS), st.floats(-1e12, 1e12), st.sampled_from(["", " ", "  "]))
def test_split_text_round_trip(pair, value, space):
    _, unit = pair
    assert split_text(f"{value!r}{space}{unit}") == (value, unit)


@given(
    st.one_of(
        st.text(max_size=30),
        st.floats(),
        st.integers(),
        st.booleans(),
        st.none(),
        st.lists(st.floats(), max_size=3),
    )
)
def test_reading_gives_a_value_in_the_band_or_a_readable_refusal(raw):
    try:
        value = THICKNESS.read(raw)
    except PydanticCustomError as error:
        assert error.message().startswith("expected a thickness from 0.02 to 20 mm")
    else:
        assert isinstance(value, float)
        assert THICKNESS.low <= value <= THICKNESS.high
