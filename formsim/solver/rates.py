"""Factor of the plastic strain rate on the flow stress, from constants beside those of the metal.

The rate is that of the increment itself, its plastic strain over its time. With the rate of the
increment before, the load would jump from one element to the next: a disturbance of the rate grows
by ``m s/(h dep)`` in every increment, 10 and more for usual sheet.
"""

from __future__ import annotations

from formsim.arrays import Floats
from formsim.kernels import kernel

OFFSET, SLOWEST, UNIT, POWER = range(6, 10)
"""Places of a rate law among the constants of the material; a power of 0 stands for none."""

NO_RATE = (0.0, 1.0, 1.0, 0.0)


@kernel
def rate_factor(material: Floats, rate: float) -> tuple[float, float]:
    """Factor on the flow stress and its slope over the rate [-], [s].

    ``offset + (rate/unit)**power`` from the slowest rate on, below it a straight line from 1; see
    ``material.rate``.
    """
    power = material[POWER]
    if power <= 0.0:
        return 1.0, 0.0
    offset, slowest, unit = material[OFFSET], material[SLOWEST], material[UNIT]
    if rate < slowest:
        bend = (offset + (slowest / unit) ** power - 1.0) / slowest
        return 1.0 + bend * rate, bend
    part = (rate / unit) ** power
    return offset + part, power * part / rate
