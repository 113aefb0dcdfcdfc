"""What the copy of a case in its result leads to: copies of its drawings, the result before it."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from pathlib import Path

from formsim.case.named_file import NamedFile

DRAWINGS = "drawings"
"""Folder of the copies in a result folder."""

_RESULT = re.compile(r"""(\bresult\s*=\s*)(["'])([^"'\n]*)\2""")
_FILE = re.compile(r"""(\bfile\s*=\s*)(["'])([^"'\n]*)\2""")


def copy_names(files: Iterable[NamedFile]) -> dict[NamedFile, str]:
    """Name of every copy; two drawings of one name from two folders get a number."""
    names: dict[NamedFile, str] = {}
    for file in dict.fromkeys(files):
        name, number = file.path.name, 1
        while name.casefold() in (taken.casefold() for taken in names.values()):
            number += 1
            name = f"{file.path.stem}-{number}{file.path.suffix}"
        names[file] = name
    return names


def led_to_copies(text: str, names: dict[NamedFile, str]) -> str:
    """Text of a case whose drawings are the copies."""
    copies = {file.name: f"{DRAWINGS}/{name}" for file, name in names.items()}

    def led(found: re.Match[str]) -> str:
        return f"{found[1]}{found[2]}{copies.get(found[3], found[3])}{found[2]}"

    return _FILE.sub(led, text)


def led_to_result(text: str, name: str, place: str) -> str:
    """Text of a case that starts from a result, which lies elsewhere seen from the copy."""

    def led(found: re.Match[str]) -> str:
        return f"{found[1]}{found[2]}{place if found[3] == name else found[3]}{found[2]}"

    return _RESULT.sub(led, text)


def way_to(folder: Path, begin: Path) -> str:
    """Path of a folder relative to another one, with / between folders; whole where none leads."""
    try:
        return Path(os.path.relpath(folder.resolve(), begin.resolve())).as_posix()
    except ValueError:
        return folder.resolve().as_posix()


def copies_in(text: str) -> list[str]:
    """Paths of the copies that the text of a kept case leads to."""
    found = (match[3] for match in _FILE.finditer(text))
    return [path for path in found if path.startswith(f"{DRAWINGS}/") and ".." not in path]
