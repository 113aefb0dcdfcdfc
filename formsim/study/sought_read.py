"""What a call of a search asks for, read from its options."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from formsim.case.expect import MEASURES, Wanted
from formsim.case.faults import faults_of
from formsim.case.study import is_study
from formsim.case.toml_file import tables_of, text_of
from formsim.errors import CaseError, Fault, FormsimError
from formsim.study.asked import measured_text
from formsim.study.sought import Change, Sought, Wish

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_RANGE = re.compile(rf"({_NUMBER})\s*:\s*({_NUMBER})(?:\s*:\s*({_NUMBER}))?\s*([^\d\s:.,].*?)?")
_CONDITION = re.compile(r"([\w.\s-]+?)\s*(<=|>=|<|>|≤|≥)\s*(.+)")
_WISH = re.compile(r"(smallest|largest)\s+([\w.\[\]-]+)")

CHANGE_FORM = (
    'expected KEY = LOW:HIGH or LOW:HIGH:STEP, such as "stage.draw.punch.nose_radius = 2:6" or'
    ' "stage.draw.holder.force = 6:12 kN"'
)
UNTIL_FORM = 'expected a measure, <= or >=, and a value, such as "draw.max_thinning_percent <= 10"'
PREFER_FORM = 'expected smallest or largest and an input or a measure: "smallest nose_radius"'
MOST_RUNS = 1000
_KNOWN_BY = ("change", "until", "prefer")


def sought_of(options: Mapping[str, Any]) -> Sought:
    """What the options of the command ask for.

    Raises
    ------
    CaseError : with every fault of the options
    """
    path: Path = options["case"]
    if is_study(path):
        message = f"{path.name} is a study, and a search starts from a case"
        raise FormsimError(message, hint="name the case file, and what changes with --change")
    faults: list[Fault] = []
    changes = _each(options["change"] or (), _change, "--change", faults)
    conditions = _each(options["until"] or (), _condition, "--until", faults)
    if not options["change"]:
        faults.append(Fault("--change", "", f"nothing may change; {CHANGE_FORM}"))
    if not options["until"] and not options["prefer"]:
        faults.append(Fault("--until", "", f"nothing is sought; {UNTIL_FORM}, or --prefer"))
    wish = None
    if options["prefer"]:
        found = _each([options["prefer"]], lambda text: _wish(text, changes), "--prefer", faults)
        wish = found[0] if found else None
    faults += _limits(options)
    faults += [
        Fault("--until", one.measure, f"cannot be at least {one.low:g} and at most {one.high:g}")
        for one in _merged(conditions)
        if one.low is not None and one.high is not None and one.low > one.high
    ]
    keys = [key for one in changes for key in one.keys]
    faults += [
        Fault("--change", key, "is changed twice") for key in set(keys) if keys.count(key) > 1
    ]
    if faults:
        source = "seek"
        raise CaseError(source, faults)
    raw = tables_of(text_of(path), path.name)
    return Sought(
        case=path,
        title=str(raw.get("title") or path.stem),
        source=str(raw.get("source") or "not given"),
        changes=tuple(changes),
        conditions=_merged(conditions),
        wish=wish,
        within=options["within"],
        most=options["most"],
        keep=options["keep"] or "curves",
        tables={name: options[name] for name in _KNOWN_BY if options[name]},
        longest=options["longest"],
    )


def _each(texts: Sequence[str], read: Any, option: str, faults: list[Fault]) -> list[Any]:
    """Every text read; those that cannot be are added to the faults."""
    found = []
    for text in texts:
        try:
            found.append(read(text.strip()))
        except ValidationError as error:
            told = "; ".join(one.expected for one in faults_of(error, {}, Wanted))
            faults.append(Fault(option, f'"{text}"', told))
        except ValueError as error:
            faults.append(Fault(option, f'"{text}"', str(error)))
    return found


def _change(text: str) -> Change:
    key, equals, spec = (part.strip() for part in text.partition("="))
    found = _RANGE.fullmatch(spec.strip("\"'"))
    keys = tuple(one.strip() for one in key.split(","))
    if not equals or found is None or not all(keys):
        raise ValueError(CHANGE_FORM)
    low, high = float(found[1]), float(found[2])
    step = float(found[3]) if found[3] else None
    if not (math.isfinite(low) and math.isfinite(high) and low < high):
        message = f"low {low:g} is not below high {high:g}"
        raise ValueError(message)
    if step is not None and not 0.0 < step <= high - low:
        message = f"expected a step above 0 and not beyond {high - low:g}"
        raise ValueError(message)
    asked = high
    if step is not None:
        high = low + math.floor((high - low) / step + 1e-9) * step
    whole = not any(mark in (found[k] or "") for k in (1, 2, 3) for mark in ".eE")
    return Change(keys, low, high, step, found[4] or "", whole, asked)


def _condition(text: str) -> Wanted:
    found = _CONDITION.fullmatch(text)
    if found is None:
        raise ValueError(UNTIL_FORM)
    bound: Any = found[3].strip("\"'")
    with suppress(ValueError):
        bound = float(bound)
    end = "high" if found[2] in ("<=", "<", "≤") else "low"
    return Wanted.model_validate({**measured_text(found[1]), end: bound})


def _wish(text: str, changes: Sequence[Change]) -> Wish:
    found = _WISH.fullmatch(text)
    if found is None:
        raise ValueError(PREFER_FORM)
    word, name = found[1], found[2]
    places = [
        place
        for place, one in enumerate(changes)
        if any(key == name or key.endswith(f".{name}") for key in one.keys)
    ]
    if len(places) > 1:
        known = ", ".join(changes[place].name for place in places)
        message = f"may be any of {known}: write more of its path"
        raise ValueError(message)
    if places:
        return Wish(word, places[0], None)
    measure = measured_text(name)
    if measure["measure"] not in MEASURES:
        inputs = ", ".join(one.name for one in changes) or "nothing"
        message = f"is neither an input that changes ({inputs}) nor a measure; {PREFER_FORM}"
        raise ValueError(message)
    return Wish(word, None, Wanted.model_validate(measure))


def _limits(options: Mapping[str, Any]) -> list[Fault]:
    most, within, faults = options["most"], options["within"], []
    if not 3 <= most <= MOST_RUNS:
        faults.append(Fault("--most", str(most), f"expected a number from 3 to {MOST_RUNS}"))
    if within is not None and not (math.isfinite(within) and within > 0.0):
        faults.append(Fault("--within", f"{within:g}", "expected a number above 0"))
    if within is not None and not options["prefer"]:
        expected = "is how close what is preferred comes: add --prefer, or leave it out"
        faults.append(Fault("--within", f"{within:g}", expected))
    return faults


def _merged(conditions: Sequence[Wanted]) -> tuple[Wanted, ...]:
    """Conditions on one measure made one: its least high, its largest low."""
    found: dict[tuple[str, str | None], Wanted] = {}
    for one in conditions:
        key = (one.measure, one.stage)
        old = found.get(key, one)
        highs = [end for end in (old.high, one.high) if end is not None]
        lows = [end for end in (old.low, one.low) if end is not None]
        update = {"high": min(highs, default=None), "low": max(lows, default=None)}
        found[key] = one.model_copy(update=update)
    return tuple(found.values())
