"""Revolved picture of the sheet, a quarter cut away, made without a display.

The graphics library ends the whole process when the system has no way to draw, so the picture is
made in a process of its own.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from formsim.arrays import Floats
from formsim.errors import DependencyError
from formsim.results.curve import Curve, bottom_line, top_line
from formsim.results.thickness import thickness_profile
from formsim.solver.body import Body
from formsim.solver.state import State

INSTALL = "apt-get install -y --no-install-recommends libegl1 libgl1-mesa-dri"
PATIENCE = 180.0
PER_COLUMN = 2


def save_picture(body: Body, state: State, path: Path, caption: str = "") -> Path:
    """Render the part as PNG, coloured by sheet thickness; ``path`` has no ending.

    Parameters
    ----------
    caption : what the state is, above the picture

    Raises
    ------
    DependencyError : the system cannot draw; names what is missing and how to install it
    """
    picture = path.with_name(path.name + ".png")
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "shell.npz"
        outline, thickness = shell_outline(body, state)
        np.savez(data, outline=outline, thickness=thickness)
        command = [sys.executable, "-m", "formsim.report.revolve", str(data), str(picture)]
        command.append(caption)
        try:
            done = subprocess.run(
                command, capture_output=True, text=True, timeout=PATIENCE, check=False
            )
        except subprocess.TimeoutExpired as error:
            message = f"the picture was not drawn within {PATIENCE:g} s"
            raise DependencyError(message, hint=_hint()) from error
    if done.returncode != 0:
        message = f"the picture cannot be drawn without a display: {reason(done.stderr)}"
        raise DependencyError(message, hint=_hint())
    return picture


def shell_outline(body: Body, state: State) -> tuple[Floats, Floats]:
    """Closed band of the section: bottom and top points and the thickness between them.

    Returns
    -------
    Outline, (2, n, 2) [mm]; thickness, (n) [mm].
    """
    places, profile = state.places(body), thickness_profile(body, state)
    return band(bottom_line(body, places), top_line(body, places), profile.thickness)


def band(lower: Curve, upper: Curve, at_lines: Floats) -> tuple[Floats, Floats]:
    """Points of both faces and a field between them, from values at the lines of the mesh."""
    bottom, top = _dense(lower), _dense(upper)
    lines = np.arange(len(at_lines), dtype=float)
    along = np.linspace(0.0, lines[-1], len(bottom))
    return np.stack([bottom, top]), np.interp(along, lines, at_lines)


def _dense(face: Curve) -> Floats:
    n = len(face.middles)
    return face.at(np.linspace(0.0, n, PER_COLUMN * n + 1))


def reason(text: str) -> str:
    """What keeps the graphics library from drawing, from what it said."""
    found = re.search(r"(lib[\w.+-]+\.so[.\d]*)", text)
    if found:
        return f"the system library {found.group(1)} is missing"
    if "EGL" in text:
        return "the system library libEGL.so.1 is missing"
    last = text.strip().splitlines()
    return last[-1] if last else "the graphics library stopped"


def _hint() -> str:
    return f"on Debian or Ubuntu: {INSTALL}; or leave it out with [output] picture = false"
