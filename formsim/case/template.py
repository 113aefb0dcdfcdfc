"""Commented case files to start from."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from formsim.errors import CaseError, Fault, StoreError

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


def write_template(kind: str, folder: Path) -> Path:
    """Write a commented case file into a folder; returns its path.

    Raises
    ------
    StoreError : a file of that name is there already, or the folder cannot be written
    """
    text, path = template(kind), folder / f"{kind}.toml"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        message = f"{path} is there already and was left as it is"
        raise StoreError(message, hint="choose another folder with --into") from None
    except OSError as error:
        message = f"{path} cannot be written: {(error.strerror or str(error)).lower()}"
        raise StoreError(message, hint="choose another folder with --into") from error
    return path
