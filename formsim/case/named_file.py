"""Files that a case names, such as drawings and limit curves: where they lie, what is in them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import BaseModel
from pydantic_core.core_schema import SerializationInfo, ValidationInfo

from formsim.case.file_bytes import UnreadableError, file_bytes, files_beside
from formsim.case.lines import Origin
from formsim.case.quantity import refuse

CONTENT = "content of files"
"""Context of a dump in which a file stands for what is in it and not for its name."""


@dataclass(frozen=True)
class NamedFile:
    """A file that a case names, as it was when the case was read.

    Attributes
    ----------
    name : as the case file says it, relative to the folder of the case file
    path : where it lies
    content : SHA-256 of what is in it
    """

    name: str
    path: Path
    content: str

    def __str__(self) -> str:
        return self.name


def named_file(raw: Any, info: ValidationInfo, known: str, largest: int, ending: str) -> NamedFile:
    """Find a file that a case names and take the digest of what is in it.

    Parameters
    ----------
    known : what the case should say, in words
    largest : accepted [bytes]
    ending : of files to name where there is none of that name, without the point
    """
    if not isinstance(raw, str):
        refuse(f"{known}; this is not a text in quotes")
    if not raw.strip() or "\\" in raw or not raw.isprintable():
        refuse(f"{known}; between folders stands /")
    folder = info.context.folder if isinstance(info.context, Origin) else Path()
    path = folder / raw
    return NamedFile(raw, path, _content(path, known, largest, ending))


def _content(path: Path, known: str, largest: int, ending: str) -> str:
    """SHA-256 of a file, 64 hexadecimal characters."""
    try:
        return hashlib.sha256(file_bytes(path, largest, f"a {ending.upper()} file")).hexdigest()
    except UnreadableError as error:
        if not error.absent:
            refuse(f"{known}; it {error.reason}")
        beside = files_beside(path, f".{ending}")
        where = f"; {beside}" if beside else f" in {path.parent}"
        refuse(f"{known}; there is {error.reason}{where}")


def dumped_file(file: NamedFile | None, info: SerializationInfo) -> str | None:
    """A file as a dump shows it: what is in it where the digest is taken, else where it lies."""
    if file is None:
        return None
    return file.content if info.context == CONTENT else str(file.path)


def named_files(table: BaseModel) -> Iterator[NamedFile]:
    """Files that a case or a part of it names, in its order, once for every use."""
    for name in type(table).model_fields:
        value = getattr(table, name)
        for item in value if isinstance(value, tuple) else (value,):
            if isinstance(item, NamedFile):
                yield item
            elif isinstance(item, BaseModel):
                yield from named_files(item)
