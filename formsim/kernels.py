"""How numerical kernels are compiled: cached on disk, without division checks."""

from __future__ import annotations

import contextlib
import os
import shutil
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from numba import config, njit
from numba.misc.appdirs import AppDirs

from formsim.sources import PACKAGE, digest_of

Kernel = TypeVar("Kernel", bound=Callable[..., object])

FAST = {"contract", "reassoc", "nsz", "arcp"}
"""Liberties of the compiler: no rounding order is promised, infinities and NaN are kept."""


HOMES = "UserProvidedCacheLocator,UserWideCacheLocator,InTreeCacheLocator"
"""Where machine code is kept: the user's cache folder first. Beside the sources it would outlive an
uninstalled package, and that remnant would hide the next one."""

ROOMS = ("solver", "geometry")
KEPT_DAYS = 30.0


def _sources() -> str:
    """Digest of all files with kernels: a kernel holds the code of those it calls."""
    return digest_of(path for room in ROOMS for path in (PACKAGE / room).glob("*.py"))


def _drop_old(home: Path) -> None:
    """Remove machine code of sources that have not been used for long."""
    oldest = time.time() - 86400.0 * KEPT_DAYS
    with contextlib.suppress(OSError):
        for folder in home.iterdir():
            if folder.stat().st_mtime < oldest:
                shutil.rmtree(folder, ignore_errors=True)


def _settle() -> None:
    """Keep machine code in a folder of its own for these very sources."""
    if getattr(config, "CACHE_LOCATOR_CLASSES", HOMES):
        return
    own = AppDirs(appname="formsim", appauthor=False).user_cache_dir
    home = Path(config.CACHE_DIR or own) / "kernels"
    config.CACHE_LOCATOR_CLASSES = HOMES
    config.CACHE_DIR = str(home / _sources())
    _drop_old(home)
    with contextlib.suppress(OSError):
        os.utime(config.CACHE_DIR)


_settle()


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


def can_keep(compiled: Any) -> bool:
    """Whether there is a place to keep the machine code of this kernel."""
    return compiled.stats.cache_path is not None


def kept_kernel(compiled: Any) -> bool:
    """Whether an earlier run left machine code of this kernel in the cache."""
    if not can_keep(compiled):
        return False
    function = compiled.py_func
    pattern = f"{Path(function.__code__.co_filename).stem}.{function.__qualname__}-*.nbi"
    return any(Path(compiled.stats.cache_path).glob(pattern))
