"""Oven cure: worked metal recovers and its flow curve comes down.

The law is ``sigma_after(ep) = factor * sigma_before(ep)``: one factor on the whole flow curve of
the sheet. So the yield stress of every worked place is ``factor`` times what it was at its plastic
strain, which is what tensile tests of the baked wall beside the unbaked wall measure, and the
hardening that follows is softened alike. It holds for sheet that is worked everywhere, as
hard-rolled can stock is: metal that was never worked would not recover, and the law softens it too.
Ageing of alloys that harden in the oven is not part of it.

The factor is given, or comes from a cure by the logarithmic law of recovery, with constants that
the material card must bring: there are none that hold for every alloy.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from formsim.case.card import MaterialCard, Recovery
from formsim.case.stage import Bake, Stage
from formsim.errors import FormsimError
from formsim.material.flow import Softened
from formsim.material.model import Material

GAS = 8.314462618e-3
"""Molar gas constant [kJ/(mol K)]; exact in the SI of 2019."""

KELVIN = 273.15
LEAST = 0.2
"""Share of the flow stress below which metal would recrystallise and the law has ended; our own."""


def baked(stage: Bake, material: Material, card: MaterialCard) -> Material:
    """Metal after the cure.

    Raises
    ------
    FormsimError : time and temperature are given, and the card does not say how the metal recovers
    """
    return replace(material, flow=Softened(material.flow, factor_of(stage, card)))


def metal_behind(stages: Sequence[Stage], card: MaterialCard) -> Material:
    """Metal of a card as some stages leave it: all ovens among them have softened it."""
    material = Material.from_card(card)
    for stage in stages:
        if isinstance(stage, Bake):
            material = baked(stage, material, card)
    return material


def factor_of(stage: Bake, card: MaterialCard) -> float:
    """Share of the flow stress that is left after the cure [-]."""
    if stage.factor is not None:
        return stage.factor
    if card.recovery is None or stage.temperature is None or stage.time is None:
        message = f"the card of {card.name} does not say how the metal recovers in the oven"
        raise FormsimError(message, hint="give bake a factor, or the card a recovery table")
    left = remaining_share(card.recovery, stage.temperature, stage.time)
    if left < LEAST:
        message = (
            f"after {stage.time:g} s at {stage.temperature:g} degC the law of recovery leaves"
            f" {left:.2f} of the flow stress: it holds down to {LEAST:g}"
        )
        raise FormsimError(message, hint="check the recovery constants, or give bake a factor")
    return left


def remaining_share(law: Recovery, temperature: float, time: float) -> float:
    """Share of the flow stress that is left after a time at a temperature [-].

    Parameters
    ----------
    temperature : of the metal [degC]
    time : at that temperature [s]

    The share x falls as ``dx/dt = -rate exp(-(activation_energy + rise (1 - x))/(R T))``: the
    barrier rises as the driving stress goes down. From x = 1 this gives
    ``x = 1 - (R T/rise) ln(1 + t/tau)`` with
    ``tau = R T/(rise rate) exp(activation_energy/(R T))``.
    Source: D. Kuhlmann, G. Masing and J. Raffelsieper, "Zur Theorie der Erholung",
    Z. Metallkunde 40, 1949, logarithmic recovery (memory), in shares of the flow stress.
    """
    thermal = GAS * (temperature + KELVIN)
    start = law.rate * math.exp(-law.activation_energy / thermal)
    return 1.0 - thermal / law.rise * math.log1p(law.rise * start * time / thermal)
