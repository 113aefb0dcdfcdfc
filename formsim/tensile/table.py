"""A test file as columns of numbers."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

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
        if path.is_dir():
            raise TensileError(str(path), [Fault("file", "", "is a folder, not a test file")])
        if path.stat().st_size > LARGEST:
            message = f"is larger than {LARGEST / 1e6:.0f} MB; expected one tensile test"
            raise TensileError(path.name, [Fault("file", "", message)])
        return path.read_bytes()
    except FileNotFoundError:
        near = sorted(one.name for one in path.parent.glob("*.csv"))[:6]
        hint = f"in {path.parent} there is {', '.join(near)}" if near else ""
        raise TensileError(str(path), [Fault("file", "", "no such file")], hint=hint) from None
    except OSError as error:
        reason = (error.strerror or "no reason given").lower()
        raise TensileError(str(path), [Fault("file", "", f"cannot be read: {reason}")]) from None
