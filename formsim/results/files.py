"""Files of a result folder read and written whole, with messages for what goes wrong."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from formsim.errors import DiskFullError, StoreError
from formsim.layout import FORMAT

ELSEWHERE = "choose another folder with --into"
_FULL = (errno.ENOSPC, errno.EDQUOT)


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
        if is_full(error):
            raise full_disk(path, error) from error
        message = f"{path} cannot be written: {error.strerror or error}"
        raise StoreError(message, hint=ELSEWHERE) from error


def is_full(error: BaseException) -> bool:
    """Whether an error, or what caused it, is a disk without room or a quota that is used up."""
    return isinstance(error, DiskFullError) or _errno(error) is not None


def _errno(error: BaseException) -> int | None:
    """Number by which the system says that there is no room, of an error or what caused it."""
    found: BaseException | None = error
    while found is not None:
        if isinstance(found, OSError) and found.errno in _FULL:
            return found.errno
        found = found.__cause__ or found.__context__
    return None


def full_disk(path: Path, error: BaseException) -> DiskFullError:
    """What is told of a file or folder for which there is no room."""
    if isinstance(error, DiskFullError):
        return error
    why = os.strerror(_errno(error) or errno.ENOSPC)
    message = f"{path} cannot be written: {why} ({free_words(path)})"
    hint = "free room there and repeat the command, or choose a folder elsewhere with --into"
    return DiskFullError(message, hint=hint)


def free_room(path: Path) -> int:
    """Room left on the disk of a file or folder, which need not be there yet [bytes]."""
    for place in (path.absolute(), *path.absolute().parents):
        with suppress(OSError):
            return shutil.disk_usage(place).free
    return 0


def free_words(path: Path) -> str:
    """Room left on the disk of a file or folder, in words."""
    return f"{1e-6 * free_room(path):.1f} MB are free"
