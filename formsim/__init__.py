"""Finite-element simulation of deep drawing and dome pressing of thin-walled sheet bodies."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from formsim.version import VERSION as __version__

if TYPE_CHECKING:
    from formsim.case.load import load_case, parse_case
    from formsim.pipeline.run import Run, run_case
    from formsim.results.strains import surface_strains
    from formsim.results.thickness import thickness_profile

__all__ = [
    "Run",
    "__version__",
    "load_case",
    "parse_case",
    "run_case",
    "surface_strains",
    "thickness_profile",
]

_HOMES = {
    "Run": "formsim.pipeline.run",
    "load_case": "formsim.case.load",
    "parse_case": "formsim.case.load",
    "run_case": "formsim.pipeline.run",
    "surface_strains": "formsim.results.strains",
    "thickness_profile": "formsim.results.thickness",
}


def __getattr__(name: str) -> Any:
    """Public names load their module when first used, so that the import stays quick."""
    if name not in _HOMES:
        message = f"module 'formsim' has no attribute {name!r}"
        raise AttributeError(message)
    import importlib

    return getattr(importlib.import_module(_HOMES[name]), name)
