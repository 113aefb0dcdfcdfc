"""A study in words: its plan before anything is solved, its progress, its table."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from formsim.case.study import Design, Vary, short_of_last
from formsim.report.lines import folded, table
from formsim.report.words import counted, number
from formsim.study.conduct import Standing
from formsim.study.findings import MARGIN
from formsim.study.foreseen import Foreseen
from formsim.study.handbook import WARNINGS, handbook_lines
from formsim.study.plan import Plan, which
from formsim.study.table import StudyTable
from formsim.study.wanted import name_of
from formsim.version import VERSION

SHOWN, REASONS, WIDE, PAGE = 40, 10, 11, 102
"""Most rows and reasons in the terminal; letters of a line of a head, of a page with its gap."""

_ENDS = ("status", "verdict")


def plan_text(plan: Plan, foreseen: Foreseen, solved: int, notes: Sequence[str] = ()) -> str:
    """What a study will do: variants, inputs, time and memory."""
    study = plan.study
    refused = [one for one in plan.variants if one.refused]
    count = counted(len(plan.variants), "variant")
    lines = [f"{study.title}: {count}, {design_text(study.design)}", ""]
    rows = [
        (one.name, one.unit or "-", extent(vary), str(len(vary.levels) or "-"))
        for one, vary in zip(plan.inputs, study.vary, strict=True)
    ]
    lines += [table(("input", "unit", "values", "how many"), rows, left=(0, 1, 2)), ""]
    for vary in study.vary:
        if len(vary.key) > 1:
            lines += folded(f"with {vary.name} go {', '.join(vary.key[1:])}")
    lines += folded("measures: " + ", ".join(name_of(one) for one in plan.wanted))
    lines += [f"refused: {counted(len(refused), 'variant')}"] if refused else []
    reasons: dict[str, list[int]] = {}
    for one in refused:
        reasons.setdefault(one.refused, []).append(one.number)
    for why, variants in list(reasons.items())[:REASONS]:
        lines += folded(f"{which(variants)}: {why}", "  ")
    lines += [line for note in notes for line in folded(note)]
    lines += folded(_cost(plan, foreseen, solved))
    return "\n".join(lines)


def design_text(design: Design) -> str:
    """How values go together, in words."""
    if not design.sampled:
        return f"design {design.kind}"
    return f"design {design.kind} with {counted(design.samples or 0, 'sample')}, seed {design.seed}"


def extent(vary: Vary) -> str:
    """Values of an input in short."""
    if vary.scatter is not None:
        values = vary.scatter.model_dump(exclude_none=True)
        kind = values.pop("kind")
        return f"{kind}, " + ", ".join(f"{key} {value:g}" for key, value in values.items())
    shown = [
        str(value.get("name", "a table")) if isinstance(value, Mapping) else short_cell(value)
        for value in vary.levels
    ]
    return ", ".join(shown) if len(shown) <= 6 else f"{shown[0]}, {shown[1]} ... {shown[-1]}"


def _cost(plan: Plan, foreseen: Foreseen, solved: int) -> str:
    left = len(plan.keys) - solved
    done = f"{counted(solved, 'variant')} solved already; " if solved else ""
    if not left:
        return f"{done}nothing is left to solve"
    same = len([one for one in plan.variants if one.key]) - len(plan.keys)
    twice = f"{counted(same, 'variant')} with the numbers of another; " if same else ""
    return f"{done}{twice}{left} to solve, {cost_text(foreseen, foreseen.total(left), 'in all')}"


def cost_text(foreseen: Foreseen, total: float, bound: str) -> str:
    """Time and memory of variants that take a total together [s]."""
    start = "starting the workers"
    if foreseen.compiling:
        start += f" and {duration(foreseen.compiling)} for compiling the kernels"
    return (
        f"about {duration(foreseen.seconds)} each by {foreseen.source}, {duration(total)} {bound}"
        f" with {counted(foreseen.workers, 'worker')}, {start} included; about"
        f" {foreseen.memory:.1f} GB of memory"
    )


def duration(seconds: float) -> str:
    """A time in words."""
    if seconds < 90.0:
        return f"{seconds:.2g} s" if seconds < 10.0 else f"{seconds:.0f} s"
    if seconds < 5400.0:
        return f"{seconds / 60.0:.0f} min"
    return f"{seconds / 3600.0:.1f} h"


def progress_text(standing: Standing) -> str:
    """How far a study has come, on one line."""
    share = 100.0 * standing.done / max(standing.count, 1)
    left = "" if standing.left is None else f"  about {duration(standing.left)} left"
    bad = f"  {standing.troubled} not done" if standing.troubled else ""
    return (
        f"{standing.done} of {standing.count} variants  {share:3.0f} %"
        f"  {standing.running} running{bad}{left}"
    )


def result_text(made: StudyTable) -> str:
    """The table of a study, its first rows where it is long, and how many came to what."""
    columns = made.columns
    count = len(columns["variant"])
    told = [name for name in (*made.inputs, *made.measures) if tells(columns[name])]
    behind = [WARNINGS] if any(columns[WARNINGS]) else []
    names = [name for name in (*told, MARGIN) if any(_given(columns[name]))] + behind
    cells = {name: [short_cell(value) for value in columns[name][:SHOWN]] for name in columns}
    shown = _fitting(["variant", *names, *_ENDS], cells)
    rows = list(zip(*(cells[name] for name in shown), strict=True))
    left = [k for k, name in enumerate(shown) if name in (*_ENDS, *made.inputs)]
    lines = [table(heads_of(shown), rows, left=left)]
    hidden = {"row": count - SHOWN, "column": len(names) + 3 - len(shown)}
    more = [counted(number, what) for what, number in hidden.items() if number > 0]
    if more:
        lines.append(f"... the table has {' and '.join(more)} more")
    lines += ["", counts_text(columns["status"], columns["verdict"])]
    reasons: dict[str, list[int]] = {}
    for variant, why in zip(columns["variant"], columns["reason"], strict=True):
        if why:
            reasons.setdefault(why, []).append(variant)
    for why, variants in list(reasons.items())[:REASONS]:
        lines += folded(f"{which(variants)}: {why}")
    if len(reasons) > REASONS:
        lines.append(f"... and {len(reasons) - REASONS} more reasons in the table")
    rules = handbook_lines(made.broken, count)
    for one in rules[:REASONS]:
        lines += folded(one)
    if len(rules) > REASONS:
        lines.append(f"... and {len(rules) - REASONS} more handbook rules in the table")
    return "\n".join(lines)


def _given(values: Sequence[Any]) -> Iterator[bool]:
    return (value is not None for value in values)


def _fitting(names: Sequence[str], cells: Mapping[str, Sequence[str]]) -> list[str]:
    """Columns that fit the width of a page, status and verdict always among them."""
    heads = dict(zip(names, heads_of(names), strict=True))
    widths = {
        name: 2 + max(map(len, [*heads[name].split("\n"), *cells[name]]), default=0)
        for name in names
    }
    left, shown = PAGE - sum(widths[name] for name in _ENDS), []
    for name in names[: -len(_ENDS)]:
        left -= widths[name]
        if left < 0:
            break
        shown.append(name)
    return [*shown, *_ENDS]


def tells(values: Sequence[Any]) -> bool:
    """Whether a column of inputs or measures holds more than one value."""
    return len(values) < 2 or any(value != values[0] for value in values)


def heads_of(names: Sequence[str]) -> list[str]:
    """Heads of columns: short names in short lines, each with its unit below."""
    heads = []
    for name in short_names(names):
        bare, bracket, unit = name.partition(" [")
        heads.append(_in_lines(bare) + (f"\n[{unit}" if bracket else ""))
    return heads


def short_names(names: Sequence[str]) -> list[str]:
    """As much of the end of each key path as tells it from the others, with its unit."""
    bare = [name.partition(" [")[0].split(".") for name in names]
    found = []
    for parts, name in zip(bare, names, strict=True):
        count = 1
        while count < len(parts) and sum(one[-count:] == parts[-count:] for one in bare) > 1:
            count += 1
        _, bracket, unit = name.partition(" [")
        found.append(".".join(parts[-count:]) + bracket + unit)
    return found


def _in_lines(name: str) -> str:
    """A name cut behind its points and underscores into lines of about ten letters."""
    lines = [""]
    for word in re.findall(r"[^._]+[._]?", name):
        if lines[-1] and len(lines[-1]) + len(word) > WIDE:
            lines.append("")
        lines[-1] += word
    return "\n".join(lines)


def counts_text(states: Sequence[str], verdicts: Sequence[str]) -> str:
    """How many variants came to what, and to which verdict."""
    told = [f"{count} {state}" for state, count in Counter(states).items()]
    judged = [f"{count} {verdict}" for verdict, count in Counter(verdicts).items() if verdict]
    return ", ".join(told) + (f"; verdicts: {', '.join(judged)}" if judged else "")


def short_cell(value: Any) -> str:
    """A value of the table with few digits; a dash for none."""
    if isinstance(value, float):
        return number(value) if abs(value) >= 1e3 else f"{value:.4g}"
    return "-" if value is None else str(value)


def range_notes(tables: Mapping[str, Any]) -> list[str]:
    """Sentences on ranges of a study that end before their last value."""
    specs = [one.get("range") for one in tables.get("vary", ())]
    return [told for spec in specs if isinstance(spec, str) and (told := short_of_last(spec))]


def changed_notes(count: int, case: str) -> list[str]:
    """A sentence on results in a folder that are not those of its study as it is now."""
    if not count:
        return []
    why = f"of {case}, or a file it names, as it was before, or of values left out since"
    told = f"{counted(count, 'variant')} solved here {'is' if count == 1 else 'are'} {why}"
    return [f"{told}: {'it does' if count == 1 else 'they do'} not count any more"]


def elsewhere_notes(sources: int, versions: int) -> list[str]:
    """Sentences on variants that another formsim has solved, by its sources or its version."""
    told = ((sources, f"other sources of formsim {VERSION}"), (versions, "another version"))
    return [
        f"{counted(count, 'variant')} {'was' if count == 1 else 'were'} solved by {who} and"
        f" {'is' if count == 1 else 'are'} solved again"
        for count, who in told
        if count
    ]
