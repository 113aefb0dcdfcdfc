"""Files that are written in one go, and what to say where they cannot be written."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from formsim.errors import StoreError

ELSEWHERE = "choose another folder with --into"


def write_whole(path: Path, content: str | bytes) -> None:
    """Write a file in one go: after a kill it is the old one or the new one.

    Raises
    ------
    StoreError : it cannot be written
    """
    with writing(path):
        part = path.with_name(path.name + ".part")
        try:
            if isinstance(content, str):
                part.write_text(content, encoding="utf-8")
            else:
                part.write_bytes(content)
            part.replace(path)
        finally:
            part.unlink(missing_ok=True)


@contextmanager
def writing(path: Path) -> Iterator[None]:
    """Errors of the system while a file is written become those a user reads."""
    try:
        yield
    except OSError as error:
        message = f"{path} cannot be written: {error.strerror or error}"
        raise StoreError(message, hint=ELSEWHERE) from error
