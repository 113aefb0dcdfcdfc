"""Reading a case file: every fault at once, with its key, value and line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError

from formsim.case.card_file import card_line, with_card
from formsim.case.earlier import UnusableError, earlier_result
from formsim.case.expect import Expect, Wanted
from formsim.case.faults import faults_of
from formsim.case.filling import OF_THE_LINE, filled, starts_from_result
from formsim.case.fit_expect import curve_faults
from formsim.case.fit_limits import limit_faults
from formsim.case.fit_rate import rate_faults
from formsim.case.fits import case_faults
from formsim.case.limits import Limits
from formsim.case.lines import Origin, key_lines, line_of
from formsim.case.schema import Case
from formsim.case.sheet import Blank, Sheet
from formsim.case.stage import Stage
from formsim.case.start import Result, Start
from formsim.case.toml_file import NEW_CASE, tables_of, text_of
from formsim.errors import CaseError, Fault

Part = TypeVar("Part")

_STAGE: TypeAdapter[Stage] = TypeAdapter(Stage)
_START: TypeAdapter[Start] = TypeAdapter(Start)


def load_case(path: str | Path) -> Case:
    """Read and check a case file.

    Parameters
    ----------
    path : TOML file, UTF-8, at most 1 MB

    Raises
    ------
    CaseError : with every fault of the file, its key path, value, expectation and line
    """
    return _loaded(Path(path))


def _loaded(file: Path, inside: frozenset[Path] = frozenset()) -> Case:
    """Case of a file; ``inside`` are the results that are being read for it."""
    return parse_case(text_of(file), file.name, file.parent, inside)


def parse_case(
    text: str, name: str, folder: Path = Path(), inside: frozenset[Path] = frozenset()
) -> Case:
    """Check the text of a case.

    Parameters
    ----------
    name : what messages call it
    folder : where drawings and results it names are looked for
    inside : results that are being read when this is the case one of them keeps
    """
    try:
        return build_case(tables_of(text, name), name, key_lines(text), folder, inside)
    except RecursionError:
        fault = Fault("file", "", "brackets are nested far too deeply for a case")
        raise CaseError(name, [fault]) from None


def build_case(
    raw: Mapping[str, Any],
    name: str,
    lines: Mapping[str, int] | None = None,
    folder: Path = Path(),
    inside: frozenset[Path] = frozenset(),
) -> Case:
    """Check a case given as nested tables; ``lines`` maps key paths to lines of a file."""
    origin, faults = _started(raw, Origin(name, folder, lines or {}), inside)
    try:
        case = Case.model_validate(raw, context=origin)
        if not faults:
            return case
    except ValidationError as error:
        found = faults_of(error, with_card(raw, folder), Case)
        faults += [one for one in found if not _follows(one, raw)]
    known = set(faults)
    full = filled(raw, origin.earlier)
    faults += [fault for fault in _misfits(full, origin) if fault not in known]
    placed = [_placed(fault, raw, origin) for fault in faults]
    raise CaseError(name, sorted(placed, key=lambda fault: fault.line), hint=_hint(placed))


def _started(
    raw: Mapping[str, Any], origin: Origin, inside: frozenset[Path]
) -> tuple[Origin, list[Fault]]:
    """The origin with the result the case starts from, or why that cannot be used."""
    if not starts_from_result(raw):
        return origin, []
    faults = [
        Fault(key, "", "is that of the result this case starts from: leave it out")
        for key in OF_THE_LINE
        if key in raw
    ]
    start = _sound(_START, raw["start"])
    if not isinstance(start, Result):
        return origin, faults
    try:
        earlier = earlier_result(start, origin.folder, _loaded, inside)
    except UnusableError as error:
        return origin, [*faults, error.fault]
    return replace(origin, earlier=earlier), faults


def _follows(fault: Fault, raw: Mapping[str, Any]) -> bool:
    """Whether a fault is only that the result with the sheet cannot be used."""
    return fault.key in OF_THE_LINE and starts_from_result(raw)


def _placed(fault: Fault, raw: Mapping[str, Any], origin: Origin) -> Fault:
    """A fault with its line in the case, and in the card file where the value stands there."""
    line = line_of(fault.key, origin.lines)
    card = card_line(fault.key, raw, origin.folder)
    expected = f"{fault.expected} (in {card})" if card else fault.expected
    return replace(fault, line=line, expected=expected)


def _misfits(raw: Mapping[str, Any], origin: Origin) -> list[Fault]:
    """Misfits between those parts that are sound, when other parts have faults."""
    stages, expect, sheet = raw.get("stage"), raw.get("expect"), raw.get("sheet")
    sheet = sheet if isinstance(sheet, dict) else {}
    earlier, start = origin.earlier, raw.get("start")
    begin = None if start is None or earlier else _sound(_START, start)
    limits = _sound(TypeAdapter(Limits), raw.get("limits", {}), origin)
    whole = _sound(TypeAdapter(Sheet), sheet, origin)
    sound = [_sound(_STAGE, item, origin) for item in stages] if isinstance(stages, list) else []
    listed = expect if isinstance(expect, list) else []
    wanted = [_sound(TypeAdapter(Expect), item) or _stage_of(item) for item in listed]
    faults = list(limit_faults(limits, whole))
    if limits is not None and whole is not None:
        faults += curve_faults(limits.forming_limit or whole.material.forming_limit, wanted)
    if whole is not None:
        faults += rate_faults(whole.material, sound, earlier.stages if earlier else ())
    sizes = {key: value for key, value in sheet.items() if key in Blank.model_fields}
    return faults + case_faults(
        _sound(TypeAdapter(Blank), sizes),
        sound,
        wanted,
        earlier.start if earlier else None if isinstance(begin, Result) else begin,
        earlier.stages if earlier else (),
        flat=start is None,
        height=earlier.height if earlier else None,
    )


def _sound(adapter: TypeAdapter[Part], raw: Any, origin: Origin | None = None) -> Part | None:
    try:
        return adapter.validate_python(raw, context=origin)
    except ValidationError:
        return None


def _stage_of(item: Any) -> Wanted | None:
    """The stage of an expectation with faults, with a measure that every stage has."""
    stage = item.get("stage") if isinstance(item, dict) else None
    return _sound(TypeAdapter(Wanted), {"measure": "height", "stage": stage})


def _hint(faults: list[Fault]) -> str:
    return NEW_CASE if len(faults) > 5 else ""
