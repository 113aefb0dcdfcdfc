"""What solves the variants of a study: the contract that local workers and schedulers share.

Variants are case files in the study folder, and a worker, ``formsim worker``, solves them by their
keys and writes a row for each. An engine only sees to it that workers run. Whether a variant is
finished is decided by its row alone; what has none when the engine is through is tried again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal, Protocol

BEGUN: Final = "begun"
ENDED: Final = "ended"
LOST: Final = "lost"


@dataclass(frozen=True)
class Event:
    """Something happened to a variant.

    Attributes
    ----------
    what : a worker has ``begun`` it, has ``ended`` it, or was ``lost`` with it
    why : how it was lost
    """

    key: str
    what: Literal["begun", "ended", "lost"]
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
