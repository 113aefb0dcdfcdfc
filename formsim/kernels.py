"""How numerical kernels are compiled: cached on disk, without division checks."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from numba import njit

Kernel = TypeVar("Kernel", bound=Callable[..., object])

FAST = {"contract", "reassoc", "nsz", "arcp"}
"""Liberties of the compiler: no rounding order is promised, infinities and NaN are kept."""


def kernel(function: Kernel) -> Kernel:
    """Compile a function when first called, and keep the machine code for later runs."""
    compiled: Kernel = njit(cache=True, fastmath=FAST, error_model="numpy")(function)
    return compiled
