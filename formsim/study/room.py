"""Room on the disk of a study: what its variants take, and what is said where none is left."""

from __future__ import annotations

import statistics
from pathlib import Path

from formsim.errors import DiskFullError
from formsim.report.words import counted
from formsim.results.files import free_room
from formsim.study.folder import StudyFolder

SCARCE = 1e6
"""Room below which what went wrong most likely found the disk full [bytes]."""

MOST_LOOKED_AT = 20


def is_scarce(folder: StudyFolder) -> bool:
    """Whether hardly any room is left on the disk of a study."""
    return free_room(folder.path) < SCARCE


def no_room(folder: StudyFolder, why: str, left: int) -> DiskFullError:
    """What is told where a study ends for want of room.

    Parameters
    ----------
    why : what could not be written
    left : variants not solved yet
    """
    each, free = _each(folder), free_room(folder.path)
    need = "how much a variant takes is not known yet"
    if each is not None:
        need = (
            f"a variant takes about {1e-6 * each:.2g} MB, all of them {1e-6 * each * left:.2g} MB"
        )
    message = (
        f"no room is left on the disk of {folder.path}, where {1e-6 * free:.1f} MB are free:"
        f" {counted(left, 'variant')} {'is' if left == 1 else 'are'} not solved; {need}; {why}"
    )
    hint = "free room there and repeat the command: what is solved stays and is not solved again"
    return DiskFullError(message, hint=hint)


def _each(folder: StudyFolder) -> float | None:
    """What the result of a variant takes on the disk [bytes]; None where there is none."""
    results = [folder.result(key) for key in folder.solved_keys()[:MOST_LOOKED_AT]]
    sizes = [_size(one) for one in results if one.is_dir()]
    return statistics.fmean(sizes) if sizes else None


def _size(folder: Path) -> int:
    """Room that files of a folder take, each in whole blocks [bytes]."""
    return sum(512 * file.stat().st_blocks for file in folder.rglob("*"))
