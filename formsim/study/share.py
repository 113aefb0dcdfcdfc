"""Variants shared out among tasks that see one folder: each takes the next one as it gets free.

What waits is a file in one folder; who moves it into another has it, and only one can.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from formsim.results.files import writing
from formsim.study.engine import ENDED, FULL, OUTCOMES, Event
from formsim.study.fed import FedWorker

WAITING, TAKEN = "waiting", "taken"


@dataclass(frozen=True)
class Share:
    """Variants that wait, and those that were taken, in a folder."""

    place: Path

    def put(self, keys: Sequence[str]) -> None:
        """Lay variants out, in the place of all that lay there."""
        for name in (WAITING, TAKEN):
            folder = self.place / name
            with writing(folder):
                folder.mkdir(parents=True, exist_ok=True)
                for file in folder.iterdir():
                    file.unlink()
        for number, key in enumerate(keys):
            file = self.place / WAITING / f"{number:06d}_{key}"
            with writing(file):
                file.touch()

    def take(self) -> Iterator[str]:
        """Variants one after the other, each of which nobody else gets."""
        waiting = self.place / WAITING
        while names := sorted(file.name for file in waiting.iterdir()):
            for name in names:
                key = name.partition("_")[2]
                with suppress(FileNotFoundError):
                    (waiting / name).rename(self.place / TAKEN / key)
                    yield key
                    break

    def tell(self, event: Event) -> None:
        """Say of a variant that was taken how it was lost."""
        with suppress(OSError):
            text = f"{event.what} {event.why}"
            (self.place / TAKEN / event.key).write_text(text, encoding="utf-8")

    def taken(self) -> Mapping[str, Event | None]:
        """Variants that were taken, with how they were lost where that was told."""
        found: dict[str, Event | None] = {}
        for file in (self.place / TAKEN).iterdir():
            what, _, why = file.read_text(encoding="utf-8").partition(" ")
            known = OUTCOMES.get(what)
            found[file.name] = Event(file.name, known, why) if known else None
        return found


def work_off(folder: Path, place: Path) -> None:
    """Have variants of a study solved as long as some wait; one that is lost costs no other."""
    share, worker = Share(place), FedWorker(folder)
    try:
        for key in share.take():
            event = worker.solve(key)
            if event.what != ENDED:
                share.tell(event)
            if event.what == FULL:
                break
    finally:
        worker.end()
