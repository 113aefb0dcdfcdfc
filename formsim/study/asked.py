"""What a call asks for: a study file, or a case and what varies on the command line."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from formsim.case.study import RANGE, Study, build_study, is_study, load_study
from formsim.case.toml_file import tables_of, text_of
from formsim.errors import CaseError, Fault, FormsimError, StoreError
from formsim.results.kept_drawings import way_to
from formsim.study.folder import STUDY, StudyFolder

_FORM = (
    'expected KEY = VALUES, such as "sheet.thickness = [0.26, 0.28]",'
    ' "stage.draw.die.radius = 2:5:0.5", "stage.draw.holder.force = 6:10:1 kN" or'
    ' "sheet.thickness = { kind = \\"normal\\", mean = 0.28, deviation = 0.003 }"'
)


@dataclass(frozen=True)
class Asked:
    """A study and where it comes from.

    Attributes
    ----------
    tables : the study as nested tables
    case : file of the base case
    name : of the study file, or of the case file, as messages call it
    lines : of the keys of the study file
    """

    study: Study
    tables: Mapping[str, Any]
    case: Path
    name: str
    lines: Mapping[str, int] = field(default_factory=dict)

    def seen_from(self, folder: Path) -> dict[str, Any]:
        """Tables of the study with the way to its case as seen from a folder."""
        return {**self.tables, "case": way_to(self.case, folder)}


def asked_of(options: Mapping[str, Any]) -> Asked:
    """What the options of the command ask for."""
    names = {"design": "kind", "samples": "samples", "seed": "seed"}
    design = {key: options[name] for name, key in names.items() if options[name] is not None}
    more = {
        "keep": options["keep"],
        "longest": options["longest"],
        "strict": True if options["strict"] else None,
        "measure": [measured_text(text) for text in options["measure"] or ()] or None,
    }
    return asked_study(options["file"], options["vary"], design, **more)


def measured_text(text: str) -> dict[str, str]:
    """Table of a measure in a text; one without a stage is of the last stage."""
    stage, _, name = text.strip().rpartition(".")
    return {"measure": name, "stage": stage} if stage else {"measure": name}


def asked_study(path: Path, vary: Sequence[str], design: Mapping[str, Any], **more: Any) -> Asked:
    """The study a call asks for.

    Parameters
    ----------
    path : study file, or case file with ``vary``
    vary : texts such as ``sheet.thickness = [0.26, 0.28]``
    design : keys of the design that the call gives
    more : further keys of the study; None for those the call does not give

    Raises
    ------
    CaseError : with every fault
    """
    if (path / STUDY).is_file():
        message = f"{path} is the folder of a study, not a case or a study file"
        raise FormsimError(message, hint=f"to go on with that study: {StudyFolder(path).again}")
    given = {key: value for key, value in more.items() if value is not None}
    if is_study(path):
        if vary:
            message = f"{path.name} is a study, which says itself what varies"
            raise FormsimError(message, hint="write it there, or name a case file with --vary")
        study, tables, lines = load_study(path)
        if design:
            given["design"] = {**tables.get("design", {}), **design}
        if given:
            tables = {**tables, **given}
            study = build_study(tables, path.name)
        return Asked(study, tables, path.parent / study.case, path.name, lines)
    raw = tables_of(text_of(path), path.name)
    if not raw:
        message = f"{path.name} is empty: expected a case, or a study that names one"
        raise FormsimError(message, hint="formsim new cup writes a case to begin with")
    if not vary:
        message = f"{path.name} is a case, and nothing varies"
        raise FormsimError(message, hint=f'--vary "KEY = VALUES"; {_FORM}')
    tables = {
        "title": str(raw.get("title") or path.stem),
        "source": str(raw.get("source") or "not given"),
        "case": path.name,
        "vary": _varied(vary),
        **({"design": dict(design)} if design else {}),
        **given,
    }
    return Asked(build_study(tables, "--vary"), tables, path, path.name)


def _varied(texts: Sequence[str]) -> list[dict[str, Any]]:
    """Tables of the texts of ``--vary``; all that cannot be read are told at once."""
    found, faults = [], []
    for text in texts:
        key, equals, spec = text.partition("=")
        if not equals or not key.strip() or not spec.strip():
            faults.append(Fault("--vary", f'"{text}"', _FORM))
            continue
        keys = [one.strip() for one in key.split(",")]
        try:
            found.append({"key": keys if len(keys) > 1 else keys[0], **_values(spec.strip())})
        except tomllib.TOMLDecodeError:
            faults.append(Fault("--vary", f'"{text}"', f"cannot read the values; {_FORM}"))
    if faults:
        source = "--vary"
        raise CaseError(source, faults)
    return found


def _values(spec: str) -> dict[str, Any]:
    if RANGE.fullmatch(spec):
        return {"range": spec}
    value = tomllib.loads(f"value = {spec}")["value"]
    if isinstance(value, dict):
        return {"scatter": value}
    return {"values": value if isinstance(value, list) else [value]}


def is_same(folder: StudyFolder, asked: Asked) -> bool:
    """Whether a folder holds the study that is asked for, whatever has become of its case."""
    try:
        kept = (folder.path / STUDY).read_text(encoding="utf-8")
        return tomllib.loads(kept) == asked.seen_from(folder.path)
    except (OSError, ValueError):
        return False


def check_same(folder: StudyFolder, asked: Asked, *, replace: bool) -> None:
    """Refuse to put another study in the place of the one in a folder, unless that is asked for.

    Raises
    ------
    StoreError : the folder holds another study
    """
    if replace or not (folder.path / STUDY).is_file():
        return
    if not is_same(folder, asked):
        message = f"{folder.path} holds another study than this one"
        hint = "choose another folder with --into, or --replace its table; what is solved is kept"
        raise StoreError(message, hint=hint)
