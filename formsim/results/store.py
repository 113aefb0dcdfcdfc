"""The result folder: the only place that knows which file lies where."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from formsim.errors import StoreError
from formsim.results import series, tables
from formsim.results.checkpoint import read_state, write_state
from formsim.results.record import Frame, StageRecord
from formsim.results.tables import Table
from formsim.results.thickness import ThicknessProfile
from formsim.results.strains import SurfaceStrains
from formsim.solver.body import Body
from formsim.solver.state import State

FORMAT = 1
"""Number of the layout and of every file in it; grows when a reader would have to change."""

PHASES = ("start", "forming", "springback")
SUMMARY, CASE, THICKNESS, FORCES = "summary.json", "case.toml", "thickness.csv", "forces.csv"
SERIES, LAST_STATE, FIGURES = "sheet.vtkhdf", "last_state.npz", "figures"
_OWN = (SUMMARY, CASE, THICKNESS, FORCES, SERIES, LAST_STATE)
_PICTURES = (".svg", ".png")


@dataclass(frozen=True)
class Stamp:
    """What every file carries: title and digest of the case, version of the program."""

    case: str
    digest: str
    version: str

    def notes(self) -> dict[str, str | int]:
        """Stamp with the format number, for headers."""
        return {
            "format": FORMAT,
            "case": self.case,
            "digest": self.digest,
            "version": self.version,
        }


@dataclass(frozen=True)
class Folder:
    """A result folder."""

    path: Path
    stamp: Stamp

    def figure(self, name: str) -> Path:
        """Path of a figure without its ending; its folder is made."""
        folder = self.path / FIGURES
        with _writing(folder):
            folder.mkdir(exist_ok=True)
        return folder / name
