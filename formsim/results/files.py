"""Files of a result folder read and written whole, with messages for what goes wrong."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from formsim.errors import StoreError
from formsim.layout import FORMAT

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


def read_text(file: Path) -> str:
    """Text of a file of a result folder.

    Raises
    ------
    StoreError : it is missing or cannot be read
    """
    try:
        return file.read_text(encoding="utf-8")
    except FileNotFoundError as error:
        if not file.parent.is_dir():
            message = f"there is no folder {file.parent}"
            raise StoreError(message, hint="name the folder of a result") from error
        message = f"there is no result in {file.parent}: {file.name} is missing"
        raise StoreError(message, hint="run the case first, or name its result folder") from error
    except (OSError, UnicodeDecodeError) as error:
        message = f"{file} cannot be read: {error}"
        raise StoreError(message, hint="run the case again") from error


def check_format(file: Path, found: object) -> None:
    """Refuse a file of another layout.

    Raises
    ------
    StoreError : ``found`` is not the format this version reads
    """
    if str(found) != str(FORMAT):
        message = f"{file} has the format {found}, this version reads {FORMAT}"
        raise StoreError(message, hint="run the case again with this version")


@contextmanager
def writing(path: Path) -> Iterator[None]:
    """Turn a refusal of the system into a ``StoreError`` that names the file."""
    try:
        yield
    except OSError as error:
        message = f"{path} cannot be written: {error.strerror or error}"
        raise StoreError(message, hint=ELSEWHERE) from error
