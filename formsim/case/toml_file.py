"""TOML text of a file as nested tables, or the faults that keep it from being read."""

from __future__ import annotations

import difflib
import re
import tomllib
from pathlib import Path
from typing import Any

from formsim.case.file_bytes import UnreadableError, file_bytes
from formsim.errors import CaseError, Fault

LARGEST = 1_000_000
"""Largest case file accepted [bytes]; a real one has a few thousand."""

_COMMA = re.compile(r"[=\[]\s*[+-]?(\d+),(\d+)")
"""A number written with a decimal comma, right behind its key or at the start of a list."""

NEW_CASE = "formsim new cup writes a commented case file to start from"
_SYNTAX = {
    "Cannot overwrite a value": "this key is already set further up",
    "Invalid value": (
        "cannot read the value: numbers stand plain with a decimal point, texts in quotes"
    ),
    "Expected newline": "one value to a line; numbers have a decimal point, texts stand in quotes",
    "Unclosed": "a bracket or quote is not closed",
    "Unterminated": "a quote is not closed",
    "Expected '='": "expected a line of the form  key = value",
}


def tables_of(text: str, name: str) -> dict[str, Any]:
    """Nested tables of a TOML text; CaseError with the line of what cannot be read."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise CaseError(name, [_syntax_fault(str(error), text)]) from None
    except ValueError:
        fault = Fault("file", "", "a whole number in it has thousands of digits")
        raise CaseError(name, [fault]) from None


def text_of(file: Path) -> str:
    """Text of a TOML file; CaseError when it is none, or none of a sensible size."""
    try:
        return _decoded(file, file_bytes(file, LARGEST, "a case file"))
    except UnreadableError as error:
        hint = _near_files(file) if error.absent else ""
        raise _unreadable(file, error.reason, hint=hint) from None


def _decoded(file: Path, data: bytes) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise _unreadable(file, "is saved as UTF-16; save it as UTF-8 text")
    if b"\x00" in data:
        raise _unreadable(file, "is not a text file; expected a case written as TOML text")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        message = "is not UTF-8 text; save it as UTF-8"
        raise CaseError(file.name, [Fault("file", "", message, line)]) from None


def _unreadable(file: Path, message: str, *, hint: str = "") -> CaseError:
    return CaseError(str(file), [Fault("file", "", message)], hint=hint)


def _near_files(file: Path) -> str:
    folder = file.parent
    names = [one.name for one in folder.glob("*.toml")] if folder.is_dir() else []
    near = difflib.get_close_matches(file.name, names, n=3, cutoff=0.5)
    return f"in {folder} there is {', '.join(near)}" if near else NEW_CASE


def _syntax_fault(message: str, text: str) -> Fault:
    where = re.search(r"\(at line (\d+), column \d+\)", message)
    plain = re.sub(r"\s*\(at .*\)$", "", message)
    reason = next((say for start, say in _SYNTAX.items() if plain.startswith(start)), plain)
    lines = text.splitlines()
    line = int(where[1]) if where else len(lines)
    shown = lines[line - 1].strip()[:60] if 0 < line <= len(lines) else ""
    if comma := _COMMA.search(shown):
        reason = f"numbers have a decimal point: {comma[1]}.{comma[2]}, not {comma[1]},{comma[2]}"
    return Fault("syntax", "", f"{reason}; the line reads: {shown}" if shown else reason, line)
