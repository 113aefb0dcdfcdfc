"""Which sources of formsim are at work: a digest of files of the package itself."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).parent
SILENT = ("report", "cli.py", "options.py")
"""Rooms that decide no number: they show what the others have found."""


def digest_of(files: Iterable[Path]) -> str:
    """Digest of names and contents of files of the package."""
    digest = hashlib.sha256()
    for file in sorted(files):
        digest.update(f"{file.relative_to(PACKAGE).as_posix()}\n".encode())
        digest.update(file.read_bytes())
    return digest.hexdigest()[:16]


@cache
def sources() -> str:
    """Digest of all that decides a number: code, templates of cases, library of materials."""
    files = (path for kind in ("*.py", "*.toml") for path in PACKAGE.rglob(kind))
    return digest_of(path for path in files if path.relative_to(PACKAGE).parts[0] not in SILENT)
