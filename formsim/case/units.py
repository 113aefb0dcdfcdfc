"""Units a case file may name, and their conversion to the units formsim computes in."""

from __future__ import annotations

import math
import re
from types import MappingProxyType

_TABLES: dict[str, dict[str, float]] = {
    "length": {
        "mm": 1.0,
        "m": 1000.0,
        "in": 25.4,
        "cm": 10.0,
        "um": 0.001,
        "µm": 0.001,
        "inch": 25.4,
    },
    "force": {"N": 1.0, "kN": 1000.0, "MN": 1.0e6, "lbf": 4.4482216152605, "kgf": 9.80665},
    "stress": {
        "MPa": 1.0,
        "GPa": 1000.0,
        "Pa": 1.0e-6,
        "psi": 6.894757293168e-3,
        "ksi": 6.894757293168,
        "kPa": 1.0e-3,
        "bar": 0.1,
        "N/mm2": 1.0,
    },
    "density": {
        "kg/m3": 1.0,
        "g/cm3": 1000.0,
        "kg/dm3": 1000.0,
        "t/mm3": 1.0e12,
        "lb/in3": 27679.904710203,
    },
    "heat capacity": {"J/(kg K)": 1.0, "kJ/(kg K)": 1000.0, "J/(g K)": 1000.0},
    "time": {"s": 1.0, "ms": 0.001, "min": 60.0},
    "temperature": {"degC": 1.0},
    "angle": {"deg": 1.0, "rad": 180.0 / math.pi},
    "molar energy": {"kJ/mol": 1.0, "J/mol": 0.001},
    "rate": {"/s": 1.0},
    "stroke rate": {"/min": 1.0},
    "speed": {
        "mm/s": 1.0,
        "m/s": 1000.0,
        "mm/min": 1.0 / 60.0,
        "m/min": 1000.0 / 60.0,
        "in/s": 25.4,
    },
    "share per degree": {"/K": 1.0, "%/K": 0.01},
    "work": {"J": 1.0, "kJ": 1000.0},
    "mass": {"g": 1.0, "kg": 1000.0},
    "ratio": {"": 1.0, "%": 0.01, "per cent": 0.01},
    "percent": {"%": 1.0, "per cent": 1.0},
}

UNITS = MappingProxyType({name: MappingProxyType(table) for name, table in _TABLES.items()})
"""Dimension -> unit -> factor to the base unit; the first unit of each dimension is the base."""

_NUMBER = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*")
_DECIMAL_COMMA = re.compile(r"\s*[+-]?\d+,\d+\b.*")

_ALIASES = {"n/mm²": "N/mm2", "n/mm^2": "N/mm2", "n/mm2": "N/mm2", "μm": "um", "percent": "%"} | {
    "-": "",
    "1": "",
    "mm/mm": "",
    "m/m": "",
    "[-]": "",
    "kn": "kN",
    "mpa": "MPa",
    "gpa": "GPa",
    "°c": "degC",
}


def base_unit(dimension: str) -> str:
    """Unit that plain numbers of this dimension are read in; empty for a ratio."""
    return next(iter(UNITS[dimension]))


def dimension_of(unit: str) -> str | None:
    """Dimension a unit belongs to, or None when the unit is not known."""
    return next((name for name, table in UNITS.items() if unit and unit in table), None)


def unit_list(dimension: str) -> str:
    """Known units of a dimension as a phrase, such as ``mm, m, in``."""
    return ", ".join(unit for unit in UNITS[dimension] if unit)


def known_unit(text: str) -> str | None:
    """Unit of a text as ``UNITS`` writes it, "" for a fraction; None for no unit."""
    bare = text.strip()
    if bare in {unit for table in UNITS.values() for unit in table if unit}:
        return bare
    return _ALIASES.get(bare.casefold())


def split_text(text: str) -> tuple[float, str]:
    """Split a text such as ``"5 kN"`` into its number and its unit (empty when none).

    Raises
    ------
    ValueError : when the text does not begin with a number; the message says what to write
    """
    found = _NUMBER.fullmatch(text)
    if _DECIMAL_COMMA.fullmatch(text):
        point = text.strip().replace(",", ".", 1)
        message = f'write the number with a decimal point, not a comma: "{point}"'
        raise ValueError(message)
    if found is None:
        message = "this text does not begin with a number"
        raise ValueError(message)
    return float(found[1]), found[2]


def to_base(value: float, unit: str, dimension: str) -> float:
    """Convert a value to the base unit of its dimension.

    Raises
    ------
    ValueError : for an unknown unit or one of another dimension; the message lists the right ones
    """
    factor = UNITS[dimension].get(unit)
    if factor is not None:
        return value * factor
    if not unit:
        message = f"name the unit in the text, or drop the quotes to mean {base_unit(dimension)}"
        raise ValueError(message)
    other = dimension_of(unit)
    known = unit_list(dimension)
    if other is None:
        message = f'"{unit}" is not a unit known here; use one of {known}'
    else:
        message = f"{unit} is a unit of {other}, not of {dimension}; use one of {known}"
    if other is not None and dimension in ("ratio", "percent"):
        message = f"{unit} is a unit of {other}; write a plain number or per cent"
    raise ValueError(message)


def fitting_units(value: float, dimension: str, low: float, high: float) -> list[str]:
    """Other units in which a bare number would lie in the range low to high, likeliest first."""
    factors: dict[float, str] = {}
    for unit, factor in UNITS[dimension].items():
        if factor != 1.0 and low <= value * factor <= high:
            factors.setdefault(factor, unit)
    return list(factors.values())
