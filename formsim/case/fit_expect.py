"""Cross-checks of expectations: does the stage they name have what they measure."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from types import MappingProxyType

from formsim.case.expect import OF_A_TEST, OF_RISK, Wanted
from formsim.case.limits import FormingLimit
from formsim.case.stage import Bulge, Draw, Pressurise, Stage, TopLoad, brought_to_limit
from formsim.errors import Fault

_Need = tuple[Callable[[Stage], bool], str]


def _has(tool: str) -> Callable[[Stage], bool]:
    return lambda stage: getattr(stage, tool, None) is not None


def _is_proof(stage: Stage) -> bool:
    return isinstance(stage, Pressurise) and stage.until != "limit" and stage.springback


_LIMIT = 'a pressurise stage with until = "limit"'
_SERVICE = "a pressurise stage with a service pressure"
_PROOF = "a pressurise stage whose until is a pressure, with springback"
_NO_TEST = "a stage whose body is not tested until it gives way"
_NEEDS: Mapping[str, _Need] = MappingProxyType(
    {
        "punch_force": (_has("punch"), "a stage with a punch"),
        "holder_force": (lambda stage: isinstance(stage, Draw), "a draw"),
        "dome_force": (_has("dome"), "a stage with a dome"),
        "clamp_force": (_has("clamp"), "a stage with a clamp"),
        "pressure": (
            lambda stage: (
                isinstance(stage, Bulge | Pressurise)
                or (isinstance(stage, TopLoad) and stage.pressure > 0.0)
            ),
            "a stage with a fluid pressure",
        ),
        "limit_pressure": (
            lambda stage: isinstance(stage, Pressurise) and stage.until == "limit",
            _LIMIT,
        ),
        "crush_load": (lambda stage: isinstance(stage, TopLoad), "a top_load stage"),
        **dict.fromkeys(OF_RISK, (lambda stage: not brought_to_limit(stage), _NO_TEST)),
        **dict.fromkeys(
            ("service_centre_growth", "service_nose_growth"),
            (lambda stage: isinstance(stage, Pressurise) and bool(stage.service), _SERVICE),
        ),
        **dict.fromkeys(("permanent_centre_growth", "permanent_nose_growth"), (_is_proof, _PROOF)),
    }
)
"""What the stage of a measure must be, and that in words; other measures go with any stage."""


def expect_faults(
    stages: Sequence[Stage], expect: Sequence[Wanted | None], where: str = "expect"
) -> Iterator[Fault]:
    """Expectations of stages that are not there, or that cannot have what is measured.

    Parameters
    ----------
    where : key of their list
    """
    named = {stage.name: stage for stage in stages}
    for index, item in enumerate(expect):
        if item is None:
            continue
        key = f"{where}[{index}]"
        if item.stage is not None and item.stage not in named:
            yield Fault(
                f"{key}.stage",
                f'"{item.stage}"',
                f"is no stage of this case; its stages are {', '.join(named)}",
            )
            continue
        stage = stages[-1] if item.stage is None else named[item.stage]
        fits, needed = _NEEDS.get(item.measure, (lambda _: True, ""))
        if not fits(stage):
            whose = "the last stage" if item.stage is None else "its stage"
            yield Fault(
                f"{key}.measure",
                f'"{item.measure}"',
                f'needs {needed}; {whose} "{stage.name}" is none',
            )
        if item.at is not None and item.measure in OF_A_TEST:
            yield Fault(
                f"{key}.at", f"{item.at:g}", f"{item.measure} has one value for the whole stage"
            )


def curve_faults(
    curve: FormingLimit | None, expect: Sequence[Wanted | None], where: str = "expect"
) -> Iterator[Fault]:
    """Shares of a limit curve that are expected where the case and its card give none."""
    for index, item in enumerate(expect):
        if curve is None and item is not None and item.measure == "limit_curve_share":
            yield Fault(
                f"{where}[{index}].measure",
                f'"{item.measure}"',
                "needs a limit curve: give forming_limit under [limits] or in the card",
            )
