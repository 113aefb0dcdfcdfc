"""One sentence on a risk, in the words of the press shop."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

INDEX: Final = "wrinkle_index under [limits]"
NO_LIMIT: Final = "no limit given"
BEFORE: Final = "it was reached before this stage began"
BEYOND: Final = (
    "strains beyond the right end of the given curve and above its lowest point, no limit there"
)

_FACTS = {
    "thinning": "{zone}: the sheet has lost {value:.1f} % of its thickness",
    "limit curve": "{zone}: {told}",
    "damage": "{zone}: damage {value:.3g}",
    "ironing": "{zone}: the wall behind it is pulled with {percent:.0f} % of what makes it yield",
    "neck load": "the die pushes with {percent:.0f} % of what a perfect wall bears",
    "edge stretch": "the edge is stretched by {value:.3f} round the axis",
    "holder pressure": "the flange needs {percent:.0f} % of the pressure the holder gives",
    "wrinkle index": "{zone}: a ring no tool holds is pressed with {percent:.0f} % of the stress at"
    " which a strip like it would buckle",
}
_OVER = {
    "thinning": "more than is allowed: {remedy}",
    "limit curve": "a neck opens there: {remedy}",
    "damage": "a crack is to be expected there: {remedy}, or more ductile metal",
    "ironing": "the wall breaks behind the ring: less reduction here, more in another ring, or less"
    " friction at the ring",
    "neck load": "the wall crushes below the die: a smaller step, less friction, a steeper die",
    "edge stretch": "the edge splits: a narrower flange, a smoother trim, or a softer rim",
    "holder pressure": "the flange may wrinkle: raise the holder force",
    "wrinkle index": "it may pucker there, which this model cannot show: {support}",
}
_REMEDY: Mapping[str, str] = MappingProxyType(
    {
        "draw": "larger nose or die radius, less friction or holder force, a smaller blank, or the"
        " draw in two steps",
        "redraw": "larger nose or die radius, less friction, or a smaller step from cup to cup",
        "iron": "less reduction in the ring, or less friction at the ring",
        "stroke": "a smaller step from cup to cup, larger radii of the die, or less reduction in"
        " the rings",
        "dome": "a shallower dome, larger crown or shoulder radius, or less friction and clamp"
        " force",
        "neck": "a smaller step, larger radii of the die, or less friction",
        "flange": "a narrower flange, a larger radius of the tool, or a softer rim",
        "stretch": "a smaller depth, or less friction at the punch",
        "bulge": "a lower height",
        "pressurise": "a lower pressure, or thicker sheet",
        "top_load": "a lower load, or thicker sheet",
    }
)
"""What eases a stretched sheet, by kind of stage; common practice, no source."""
_INHERITED = "a stage before brings it, so that one has to be eased"
_SUPPORT: Mapping[str, str] = MappingProxyType(
    {
        "dome": "a clamp nearer to the dome or with more force, or thicker sheet",
        "neck": "a pilot nearer to the die, a smaller step, or thicker sheet",
        "flange": "a smaller step, or a tool that bears the flange from both sides",
    }
)
_HELD = "hold it nearer, or thicker sheet"
_WATCH = "little is left: scatter of gauge, metal or friction may use it up"
_SAFE = "enough is left"


def reason(
    risk: str,
    verdict: str,
    zone: str,
    value: float | None,
    limit: float | None,
    source: str,
    told: str = "",
    kind: str = "",
) -> str:
    """Why a risk is judged as it is.

    Parameters
    ----------
    value, limit : in the unit of the risk; None where there is none
    source : of the limit, or why there is none
    told : what the number says, where more than the number is to be told
    kind : of the stage, by which the advice goes; empty where it is not known
    """
    if value is None:
        return f"{zone}: {source}"
    fact = _FACTS[risk].format(zone=zone, value=value, percent=100.0 * value, told=told)
    if risk == "thinning" and value < 0.0:
        fact = f"{zone}: the sheet is {-value:.1f} % thicker than at first"
    if limit is None:
        return f"{fact}; {NO_LIMIT}"
    if risk in ("thinning", "damage", "edge stretch"):
        fact += f", the limit is {limit:.3g}"
    if risk == "wrinkle index" and source.startswith(INDEX):
        fact += f", an index of {value:.3g}; the wrinkle_index given is {limit:.3g}"
    if value < 0.0:
        return f"{fact}; nothing of the limit is used"
    if risk == "damage" and told:
        fact += f"; {told}"
    remedy = _INHERITED if BEFORE in told else _REMEDY.get(kind, _INHERITED)
    beyond = _OVER[risk].format(remedy=remedy, support=_SUPPORT.get(kind, _HELD))
    tail = {"over": beyond, "watch": _WATCH, "safe": _SAFE}.get(verdict, verdict)
    if BEYOND in told:
        tail = "measure the curve further to the right"
    if value > limit:
        tail = beyond
    return f"{fact}; {tail}"
