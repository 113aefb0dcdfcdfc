"""What a failed trust check means, sentence by sentence; guidance from our own runs, no source."""

from __future__ import annotations

from typing import NamedTuple


class Advice(NamedTuple):
    """Cause, consequence and remedy of a failed trust check."""

    cause: str
    consequence: str
    remedy: str


UNKNOWN = Advice(
    "not known for this check",
    "the numbers of this stage may be off by more than the tolerance says",
    "more columns or layers under [mesh], and compare",
)

ADVICE = {
    "out-of-balance force": Advice(
        "an increment was accepted before its forces were in balance, mostly while the sheet"
        " slips or snaps at a tool",
        "forces at that stroke are off by about this share; shape and thickness hardly change",
        "more columns under [mesh], or a slightly larger radius or gap at that tool",
    ),
    "increments accepted above": Advice(
        "the solver could not reach its tolerance there even with short steps",
        "the state after that stroke carries the error along; treat forces with caution",
        "more columns under [mesh], a larger gap or radius, or other friction to see whether it"
        " is the case or the mesh",
    ),
    "tool force by contact": Advice(
        "tractions at the tool and forces inside the sheet disagree, so an increment was not"
        " quite in equilibrium, or two tools act on one node",
        "tool forces are no better than this share; thickness is hardly touched",
        "more columns under [mesh]; if the difference is far below 1e-3 the forces can be used"
        " for choosing a press",
    ),
    "work of the press": Advice(
        "energy was lost or gained between increments, by increments that are long for the mesh"
        " or by contact that chatters",
        "work and forces are no better than this share",
        "more columns under [mesh], and look for jumps in figures/forces-...",
    ),
    "work of the help": Advice(
        "the sheet jumped from one shape to another and had to be slowed down, or its free rim"
        " folds up",
        "the path right after the jump is not the true one; later states are, if the jump is real",
        "look at the section there: where tools form the sheet, avoid the jump by a tighter"
        " clearance or more holder force; a body under test has given way where it jumps",
    ),
    "work of the tools": Advice(
        "tools press so hard that much of their work goes into the numerical contact: a large"
        " clamp or holder force on a small area",
        "work of that tool is too large by about this share; its force and the thickness are right",
        "less force on the clamp or holder; otherwise take the work less this share",
    ),
    "heat of the work": Advice(
        "energy was lost or gained between increments, by increments that are long for the mesh"
        " or by contact that chatters",
        "temperatures are off by about this share of their rise",
        "more columns under [mesh]; where little is worked the work of the tools weighs most",
    ),
    "largest share of the flow stress": Advice(
        "an increment takes the temperature it began with, and this one warmed the metal a lot",
        "the flow stress there lags behind by up to this share, and forces by less",
        "more columns under [mesh], which makes increments shorter, and compare the temperature",
    ),
    "jump of a tool force": Advice(
        "the columns beyond those that were worked on bore more or less than they were taken to",
        "forces shortly before that stroke are off by about this share",
        "run with --exact and compare",
    ),
    "deepest penetration": Advice(
        "the contact is pressed harder at one point than its stiffness follows, mostly at a sharp"
        " edge or where two tools pinch the sheet",
        "thickness is off by up to this share of it at that place",
        "more columns under [mesh], a larger radius at that tool, or less force on it",
    ),
    "smallest volume ratio": Advice(
        "an element is badly distorted",
        "strains and thickness near that place are doubtful",
        "more columns under [mesh], or larger tool radii",
    ),
    "change of volume under load": Advice(
        "plastic flow keeps the volume, so more change than elasticity allows is a numerical error",
        "thickness is off by about this share",
        "four layers under [mesh], and more columns",
    ),
    "change of volume after": Advice(
        "plastic flow keeps the volume, so a change that stays after unloading is a numerical"
        " error, or the springback did not end in equilibrium",
        "thickness is off by about this share",
        "four layers under [mesh], and more columns",
    ),
    "normal thickness against": Advice(
        "the sheet is bent or sheared so sharply that thickness by distance and by strain differ",
        "the thickness near that place depends on how it is measured, by about this share",
        "four layers and more columns under [mesh]; a larger radius there",
    ),
    "cup height against": Advice(
        "the wall is not straight, the base not flat, or the sheet has lost volume",
        "the height from thin-wall geometry and the simulated one differ by more than the formula"
        " allows",
        "look at the section for a bulged wall; then more columns under [mesh]",
    ),
}
"""Begin of the name of a check, behind its stage -> what to say."""


def advice_on(name: str) -> Advice:
    """Advice on a check by its name, ``stage: what``."""
    what = name.partition(": ")[2]
    return next((text for start, text in ADVICE.items() if what.startswith(start)), UNKNOWN)
