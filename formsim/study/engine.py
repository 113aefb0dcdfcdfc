"""What solves the variants of a study: the contract that local workers and schedulers share.

Variants are case files in the study folder, and a worker, ``formsim worker``, solves them by their
keys and writes a row for each. An engine only sees to it that workers run. Whether a variant is
finished is decided by its row alone; what has none when the engine is through is tried again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Final, Literal, Protocol

BEGUN: Final = "begun"
AT: Final = "at"
ENDED: Final = "ended"
LOST: Final = "lost"
FULL: Final = "full"
"""Words of a worker on a variant: begun, how far it is, ended, lost, no room left on the disk."""

What = Literal["begun", "ended", "lost", "full"]
OUTCOMES: Final[Mapping[str, What]] = MappingProxyType({ENDED: ENDED, LOST: LOST, FULL: FULL})
"""What may become of a variant."""


@dataclass(frozen=True)
class Event:
    """Something happened to a variant.

    Attributes
    ----------
    what : a worker has ``begun`` it, has ``ended`` it, was ``lost`` with it, or found the disk full
    why : how it was lost, or what could not be written
    """

    key: str
    what: What
    why: str = ""


class Engine(Protocol):
    """Runs workers somewhere."""

    @property
    def workers(self) -> int:
        """How many variants are solved at a time."""
        ...

    def solve(self, folder: Path, keys: Sequence[str]) -> Iterator[Event]:
        """Have variants solved; closing the iterator stops all workers."""
        ...
