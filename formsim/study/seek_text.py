"""What a search has come to, in words and a table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from pathlib import Path

from formsim.case.expect import Wanted
from formsim.report.lines import folded, table
from formsim.report.rule_text import finding_text
from formsim.report.words import counted, number
from formsim.study.bracket import Bracket, bracket_of
from formsim.study.confirm import Confirmed, columns_of
from formsim.study.folder import StudyFolder
from formsim.study.plan import which
from formsim.study.seek import Found, Preview
from formsim.study.trial import (
    Trial,
    closest_of,
    is_mixed,
    is_monotone,
    way_back,
)
from formsim.study.wanted import beyond, name_of

FAR = 0.05
"""Least distance of two values, as a share of the range, to take the slope of a measure from."""


def seek_text(found: Found, folder: Path) -> str:
    """The variants of a search, its answer, and how sure that is."""
    best = found.best
    lines = folded(f"{found.sought.title}: {aim(found)}")
    lines += ["", _trials(found), ""]
    lines += _answer(found, best) if best else _nothing(found)
    if found.sought.is_border:
        lines += _order(found)
    lines += _mesh(found, best, folder)
    if best is not None and found.confirmed is not None:
        lines += folded(_confirmation(found, best, found.confirmed))
    lines += _counts(found)
    return "\n".join([*lines, *folded(f"search in {folder}: {', '.join(found.files)}")])


def aim(found: Found | Preview) -> str:
    """What is sought, in words."""
    wish = found.sought.wish
    conditions = [_bounds(one) for one in found.plan.wanted[: len(found.sought.conditions)]]
    kept = " and ".join(conditions)
    if wish is None:
        return f"any value with {kept}"
    wished = _wished(found)
    return f"{wish.word} {wished}" + (f" with {kept}" if kept else "")


def _wished(found: Found | Preview) -> str:
    wish = found.sought.wish
    if wish is not None and wish.place is not None:
        return found.sought.changes[wish.place].name
    return name_of(found.plan.wanted[found.sought.wish_column])


def _bounds(one: Wanted) -> str:
    unit = f" {one.unit}" if one.unit else ""
    ends = [("at least", one.low), ("at most", one.high)]
    told = " and ".join(f"{word} {end:g}{unit}" for word, end in ends if end is not None)
    return f"{name_of(one)} {told}"


def unit_of(found: Found | Preview, place: int) -> str:
    """Unit of an input with a blank before it; empty for none."""
    unit = found.sought.changes[place].unit or found.plan.inputs[place].unit
    return f" {unit}" if unit else ""


def _values(found: Found, trial: Trial) -> str:
    """Inputs of a trial in words."""
    return numbers_text(found, trial.numbers)


def numbers_text(found: Found | Preview, numbers: Sequence[float]) -> str:
    """Inputs with their values, in words."""
    return ", ".join(
        f"{change.name} = {numbers[k]:.6g}{unit_of(found, k)}"
        for k, change in enumerate(found.sought.changes)
    )


def _measured(found: Found, trial: Trial) -> str:
    told = []
    for one, value in zip(found.plan.wanted, trial.values, strict=True):
        unit = f" {one.unit}" if one.unit else ""
        told.append(f"{name_of(one)} {number(value)}{unit if value is not None else ''}")
    return ", ".join(told)


def _trials(found: Found) -> str:
    """Every variant, along the inputs."""
    inputs = [
        f"{change.name.rpartition('.')[2]}\n[{unit_of(found, k).strip() or '-'}]"
        for k, change in enumerate(found.sought.changes)
    ]
    wanted = found.plan.wanted[: max(1, len(found.sought.measures))]
    heads = [f"{name_of(one)}\n[{one.unit or '-'}]" for one in wanted]
    rows = [
        (
            str(one.variant),
            *(f"{value:.6g}" for value in one.numbers),
            *(number(value) for value in one.values[: len(wanted)]),
            one.status,
            "yes" if one.fulfils else "no",
        )
        for one in sorted(found.trials, key=lambda one: one.numbers)
    ]
    head = ("variant", *inputs, *heads, "status", "fulfils")
    return table(head, rows, left=(len(head) - 2, len(head) - 1))


def _answer(found: Found, best: Trial) -> list[str]:
    told = f"{_values(found, best)}: {_measured(found, best)} (variant {best.variant})"
    lines = folded(f"found: {told}")
    if best.verdict == "reject":
        lines += folded(f"but a limit of the case is broken there: {best.reason}")
    for rule in found.plan.variants[best.variant - 1].advice:
        lines += folded(f"but outside a handbook rule: {finding_text(asdict(rule))}")
    if not found.sought.is_border or found.sought.wish is None:
        return lines + _stop(found)
    bracket = bracket_of(found.trials)
    if bracket is None:
        return [*lines, *folded("this is the end of the range: beyond it nothing was asked")]
    return lines + _sureness(found, bracket)


def _sureness(found: Found, bracket: Bracket) -> list[str]:
    unit = unit_of(found, 0)
    width = abs(bracket.inner.numbers[0] - bracket.outer.numbers[0])
    said = (
        f"how sure: {bracket.outer.numbers[0]:.6g}{unit} does not fulfil it"
        f" ({_why(bracket.outer)}), so the border lies within {width:.3g}{unit}"
    )
    lines = folded(said)
    if bracket.width > found.within:
        change = found.sought.changes[0]
        wanted = found.within * (change.high - change.low)
        lines += folded(f"wanted were {wanted:.3g}{unit}; --most was reached, more runs narrow it")
    return lines


def _why(trial: Trial) -> str:
    return trial.status if trial.status != "done" else trial.verdict or "no number"


def _stop(found: Found) -> list[str]:
    if found.sought.wish is None:
        return []
    if found.settled:
        return folded(
            "how sure: no other place promises an expected gain that is worth a run, by a Gaussian"
            " process through all variants; that is a guess from so few, not a proof"
        )
    said = "how sure: --most was reached before the search settled: more runs may find better"
    return folded(said)


def _nothing(found: Found) -> list[str]:
    closest = closest_of(found.trials)
    how = "no value of those tried fulfils it"
    if found.settled:
        how += ", and by what was found none is likely to"
    else:
        how += "; --most was reached, more runs may find one"
    lines = folded(how)
    if closest is None:
        return [*lines, *folded("no variant came to numbers that are trusted")]
    missed = f"a bound is missed by {100.0 * (closest.worst or 0.0):.4g} % of it"
    told = f"{_values(found, closest)}: {_measured(found, closest)} (variant {closest.variant})"
    return lines + folded(f"closest: {told}: {missed}")


def _order(found: Found) -> list[str]:
    """Whether what was found is monotone."""
    back = way_back(found.trials)
    if is_mixed(found.trials):
        return folded(
            "not monotone: values that fulfil it and values that do not take turns along the range;"
            " there may be further borders between the values tried"
        )
    if not is_monotone(found.trials):
        return folded(
            f"not monotone: the measure goes back by {100.0 * back:.0f} % of its range, so better"
            " values may hide between those tried"
        )
    if back > 0.0:
        return folded(
            f"monotone so far but for {100.0 * back:.3g} % of the range of the measure; between the"
            " values tried nothing is known"
        )
    return folded("monotone so far; between the values tried nothing is known")


def _mesh(found: Found, best: Trial | None, folder: Path) -> list[str]:
    """How far the mesh may move the answer, and how to see it."""
    said = f"mesh: {_meshes(found, best)}, and the answer is no more exact than the numbers are"
    bracket = bracket_of(found.trials) if found.sought.is_border and best else None
    moved = _moved(found, bracket) if bracket else None
    if moved is not None and bracket is not None:
        width = abs(bracket.inner.numbers[0] - bracket.outer.numbers[0])
        beyond = ", more than the width above" if moved > width else ""
        unit = unit_of(found, 0)
        said += f"; a measure off by 1 % of its bound moves the border by {moved:.2g}{unit}{beyond}"
    lines = folded(said)
    if best is None:
        return lines
    file = StudyFolder(folder).result(found.plan.variants[best.variant - 1].key) / "case.toml"
    if found.confirmed is None:
        lines.append("  the same command with --confirm solves the answer on a finer mesh")
    return [*lines, "  how far that may be: formsim run --error-bars", f"  {file}"]


def _confirmation(found: Found, best: Trial, confirmed: Confirmed) -> str:
    """Whether the answer holds on a finer mesh, with the numbers of both."""
    trial = confirmed.trial
    mesh = f"on a finer mesh, {confirmed.columns} columns instead of {confirmed.own},"
    if trial.excesses is None:
        why = trial.reason or trial.verdict or trial.status
        return f"not confirmed: {mesh} it comes to no trusted numbers ({trial.status}): {why}"
    told = ", ".join(_both(found, best, trial))
    if trial.fulfils:
        return f"confirmed: {mesh} it still holds: {told}"
    broken = "; ".join(beyond(_named(found, trial), found.plan.wanted))
    advice = "".join(f"; {one}" for one in _tighter(found, best, trial))
    return f"NOT confirmed: {mesh} it does not hold: {told}; {broken}{advice}"


def _named(found: Found, trial: Trial) -> dict[str, float | None]:
    return {name_of(one): x for one, x in zip(found.plan.wanted, trial.values, strict=True)}


def _both(found: Found, best: Trial, trial: Trial) -> Iterator[str]:
    """Every number on both meshes."""
    values = zip(found.plan.wanted, trial.values, best.values, strict=True)
    for one, fine, own in values:
        unit = f" {one.unit}" if one.unit else ""
        yield f"{name_of(one)} {number(fine)} instead of {number(own)}{unit}"


def _tighter(found: Found, best: Trial, trial: Trial) -> Iterator[str]:
    """Bounds to ask for instead of those broken, by what the mesh moved the numbers."""
    for one, fine, own in zip(found.plan.wanted, trial.values, best.values, strict=True):
        if fine is None or own is None:
            continue
        for sign, end in (("<=", one.high), (">=", one.low)):
            if end is not None and (fine > end if sign == "<=" else fine < end):
                asked = end - (fine - own)
                yield f'to have it hold there, ask for about "{name_of(one)} {sign} {asked:.4g}"'


def _meshes(found: Found, best: Trial | None) -> str:
    """Of which meshes the numbers are; one that is not given follows the radii of a variant."""
    own = {one.number: columns_of(found.plan, one) for one in found.plan.variants if one.text}
    low, high = min(own.values()), max(own.values())
    if low == high:
        return f"all numbers are of one mesh ({counted(low, 'column')})"
    answer = f", the answer {own[best.variant]}" if best else ""
    return (
        "variants have meshes of their own, as their radii ask for"
        f" ({low} to {high} columns{answer}), so numbers jump a little from one to the next unless"
        " [mesh] columns is given"
    )


def _moved(found: Found, bracket: Bracket) -> float | None:
    """Way of the border for one per cent of the bound, in the unit of the input."""
    known = [one for one in found.trials if one.worst is not None]
    middle = 0.5 * (bracket.inner.place[0] + bracket.outer.place[0])
    below = [one for one in known if middle - one.place[0] >= FAR]
    above = [one for one in known if one.place[0] - middle >= FAR]
    if not below or not above:
        return None
    first = max(below, key=lambda one: one.place[0])
    last = min(above, key=lambda one: one.place[0])
    rise = (last.worst or 0.0) - (first.worst or 0.0)
    if rise == 0.0:
        return None
    return abs(0.01 * (last.numbers[0] - first.numbers[0]) / rise)


def _counts(found: Found) -> list[str]:
    trials = found.trials
    earlier = f", {found.earlier} of them solved by an earlier call" if found.earlier else ""
    lines = folded(f"{counted(len(trials), 'variant')}{earlier}; at most {found.sought.most}")
    states: dict[str, list[Trial]] = {}
    for one in trials:
        if one.excesses is None:
            state = one.verdict if one.status == "done" else one.status
            states.setdefault(state or "no number", []).append(one)
    for state, ones in states.items():
        verb = "counts" if len(ones) == 1 else "count"
        told = f"{which([one.variant for one in ones])} {verb} as not fulfilling: {state}"
        more = "; further reasons in the table" if len({one.reason for one in ones}) > 1 else ""
        lines += folded(f"{told}: {ones[0].reason}{more}")
    return lines
