"""Files of arrays with notes on the case they belong to; whole, or the old ones."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

import numpy as np

DAMAGED = (OSError, ValueError, KeyError, EOFError, BadZipFile)
"""What reading a damaged file of arrays raises."""

_NOTE = "note_"


def write_arrays(
    path: Path, arrays: Mapping[str, Any], notes: Mapping[str, str | int], *, packed: bool
) -> None:
    """Write arrays and notes; ``packed`` files are smaller and take longer."""
    everything = dict(arrays)
    everything |= {f"{_NOTE}{key}": np.array(str(value)) for key, value in notes.items()}
    save = np.savez_compressed if packed else np.savez
    part = path.with_name(path.name + ".part")
    try:
        with part.open("wb") as file:
            save(file, **everything)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def notes_of(file: Mapping[str, Any]) -> dict[str, str]:
    """Notes of a file of arrays that is open."""
    return {key[len(_NOTE) :]: str(file[key]) for key in file if key.startswith(_NOTE)}
