"""How numerical kernels are compiled: cached on disk, without division checks."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from numba import config, njit

Kernel = TypeVar("Kernel", bound=Callable[..., object])

FAST = {"contract", "reassoc", "nsz", "arcp"}
"""Liberties of the compiler: no rounding order is promised, infinities and NaN are kept."""


HOMES = "UserWideCacheLocator,InTreeCacheLocator"
"""Where machine code is kept: the user's cache folder first. Beside the sources it would outlive an
uninstalled package, and that remnant would hide the next one."""

if not getattr(config, "CACHE_LOCATOR_CLASSES", HOMES):
    config.CACHE_LOCATOR_CLASSES = HOMES


def kernel(function: Kernel) -> Kernel:
    """Compile a function when first called, and keep the machine code for later runs.

    Where neither the package nor the home folder can be written, nothing is kept.
    """
    return _compiled(function, inline=False)


def inlined(function: Kernel) -> Kernel:
    """Compile a function into every kernel that calls it: loops with calls are no vector code."""
    return _compiled(function, inline=True)


def _compiled(function: Kernel, *, inline: bool) -> Kernel:
    options = {"fastmath": FAST, "error_model": "numpy", "forceinline": inline}
    compiled: Kernel
    try:
        compiled = njit(cache=True, **options)(function)
    except RuntimeError:
        compiled = njit(**options)(function)
    return compiled


def kept_kernel(compiled: Any) -> bool:
    """Whether an earlier run left machine code of this kernel in the cache."""
    if compiled.stats.cache_path is None:
        return False
    function = compiled.py_func
    pattern = f"{Path(function.__code__.co_filename).stem}.{function.__qualname__}-*.nbi"
    return any(Path(compiled.stats.cache_path).glob(pattern))
