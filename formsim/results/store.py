"""The result folder: the only place that knows which file lies where."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from formsim.case.named_file import NamedFile
from formsim.case.press import RamMotion
from formsim.case.stage import Stage
from formsim.errors import StoreError
from formsim.layout import CASE, FORMAT, SHEETS, SUMMARY
from formsim.results.checkpoint import LastState, read_state, write_state
from formsim.results.files import ELSEWHERE, check_format, read_text, write_whole, writing
from formsim.results.kept_drawings import (
    DRAWINGS,
    copies_in,
    copy_names,
    led_to_copies,
    led_to_result,
    way_to,
)
from formsim.results.press_times import ram_of
from formsim.results.record import Frame, Line
from formsim.results.risk import RiskReport
from formsim.results.risk_tables import damage_columns, path_columns, risk_columns
from formsim.results.series import Step, append_steps, create_series, end_series, set_times
from formsim.results.series_read import Moment, Stop, read_moments, read_stops
from formsim.results.tables import (
    Column,
    Table,
    force_columns,
    joined,
    parse_table,
    strength_columns,
    table_text,
    thickness_columns,
    timed,
)
from formsim.results.thickness import thickness_profile
from formsim.results.tool_motion import StageMotion, motion_of, parse_motion
from formsim.results.twin import ENDINGS
from formsim.results.zones import zones
from formsim.solver.body import Body
from formsim.solver.state import State
from formsim.stages.sheet import Sheet

PHASES = ("start", "forming", "springback")
THICKNESS, FORCES = "thickness.csv", "forces.csv"
SERIES, LAST_STATE, FIGURES = "sheet.vtkhdf", "last_state.npz", "figures"
STRENGTH, RISK, DAMAGE, PATHS = "strength.csv", "risk.csv", "damage.csv", "strain_paths.csv"
ERROR_BARS, TOOLS, REPORT = "error_bars.csv", "tools.json", "report.html"
_TABLES = (THICKNESS, FORCES, STRENGTH, RISK, DAMAGE, PATHS, ERROR_BARS)
_OWN = (SUMMARY, CASE, *_TABLES, SERIES, TOOLS, LAST_STATE, REPORT)
_PICTURES = (".svg", ".png")


@dataclass(frozen=True)
class Stamp:
    """What every file carries: title and digest of the case, version of the program."""

    case: str
    digest: str
    version: str

    def notes(self) -> dict[str, str | int]:
        """Stamp with the format number."""
        return {
            "format": FORMAT,
            "case": self.case,
            "digest": self.digest,
            "version": self.version,
        }


@dataclass(frozen=True)
class Folder:
    """A result folder and what its files carry."""

    path: Path
    stamp: Stamp

    def figure(self, name: str) -> Path:
        """Path of a figure without its ending; the folder of figures is there afterwards."""
        folder = self.path / FIGURES
        with writing(folder):
            folder.mkdir(exist_ok=True)
        return folder / name


def create_folder(
    path: Path,
    case_text: str,
    stamp: Stamp,
    *,
    replace: bool = False,
    drawings: Sequence[NamedFile] = (),
    started: tuple[str, Path] | None = None,
) -> Folder:
    """Make a result folder and put a copy of the case and of its drawings into it.

    Parameters
    ----------
    drawings : of the case; the copy of the case leads to their copies
    started : result the case starts from, as it names it and where it lies; the copy leads to it
    replace : remove the files of an earlier result first; other files are never touched

    Raises
    ------
    StoreError : the folder holds something already, or cannot be written
    """
    names = copy_names(drawings)
    data = {name: _content(file.path) for file, name in names.items()}
    with writing(path):
        if path.exists() and not path.is_dir():
            message = f"{path} is a file, so no results can be put into it"
            raise StoreError(message, hint=ELSEWHERE)
        if path.is_dir() and any(path.iterdir()):
            _clear(path, replace)
        path.mkdir(parents=True, exist_ok=True)
        kept = led_to_copies(case_text, names)
        if started is not None:
            kept = led_to_result(kept, started[0], way_to(started[1], path))
        (path / CASE).write_text(kept, encoding="utf-8")
        for name, content in data.items():
            (path / DRAWINGS).mkdir(exist_ok=True)
            (path / DRAWINGS / name).write_bytes(content)
    return Folder(path, stamp)


def write_summary(folder: Folder, summary: dict[str, Any]) -> Path:
    """Write ``summary.json``; format number and stamp are put in front."""
    path = folder.path / SUMMARY
    text = json.dumps(folder.stamp.notes() | summary, indent=2, ensure_ascii=False)
    write_whole(path, text + "\n")
    return path


def write_thickness(
    folder: Folder, line: Line, stages: Sequence[Stage], before: Sequence[Stage] = ()
) -> Path:
    """Write ``thickness.csv``: the sheet after springback of every stage made so far.

    Parameters
    ----------
    before : stages an earlier run has made of the sheet
    """
    parts = []
    for number, (record, stage) in enumerate(zip(line.stages, stages, strict=False)):
        profile = thickness_profile(record.body, record.final)
        names = zones(profile, stage, (*before, *stages[:number]))
        parts.append(thickness_columns(record.body, record.final, record.name, names))
    path = folder.path / THICKNESS
    write_whole(path, table_text(joined(parts), folder.stamp.notes()))
    return path


def write_forces(folder: Folder, line: Line, press: RamMotion | None = None) -> Path:
    """Write ``forces.csv``: every tool in every increment of every stage, timed by a press."""
    path = folder.path / FORCES
    parts = [force_columns(record) for record in line.stages]
    if press is not None:
        rams = [ram_of(press, record) for record in line.stages]
        parts = [timed(part, ram) for part, ram in zip(parts, rams, strict=True)]
    write_whole(path, table_text(joined(parts), folder.stamp.notes()))
    return path


def write_strength(folder: Folder, line: Line) -> Path | None:
    """Write ``strength.csv`` where a body was pressurised or loaded."""
    parts = [strength_columns(record) for record in line.stages if record.gauges]
    if not parts:
        return None
    path = folder.path / STRENGTH
    write_whole(path, table_text(joined(parts), folder.stamp.notes()))
    return path


def write_risk(folder: Folder, risks: RiskReport) -> None:
    """Write ``risk.csv``, every risk of every zone, ``damage.csv`` and ``strain_paths.csv``.

    The latter, the way there, only where a body of this case was not tested until it gave way.
    """
    if risks.rows:
        text = table_text(risk_columns(risks.rows), folder.stamp.notes())
        write_whole(folder.path / RISK, text)
    if not risks.traces:
        return
    for name, columns in ((DAMAGE, damage_columns), (PATHS, path_columns)):
        parts = [columns(trace) for trace in risks.traces]
        write_whole(folder.path / name, table_text(joined(parts), folder.stamp.notes()))


def write_tools(folder: Folder, line: Line) -> Path:
    """Write ``tools.json``: tool outlines of every stage and where they stand in kept states."""
    path = folder.path / TOOLS
    motion = {**folder.stamp.notes(), "stages": [motion_of(record) for record in line.stages]}
    write_whole(path, json.dumps(motion, ensure_ascii=False))
    return path


def write_error_bars(folder: Folder, columns: Mapping[str, Column]) -> Path:
    """Write ``error_bars.csv``: numbers of all meshes, with their bars."""
    path = folder.path / ERROR_BARS
    write_whole(path, table_text(columns, folder.stamp.notes()))
    return path


def start_series(folder: Folder, body: Body) -> Path:
    """Begin ``sheet.vtkhdf`` with the mesh of the sheet."""
    path = folder.path / SERIES
    create_series(path, body, folder.stamp.notes())
    return path


def append_frames(
    folder: Folder, sheet: Sheet, frames: Sequence[Frame], stage: int, times: Sequence[float]
) -> None:
    """Add frames of a stage to ``sheet.vtkhdf``; ``stage`` from 0, ``times`` growing."""
    steps = [
        Step(time, sheet.body, frame.state, stage, PHASES.index(frame.phase), sheet.material)
        for frame, time in zip(frames, times, strict=True)
    ]
    append_steps(folder.path / SERIES, steps)


def set_frame_times(folder: Folder, times: Sequence[float]) -> None:
    """Give the last frames of ``sheet.vtkhdf`` new times, growing."""
    set_times(folder.path / SERIES, np.array(times))


def close_series(folder: Folder) -> None:
    """Remove the second copy that lies beside ``sheet.vtkhdf`` while frames may come."""
    end_series(folder.path / SERIES)


def save_last_state(folder: Folder, stage: int, name: str, state: State) -> Path:
    """Write the last accepted state, in place of an earlier one."""
    path = folder.path / LAST_STATE
    with writing(path):
        write_state(path, stage, name, state, folder.stamp.notes())
    return path


def write_report(path: Path, page: str) -> Path:
    """Write ``report.html`` into a folder, that of the result or another one."""
    file = path / REPORT
    with writing(path):
        path.mkdir(parents=True, exist_ok=True)
    write_whole(file, page)
    return file


def case_file(path: Path) -> Path:
    """The case of a result folder as it was run; it need not be there."""
    return path / CASE


def figures(path: Path) -> dict[str, dict[str, Path]]:
    """Figures of a result folder: name -> ending -> file."""
    found: dict[str, dict[str, Path]] = {}
    for file in sorted(_pictures(path)):
        found.setdefault(file.stem, {})[file.suffix] = file
    return found


def file_sizes(path: Path) -> dict[str, int]:
    """Size [bytes] of every file of a result but the report, by name below its folder."""
    names = [path / name for name in _OWN if name != REPORT and (path / name).is_file()]
    files = [*names, *_drawings(path), *sorted(_sheets(path)), *sorted(_pictures(path))]
    return {file.relative_to(path).as_posix(): file.stat().st_size for file in files}


def kept_files(path: Path) -> list[str]:
    """Names of the files of this program in a result folder, pictures counted together."""
    names = [name for name in _OWN if (path / name).is_file()]
    folders = ((DRAWINGS, _drawings(path)), (SHEETS, _sheets(path)), (FIGURES, _pictures(path)))
    return names + [f"{name}/ ({len(files)} files)" for name, files in folders if files]


def load_last_state(path: Path) -> LastState:
    """Last accepted state of a result folder."""
    return read_state(path / LAST_STATE)


def load_summary(path: Path) -> dict[str, Any]:
    """Summary of a result folder.

    Raises
    ------
    StoreError : there is none, it is damaged, or of another format
    """
    file = path / SUMMARY
    try:
        summary = json.loads(read_text(file))
    except json.JSONDecodeError as error:
        message = f"{file} is damaged: {error}"
        raise StoreError(message, hint="run the case again") from error
    if not isinstance(summary, dict):
        message = f"{file} is damaged: it holds no summary"
        raise StoreError(message, hint="run the case again")
    check_format(file, summary.get("format"))
    return summary


def load_thickness(path: Path) -> Table:
    """Thickness table of a result folder."""
    return _load_table(path / THICKNESS)


def load_paths(path: Path) -> Table:
    """Table of the strain paths of a result folder."""
    return _load_table(path / PATHS)


def load_forces(path: Path) -> Table:
    """Force table of a result folder."""
    return _load_table(path / FORCES)


def load_stops(path: Path) -> list[Stop]:
    """Which states the time series of a result folder has."""
    return read_stops(path / SERIES)


def load_moments(path: Path, wanted: Sequence[int]) -> Iterator[Moment]:
    """States of the time series of a result folder, ``wanted`` by number from 0."""
    return read_moments(path / SERIES, wanted)


def load_tools(path: Path) -> tuple[StageMotion, ...]:
    """Tools of a result folder; none of a run that was killed or of an older version."""
    return parse_motion(path / TOOLS) if (path / TOOLS).is_file() else ()


def _load_table(file: Path) -> Table:
    table = parse_table(read_text(file), str(file))
    check_format(file, table.notes.get("format"))
    return table


def _clear(path: Path, replace: bool) -> None:
    if not replace:
        message = f"the folder {path} is not empty"
        raise StoreError(message, hint=f"{ELSEWHERE}, or overwrite it with --replace")
    drawings = _drawings(path)
    names = [name + ending for name in _OWN for ending in ("", *ENDINGS)]
    own = [path / name for name in names if (path / name).is_file()]
    if not own:
        message = f"the folder {path} holds no result of this program, so nothing is removed"
        raise StoreError(message, hint=ELSEWHERE)
    for file in own + _pictures(path) + _sheets(path) + drawings:
        file.unlink()


def _pictures(path: Path) -> list[Path]:
    return [file for file in (path / FIGURES).glob("*") if file.suffix in _PICTURES]


def _sheets(path: Path) -> list[Path]:
    return list((path / SHEETS).glob("*.npz"))


def _content(drawing: Path) -> bytes:
    try:
        return drawing.read_bytes()
    except OSError as error:
        message = f"{drawing} cannot be read: {error.strerror or error}"
        raise StoreError(message, hint="a result keeps a copy of every drawing") from error


def _drawings(path: Path) -> list[Path]:
    """Copies of drawings that the kept case leads to."""
    case = path / CASE
    text = case.read_text(encoding="utf-8") if case.is_file() else ""
    return [path / name for name in dict.fromkeys(copies_in(text)) if (path / name).is_file()]
