"""What rate and heat have done to the metal of a stage."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from formsim.arrays import Floats
from formsim.case.stage import Formed, Stage
from formsim.results.record import StageRecord
from formsim.results.thickness import thickness_profile
from formsim.results.zones import zones
from formsim.solver.body import Body
from formsim.solver.part import columns_of
from formsim.solver.state import State
from formsim.solver.tempo import FACTOR, FASTEST, temperatures


@dataclass(frozen=True)
class RateAndHeat:
    """Rate and heat of a stage whose metal knows them.

    Attributes
    ----------
    speed : of the stage, None where its rates do not count [mm/s]
    highest_strain_rate : of an element in any increment, each point's own highest rate averaged
        over its points; None without a speed [1/s]
    highest_factor, lowest_factor : on the flow stress in the kept states, of both together [-]
    highest_temperature : mean over the thickness at the end of the stroke, None where none is
        followed [degC]
    highest_temperature_zone : where; empty without
    """

    speed: float | None
    highest_strain_rate: float | None
    highest_factor: float
    lowest_factor: float
    highest_temperature: float | None
    highest_temperature_zone: str


def column_temperatures(body: Body, state: State) -> Floats | None:
    """Mean temperature over the thickness, (n_columns) [degC]; None where none is followed."""
    degrees = temperatures(state)
    if degrees is None:
        return None
    count = columns_of(body).count
    weight = body.volume.reshape(count, -1)
    mean: Floats = (degrees.reshape(count, -1) * weight).sum(axis=1) / weight.sum(axis=1)
    return mean


def rate_and_heat(
    record: StageRecord, stage: Stage, before: Sequence[Stage] = ()
) -> RateAndHeat | None:
    """Rate and heat of a stage; None where its metal knows neither or nothing was worked."""
    if not record.increments or not record.final.heat.size:
        return None
    factors = [frame.state.heat[..., FACTOR] for frame in record.frames if frame.phase == "forming"]
    speed = stage.speed if isinstance(stage, Formed) else None
    degrees, zone = column_temperatures(record.body, record.formed), ""
    if degrees is not None:
        profile = thickness_profile(record.body, record.formed)
        zone = zones(profile, stage, before)[1:][int(degrees.argmax())]
    return RateAndHeat(
        speed=speed,
        highest_strain_rate=None if speed is None else _fastest(record.formed),
        highest_factor=max(float(values.max()) for values in factors),
        lowest_factor=min(float(values.min()) for values in factors),
        highest_temperature=None if degrees is None else float(degrees.max()),
        highest_temperature_zone=str(zone),
    )


def _fastest(state: State) -> float:
    return float(state.heat[..., FASTEST].mean(axis=1).max())


def rate_row(record: StageRecord, stage: Stage, before: Sequence[Stage] = ()) -> dict[str, Any]:
    """Keys that rate and heat add to the row of a stage in the summary."""
    found = rate_and_heat(record, stage, before)
    return {} if found is None else {"rate_and_heat": asdict(found)}
