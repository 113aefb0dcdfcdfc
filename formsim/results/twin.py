"""A growing file that is whole at every moment, without writing it anew whenever it grows.

Of the file there are two copies. The change is made to the one nobody reads, which then takes the
name of the other. So a kill at any moment leaves a whole file, the one before or the one after.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

ENDINGS = (".part", ".old")
"""What the names of the copies that nobody reads end in."""


@contextmanager
def new_file(path: Path) -> Iterator[Path]:
    """Path to write a new file to; it takes its name when it is whole."""
    drop_twin(path)
    with _removed_unless_done(path):
        yield _named(path)[0]
        _named(path)[0].replace(path)


@contextmanager
def changed(path: Path) -> Iterator[Path]:
    """Copy of a file to change, which then changes places with it.

    The copy may be that of one change before, so what has come since has to be added to it first.
    No copy is left when the change fails.
    """
    with _removed_unless_done(path):
        part = _named(path)[0]
        if not part.exists():
            shutil.copyfile(path, part)
        yield part
        _exchange(path)


def drop_twin(path: Path) -> None:
    """Remove the copy beside a file that will not grow any more."""
    for copy in _named(path):
        copy.unlink(missing_ok=True)


def _named(path: Path) -> tuple[Path, Path]:
    part, old = (path.with_name(path.name + ending) for ending in ENDINGS)
    return part, old


@contextmanager
def _removed_unless_done(path: Path) -> Iterator[None]:
    done = False
    try:
        yield
        done = True
    finally:
        if not done:
            drop_twin(path)


def _exchange(path: Path) -> None:
    """Let both copies change names; where a file can have one name only, one copy is left."""
    part, old = _named(path)
    with suppress(OSError):
        os.link(path, old)
    part.replace(path)
    if old.exists():
        old.replace(part)
