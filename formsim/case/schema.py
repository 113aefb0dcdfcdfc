"""The case: what the user asked for, complete with defaults, frozen."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Self

from pydantic import (
    Field,
    ModelWrapValidatorHandler,
    PrivateAttr,
    ValidationInfo,
    field_validator,
    model_validator,
)

from formsim.case.base import Table, Words
from formsim.case.digest import digest_of
from formsim.case.earlier import Earlier
from formsim.case.expect import Expect
from formsim.case.filling import filled, given_keys
from formsim.case.fit_expect import curve_faults
from formsim.case.fit_limits import limit_faults
from formsim.case.fit_press import press_faults
from formsim.case.fit_rate import rate_faults
from formsim.case.fits import case_faults
from formsim.case.limits import CutEdge, Damage, FormingLimit, Limits
from formsim.case.lines import Origin
from formsim.case.named_file import CONTENT
from formsim.case.press import RamMotion
from formsim.case.quantity import Count, Quantity, refuse
from formsim.case.sheet import Sheet
from formsim.case.stage import Stage
from formsim.case.start import Cup, Result, Start, Tube
from formsim.case.workpiece import Workpiece, workpieces
from formsim.errors import MisfitError

COLUMNS = Count("a number of columns", 8, 20_000)
RIM_FINER = Quantity("how many times shorter columns are", "ratio", 1.0, 6.0)
LAYERS = Count("a number of layers", 1, 12)
FRAMES = Count("a number of states", 1, 2_000)


class Mesh(Table):
    """Elements along the sheet and through its thickness; None means derived from the case.

    ``rim_finer`` is how many times shorter columns are where an ironed wall is necked or flanged;
    with ``columns`` given and this left out they are as long as the others there. Layers left out
    are three where a stage tests the body, see ``filling.py``.
    """

    columns: Annotated[int | None, COLUMNS] = None
    rim_finer: Annotated[float | None, RIM_FINER] = None
    layers: Annotated[int, LAYERS] = 2


class Output(Table):
    """What a run writes besides its numbers; ``frames`` states are kept per stage."""

    frames: Annotated[int, FRAMES] = 40
    figures: bool = True
    picture: bool = True
    report: bool = True


class Case(Table):
    """One sheet and the stages it goes through, with everything needed to run and judge it.

    It starts as a flat blank unless ``start`` names a tube, a cup or a finished result; sheet and
    mesh are those of the result then. With a ``press`` its stages are told against time too; the
    solution knows rates only where the material has a rate law, by the ``speed`` of each stage.
    """

    title: Words
    source: Words
    start: Start | None = None
    sheet: Sheet
    stage: tuple[Stage, ...] = Field(
        strict=False, description="at least one [[stage]] table with its kind"
    )
    press: RamMotion | None = None
    mesh: Mesh = Mesh()
    output: Output = Output()
    expect: tuple[Expect, ...] = Field(default=(), strict=False)
    limits: Limits = Limits()
    _given: frozenset[str] = PrivateAttr(default=frozenset())
    _origin: Origin = PrivateAttr(default=Origin())

    @field_validator("stage")
    @classmethod
    def _has_stages(cls, stages: tuple[Stage, ...]) -> tuple[Stage, ...]:
        if not stages:
            refuse("the list of stages is empty: expected at least one [[stage]]")
        return stages

    @model_validator(mode="wrap")
    @classmethod
    def _fill_and_check(
        cls, raw: Any, handler: ModelWrapValidatorHandler[Self], info: ValidationInfo
    ) -> Self:
        if not isinstance(raw, Mapping):
            return handler(raw)
        origin = info.context if isinstance(info.context, Origin) else Origin()
        case = handler(filled(raw, origin.earlier))
        case._given, case._origin = frozenset(given_keys(raw)), origin
        begin, before = case.began_with, case.before
        faults = case_faults(
            case.sheet,
            case.stage,
            case.expect,
            begin,
            before,
            flat=case.start is None,
            height=case.earlier.height if case.earlier else None,
        )
        if case.press is not None and not faults:
            faults = list(press_faults(case.press, case.sheet, case.stages, begin, before))
        faults += limit_faults(case.limits, case.sheet)
        faults += curve_faults(case.forming_limit, case.expect)
        faults += rate_faults(case.sheet.material, case.stages, before)
        if faults:
            raise MisfitError(faults)
        return case

    @property
    def stages(self) -> tuple[Stage, ...]:
        """The stages in their order."""
        return self.stage

    @property
    def forming_limit(self) -> FormingLimit | None:
        """Limit curve of the case, else that of its card; None where neither gives one."""
        return self.limits.forming_limit or self.sheet.material.forming_limit

    @property
    def damage(self) -> Damage | None:
        """Damage law of the case, else that of its card; None where neither gives one."""
        return self.limits.damage or self.sheet.material.damage

    @property
    def cut_edge(self) -> CutEdge | None:
        """What a cut edge bears by the case, else by its card; None where neither tells."""
        return self.limits.cut_edge or self.sheet.material.cut_edge

    @property
    def earlier(self) -> Earlier | None:
        """The result the case starts from; None where it starts from none."""
        return self._origin.earlier if isinstance(self.start, Result) else None

    @property
    def before(self) -> tuple[Stage, ...]:
        """Stages an earlier run has made of the sheet."""
        return self.earlier.stages if self.earlier else ()

    @property
    def began_with(self) -> Tube | Cup | None:
        """Tube or cup the sheet was before any stage; None for a flat blank."""
        if isinstance(self.start, Result):
            return self.earlier.start if self.earlier else None
        return self.start

    def made_before(self, number: int) -> tuple[Stage, ...]:
        """All stages the sheet has gone through before one of this case, ``number`` from 0."""
        return (*self.before, *self.stage[:number])

    def received(self) -> tuple[Workpiece | None, ...]:
        """What each stage is given, by nominal sizes; None where that is not known."""
        return tuple(workpieces(self.sheet, self.stage, self.began_with, self.before))

    @property
    def digest(self) -> str:
        """Name of the case by its numbers, 12 hexadecimal characters.

        A result it starts from enters by its own digest and the stage the case goes on from.
        """
        values = self.model_dump(context=CONTENT)
        if self.earlier:
            values["start"] = {"digest": self.earlier.digest, "after": self.earlier.after}
        return digest_of(values)

    @property
    def given(self) -> frozenset[str]:
        """Key paths of the values that were given rather than defaulted."""
        return self._given

    @property
    def origin(self) -> Origin:
        """The file the case was read from."""
        return self._origin
