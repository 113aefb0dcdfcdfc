"""Commented case files to start from."""

from __future__ import annotations

from importlib.resources import files

from formsim.errors import CaseError, Fault

KINDS = ("cup",)


def template(kind: str = "cup") -> str:
    """Text of a commented case file that loads and runs as it stands."""
    if kind not in KINDS:
        fault = Fault(
            "kind", f'"{kind}"', f"no template of this name; known are {', '.join(KINDS)}"
        )
        name = "new case"
        raise CaseError(name, [fault])
    return (files("formsim") / "case" / f"template_{kind}.toml").read_text(encoding="utf-8")
