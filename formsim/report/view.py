"""The part in a window to turn with the mouse, stage by stage, where there is a screen."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from formsim.errors import DependencyError, StoreError
from formsim.report.page_top import part_stage
from formsim.report.render import band, reason
from formsim.results import store
from formsim.results.series_read import ends_of_stages


def show_part(folder: Path) -> None:
    """Open the window and wait until it is closed.

    A process of its own opens it: the graphics library ends its process where it cannot draw.

    Raises
    ------
    StoreError : no result, or one without a time series
    DependencyError : no screen here, or no window can be opened; says what to do instead
    """
    summary = store.load_summary(folder)
    arrays = _states(folder)
    if not has_screen(sys.platform, os.environ):
        message = "there is no screen to open a window on"
        raise DependencyError(message, hint=_instead(folder))
    with tempfile.TemporaryDirectory() as place:
        data = Path(place) / "part.npz"
        names = [str(stage["name"]) for stage in summary.get("stages", ())]
        arrays |= {"names": np.array(names), "shown": np.array(part_stage(summary))}
        np.savez(data, allow_pickle=False, **arrays)
        command = [sys.executable, "-m", "formsim.report.window", str(data), str(summary["case"])]
        done = subprocess.run(command, stderr=subprocess.PIPE, text=True, check=False)
    if done.returncode != 0:
        message = f"no window can be opened: {reason(done.stderr)}"
        raise DependencyError(message, hint=_instead(folder))


def has_screen(platform: str, environment: Mapping[str, str]) -> bool:
    """Whether a window can be hoped for: on Linux a session with a screen names it in DISPLAY."""
    return platform in ("win32", "darwin") or bool(environment.get("DISPLAY"))


def _states(folder: Path) -> dict[str, np.ndarray]:
    """Outline and thickness at the end of every stage, by its number from 0."""
    ends = ends_of_stages(store.load_stops(folder))
    arrays: dict[str, np.ndarray] = {}
    for moment in store.load_moments(folder, [stop.number for stop in ends.values()]):
        thickness = moment.along("thickness")
        if thickness is not None:
            outline, values = band(*moment.faces(), thickness)
            arrays[f"outline_{moment.stop.stage}"] = outline
            arrays[f"thickness_{moment.stop.stage}"] = values
    if not arrays:
        message = f"the time series in {folder} has no states"
        raise StoreError(message, hint="run the case again")
    return arrays


def _instead(folder: Path) -> str:
    page = folder / store.REPORT
    first = f"open {page} in a browser" if page.is_file() else f"formsim report {folder}"
    return f"{first}, or formsim export {folder} for files of the part, or use a desktop session"
