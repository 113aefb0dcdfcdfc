"""A test file as columns of numbers."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from formsim.case.file_bytes import UnreadableError, file_bytes, files_beside
from formsim.case.number_table import NumberTable, number_table
from formsim.errors import CaseError, Fault, TensileError

LARGEST = 50_000_000
"""Largest test file accepted [bytes]."""


@dataclass(frozen=True)
class DataTable:
    """Numbers of a test file.

    Attributes
    ----------
    file : name of the file
    digest : SHA-256 of what is in it, the first 12 hexadecimal characters
    columns : what it holds
    """

    file: str
    digest: str
    columns: NumberTable


def read_table(path: Path) -> DataTable:
    """Read a file of columns.

    Raises
    ------
    TensileError : with the lines that cannot be read
    """
    data = _bytes_of(path)
    try:
        columns = number_table(data, path.name)
    except CaseError as error:
        raise TensileError(path.name, list(error.faults)) from None
    return DataTable(path.name, hashlib.sha256(data).hexdigest()[:12], columns)


def _bytes_of(path: Path) -> bytes:
    try:
        return file_bytes(path, LARGEST, "a file of one tensile test")
    except UnreadableError as error:
        hint = files_beside(path, ".csv", ".txt", ".tsv", ".dat") if error.absent else ""
        raise TensileError(str(path), [Fault("file", "", error.reason)], hint=hint) from None
