"""The rest of the strip, as a part of it feels it: elastic ends and what it bears on the tools.

While a part of the strip is worked on by itself, the columns beyond its ends follow it linearly.
They are condensed to the node lines they share with it: a force and a stiffness at each end. What
they bear on tools that stand still changes with the axial force they pass on.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from formsim.arrays import Bools, Floats, Ints
from formsim.kernels import kernel


@kernel
def pull_lines(
    u: Floats,
    first: Ints,
    at: Floats,
    force: Floats,
    stiffness: Floats,
    residual: Floats,
) -> tuple[float, float]:
    """Add the forces of the ends to the residual of their lines.

    Parameters
    ----------
    first : first unknown of each line, (n_ends)
    at, force, stiffness : see ``End``, of all ends

    Returns
    -------
    Energy the columns have taken up since they were condensed [N mm], and axial force they pass on
    more than then [N].
    """
    energy, axial = 0.0, 0.0
    for end in range(first.shape[0]):
        begin = first[end]
        for i in range(at.shape[1]):
            more = 0.0
            for j in range(at.shape[1]):
                more += stiffness[end, i, j] * (u[begin + j] - at[end, j])
            residual[begin + i] += force[end, i] + more
            energy += (u[begin + i] - at[end, i]) * (force[end, i] + 0.5 * more)
            if i % 2 == 1:
                axial += more
    return energy, axial


@dataclass(frozen=True)
class End:
    """Columns beyond one end of a part, condensed to the node line they share with it.

    Attributes
    ----------
    line : unknowns of the shared node line, among those of the part
    at : their displacement where the columns were condensed, (n_line) [mm]
    force : force of the columns on the line there, (n_line) [N]
    stiffness : and its derivative, (n_line, n_line) [N/mm]
    """

    line: slice
    at: Floats
    force: Floats
    stiffness: Floats


@dataclass(frozen=True)
class Beyond:
    """The columns beyond both ends of a part.

    Attributes
    ----------
    before, behind : towards the centre and towards the rim, None where the strip ends
    shared : tools that touch columns there, (n_tools)
    totals : what these bear on the tools, see ``contact_forces``, without the stiffness (0),
        (n_tools, 5)
    moments : sum of their contact forces and of the first and second moment of the gaps,
        (n_tools, 3)
    deepest : their deepest gap, (n_tools) [mm]
    unseen : what contact goes by of them, see ``adapt``, (n_tools, 4)
    bearer : tool that bears what more of axial force they pass on, -1 for a support
    held : axial force of the supports on them [N]
    """

    before: End | None
    behind: End | None
    shared: Bools
    totals: Floats
    moments: Floats
    deepest: Floats
    unseen: Floats
    bearer: int
    held: float

    @cached_property
    def ends(self) -> tuple[End, ...]:
        """Those that are there."""
        return tuple(end for end in (self.before, self.behind) if end is not None)

    @cached_property
    def _lines(self) -> tuple[Ints, Floats, Floats, Floats]:
        """First unknown, displacement, force and stiffness of all ends."""
        ends = self.ends
        return (
            np.array([end.line.start for end in ends], dtype=np.int64),
            np.array([end.at for end in ends]),
            np.array([end.force for end in ends]),
            np.array([end.stiffness for end in ends]),
        )

    def pull(self, u: Floats, residual: Floats, totals: Floats) -> float:
        """Add the forces of the ends to a residual and those of the tools to their totals.

        Returns
        -------
        Energy taken up [N mm].
        """
        energy, axial = pull_lines(u, *self._lines, residual) if self.ends else (0.0, 0.0)
        totals += self.totals
        if self.bearer >= 0:
            totals[self.bearer, 1] += axial
        return energy

    def reaction(self, u: Floats) -> float:
        """Axial force of the supports beyond, at a displacement of the part [N]."""
        if self.bearer >= 0:
            return self.held
        pulls = (end.stiffness @ (u[end.line] - end.at) for end in self.ends)
        return self.held - float(sum(pull[1::2].sum() for pull in pulls))


def stiffness_of(end: End | None) -> Floats | None:
    """Stiffness of an end, if it is there [N/mm]."""
    return None if end is None else end.stiffness
