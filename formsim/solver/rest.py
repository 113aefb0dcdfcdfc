"""Elements at rest: what is known of them, so that they need not be worked out again."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formsim.arrays import Floats, Ints

RESTFUL = 3e-5
"""Displacement within an element, in sheet thicknesses, up to which it is at rest."""


@dataclass(frozen=True)
class Rest:
    """Elements at rest: what came of them when they were last worked out, see ``element_forces``.

    Filled by every evaluation, and right for any state of the body in which the element has not
    flowed since; one that has flows in the evaluation and is then no longer at rest. ``times``
    counts how often that was: a copy of the stiffness is good as long as it stays.
    """

    seen: Floats
    force: Floats
    stiffness: Floats
    energy: Floats
    restful: Ints
    times: Ints


def no_rest(n_el: int) -> Rest:
    """Nothing seen yet."""
    return Rest(
        seen=np.zeros((n_el, 16)),
        force=np.zeros((n_el, 16)),
        stiffness=np.zeros((n_el, 16, 16)),
        energy=np.zeros(n_el),
        restful=np.zeros(n_el, dtype=np.int64),
        times=np.zeros(n_el, dtype=np.int64),
    )


def rest_of(rest: Rest, elements: slice) -> Rest:
    """The same of some elements only: views, so that both stay right."""
    return Rest(
        rest.seen[elements],
        rest.force[elements],
        rest.stiffness[elements],
        rest.energy[elements],
        rest.restful[elements],
        rest.times[elements],
    )


def wake(rest: Rest, elements: slice) -> None:
    """Work some elements out again next time: increments they have flowed in were undone."""
    rest.restful[elements] = 0
