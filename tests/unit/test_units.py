"""Numbers with units: conversion factors, plain texts and the advice of a refusal."""

import math

import pytest
from pydantic_core import PydanticCustomError

from formsim.case.base import DIAMETER, FORCE, FRICTION, THICKNESS
from formsim.case.card import DENSITY, POISSON, STRESS, YOUNG
from formsim.case.quantity import Count, Quantity, neat
from formsim.case.stage import STROKE
from formsim.case.units import UNITS, base_unit, dimension_of, fitting_units, split_text, to_base


# NIST SP 811 (2008), appendix B.8: inch and pound-force exact by definition, psi to 7 digits.
@pytest.mark.parametrize(
    ("value", "unit", "dimension", "expected"),
    [
        (1.0, "in", "length", 25.4),
        (1.0, "lbf", "force", 4.4482216152605),
        (1.0, "psi", "stress", 6.894757e-3),
        (90.0, "psi", "stress", 0.62052813),
        (1.0, "bar", "stress", 0.1),
        (1.0, "GPa", "stress", 1000.0),
        (2.7, "g/cm3", "density", 2700.0),
        (0.0975, "lb/in3", "density", 2698.790722),
        (180.0, "deg", "angle", 180.0),
        (math.pi, "rad", "angle", 180.0),
        (20.0, "ms", "time", 0.02),
        (10.0, "per cent", "ratio", 0.1),
        (10.0, "per cent", "percent", 10.0),
    ],
)
def test_conversion(value, unit, dimension, expected):
    assert to_base(value, unit, dimension) == pytest.approx(expected, rel=2e-7)


def test_first_unit_is_the_base():
    assert all(table[base_unit(name)] == 1.0 for name, table in UNITS.items())


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("5 kN", (5.0, "kN")),
        ("5kN", (5.0, "kN")),
        (" 0.011 in ", (0.011, "in")),
        ("-3e-2 mm", (-0.03, "mm")),
        (".5 mm", (0.5, "mm")),
        ("1e3", (1000.0, "")),
    ],
)
def test_split_text(text, expected):
    assert split_text(text) == expected


@pytest.mark.parametrize("text", ["", "mm", "five kN", "nan mm", "inf", "kN 5"])
def test_split_text_refuses(text):
    with pytest.raises(ValueError, match="begin with a number"):
        split_text(text)


def test_decimal_comma_is_explained():
    with pytest.raises(ValueError, match="decimal point"):
        split_text("0,28 mm")


def test_dimension_of():
    assert dimension_of("kN") == "force"
    assert dimension_of("furlong") is None


@pytest.mark.parametrize(
    ("quantity", "raw", "expected"),
    [
        (FORCE, "5 kN", 5000.0),
        (THICKNESS, "0.011 in", 0.2794),
        (THICKNESS, 1, 1.0),
        (FRICTION, "10 %", 0.1),
        (YOUNG, "69 GPa", 69000.0),
    ],
)
def test_read(quantity, raw, expected):
    assert quantity.read(raw) == pytest.approx(expected)
    assert isinstance(quantity.read(raw), float)


@pytest.mark.parametrize(
    ("quantity", "raw", "words"),
    [
        (THICKNESS, 0.00028, '"0.00028 m"'),
        (THICKNESS, 0.011, '"0.011 in"'),
        (DIAMETER, 0.118, '"0.118 m"'),
        (YOUNG, 69, '"69 GPa"'),
        (YOUNG, 69e9, '"6.9e+10 Pa"'),
        (YOUNG, 1.0e7, '"1e+07 psi"'),
        (STRESS, 4.05e8, '"4.05e+08 Pa"'),
        (DENSITY, 2.72, '"2.72 g/cm3"'),
        (DENSITY, 2.72e-9, '"2.72e-09 t/mm3"'),
        (FORCE, 5, '"5 kN"'),
        (FRICTION, 8, '"8 %"'),
        (THICKNESS, "0.00028 mm", '"0.00028 m"'),
    ],
)
def test_advice_names_the_likely_unit(quantity, raw, words):
    with pytest.raises(PydanticCustomError) as caught:
        quantity.read(raw)
    text = caught.value.message()
    assert words in text
    assert quantity.unit in text


@pytest.mark.parametrize(
    ("quantity", "raw", "words"),
    [
        (THICKNESS, -0.28, "negative"),
        (THICKNESS, 0, "from 0.02 to 20 mm"),
        (THICKNESS, math.nan, "finite"),
        (THICKNESS, -math.inf, "finite"),
        (THICKNESS, 10**400, "finite"),
        (THICKNESS, True, "not a number"),
        (THICKNESS, None, "not a number"),
        (THICKNESS, [0.28], "not a number"),
        (THICKNESS, "0.28", "drop the quotes"),
        (THICKNESS, "3 kN", "kN is a unit of force"),
        (THICKNESS, "3 furlong", "not a unit known here"),
        (POISSON, 0.5, "0 to 0.495"),
        (POISSON, "3 mm", "plain number"),
    ],
)
def test_refusals_read_well(quantity, raw, words):
    with pytest.raises(PydanticCustomError) as caught:
        quantity.read(raw)
    assert words in caught.value.message()


def test_a_word_may_stand_for_the_number():
    assert STROKE.read("through") == "through"
    assert STROKE.read("3 cm") == 30.0
    with pytest.raises(PydanticCustomError, match="through"):
        STROKE.read("all")


def test_count():
    layers = Count("a number of layers", 1, 12)
    assert layers.read(2) == 2
    for wrong in (0, 13, 2.0, True, "2"):
        with pytest.raises(PydanticCustomError, match="from 1 to 12"):
            layers.read(wrong)


def test_fitting_units_has_none_for_hopeless_values():
    assert fitting_units(0.0, "length", 0.02, 20.0) == []
    assert fitting_units(0.011, "length", 0.02, 20.0) == ["m", "in", "cm"]


def test_open_band_and_large_numbers_are_readable():
    assert Quantity("a number", "length", -math.inf, math.inf).expected == "expected a number in mm"
    assert neat(1.0e6) == "1 000 000"
    assert neat(0.02) == "0.02"
