"""What was understood of the drawings of a case, as plain text."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from formsim.geometry.outline import Point
from formsim.stages.drawn import is_slight
from formsim.stages.drawn_check import DrawnTool

_WIDTH = 100


def drawings_text(tools: Sequence[DrawnTool]) -> str:
    """A paragraph for every drawn tool: pieces, unit, closed gaps, corners, what was assumed."""
    return "\n".join(line for tool in tools for line in _lines(tool))


def _lines(tool: DrawnTool) -> list[str]:
    drawn = tool.fitted.drawn
    head = f"drawn   {tool.key}: {drawn.file}, layer {drawn.layer}"
    said = f"{'; '.join(_facts(tool))}."
    return [head, *textwrap.wrap(said, _WIDTH, initial_indent=" " * 8, subsequent_indent=" " * 8)]


def _facts(tool: DrawnTool) -> Iterator[str]:
    fitted, drawn = tool.fitted, tool.fitted.drawn
    kind = "a closed section" if drawn.closed else "an open outline"
    yield f"{kind} of {len(drawn.pieces)} lines and arcs, drawn in {drawn.unit}"
    rounds = [one.radius for one in drawn.pieces if one.centre is not None and one.sweep < 0.0]
    if rounds:
        yield f"smallest round R {min(rounds):.4g} mm"
    widest = max(gap.size for gap in drawn.gaps) if drawn.gaps else 0.0
    yield _gaps_closed(len(drawn.gaps), widest)
    slight = sum(is_slight(corner.turn) for corner in drawn.corners)
    sharp = sum(corner.turn < 0.0 for corner in drawn.corners) - slight
    notches = len(drawn.corners) - slight - sharp
    for count, what in (
        (slight, "slight edge bridged"),
        (sharp, "sharp edge out of reach of the sheet"),
        (notches, "sharp notch"),
    ):
        if count:
            yield f"{count} {what}" if count == 1 else f"{count} {_several(what)}"
    if fitted.carried:
        yield f"carried on straight beyond {' and '.join(map(_spot, fitted.carried))}"
    yield from drawn.notes


def _gaps_closed(count: int, widest: float) -> str:
    if count == 0:
        return "no gaps"
    return f"{count} gap{'s' if count > 1 else ''} closed, the widest {1000.0 * widest:.3g} um"


def _several(what: str) -> str:
    return what.replace("edge", "edges").replace("notch", "notches")


def _spot(place: Point) -> str:
    return f"r {round(place[0], 4):g}, z {round(place[1], 4) + 0.0:g} mm"
