"""Reading a case file: every fault at once, with its key, value and line."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError

from formsim.case.expect import Expect
from formsim.case.faults import faults_of
from formsim.case.filling import filled
from formsim.case.fit_limits import limit_faults
from formsim.case.fits import case_faults
from formsim.case.limits import Limits
from formsim.case.lines import Origin, key_lines, line_of
from formsim.case.schema import Case
from formsim.case.sheet import Blank, Sheet
from formsim.case.stage import Stage
from formsim.case.start import Start
from formsim.errors import CaseError, Fault

Part = TypeVar("Part")

_STAGE: TypeAdapter[Stage] = TypeAdapter(Stage)
_START: TypeAdapter[Start] = TypeAdapter(Start)

LARGEST = 1_000_000
"""Largest case file accepted [bytes]; a real one has a few thousand."""

_COMMA = re.compile(r"[=\[]\s*[+-]?(\d+),(\d+)")
"""A number written with a decimal comma, right behind its key or at the start of a list."""

_NEW_CASE = "formsim new cup writes a commented case file to start from"
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


def load_case(path: str | Path) -> Case:
    """Read and check a case file.

    Parameters
    ----------
    path : TOML file, UTF-8, at most 1 MB

    Raises
    ------
    CaseError : with every fault of the file, its key path, value, expectation and line
    """
    file = Path(path)
    return parse_case(_text_of(file), file.name, file.parent)


def parse_case(text: str, name: str, folder: Path = Path()) -> Case:
    """Check the text of a case.

    Parameters
    ----------
    name : what messages call it
    folder : where its drawings are looked for
    """
    try:
        return build_case(_tables(text, name), name, key_lines(text), folder)
    except RecursionError:
        fault = Fault("file", "", "brackets are nested far too deeply for a case")
        raise CaseError(name, [fault]) from None


def build_case(
    raw: Mapping[str, Any],
    name: str,
    lines: Mapping[str, int] | None = None,
    folder: Path = Path(),
) -> Case:
    """Check a case given as nested tables; ``lines`` maps key paths to lines of a file."""
    origin = Origin(name, folder, lines or {})
    try:
        return Case.model_validate(raw, context=origin)
    except ValidationError as error:
        faults = faults_of(error, raw)
    known = set(faults)
    faults += [fault for fault in _misfits(filled(raw), origin) if fault not in known]
    placed = [replace(fault, line=line_of(fault.key, origin.lines)) for fault in faults]
    raise CaseError(name, sorted(placed, key=lambda fault: fault.line), hint=_hint(placed))


def _tables(text: str, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise CaseError(name, [_syntax_fault(str(error), text)]) from None
    except ValueError:
        fault = Fault("file", "", "a whole number in it has thousands of digits")
        raise CaseError(name, [fault]) from None


def _misfits(raw: Mapping[str, Any], origin: Origin) -> list[Fault]:
    """Misfits between those parts that are sound, when other parts have faults."""
    stages, expect, sheet = raw.get("stage"), raw.get("expect"), raw.get("sheet")
    sheet = sheet if isinstance(sheet, dict) else {}
    limits = _sound(TypeAdapter(Limits), raw.get("limits", {}), origin)
    faults = list(limit_faults(limits, _sound(TypeAdapter(Sheet), sheet, origin)))
    sizes = {key: value for key, value in sheet.items() if key in Blank.model_fields}
    return faults + case_faults(
        _sound(TypeAdapter(Blank), sizes),
        [_sound(_STAGE, item, origin) for item in stages] if isinstance(stages, list) else [],
        [_sound(TypeAdapter(Expect), item) for item in expect] if isinstance(expect, list) else [],
        None if raw.get("start") is None else _sound(_START, raw["start"]),
        flat=raw.get("start") is None,
    )


def _sound(adapter: TypeAdapter[Part], raw: Any, origin: Origin | None = None) -> Part | None:
    try:
        return adapter.validate_python(raw, context=origin)
    except ValidationError:
        return None


def _hint(faults: list[Fault]) -> str:
    return _NEW_CASE if len(faults) > 5 else ""


def _text_of(file: Path) -> str:
    try:
        size = file.stat().st_size
        if not file.is_file():
            raise _unreadable(file, "is a folder or a device, not a case file")
        if size > LARGEST:
            message = f"is {size / 1e6:.1f} MB; a case file has a few kB, 1 MB at most"
            raise _unreadable(file, message)
        return _decoded(file, file.read_bytes())
    except FileNotFoundError:
        raise _unreadable(file, "no such file", hint=_near_files(file)) from None
    except OSError as error:
        reason = (error.strerror or "cannot be opened").lower()
        raise _unreadable(file, f"cannot be read: {reason}") from None


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
    return f"in {folder} there is {', '.join(near)}" if near else _NEW_CASE


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
