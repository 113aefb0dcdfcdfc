"""The folder of a study: the only place that knows which of its files lies where."""

from __future__ import annotations

import json
import os
import shlex
import shutil
import socket
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from formsim.case.expect import Wanted
from formsim.case.toml_text import toml_text
from formsim.errors import StoreError
from formsim.results.files import write_whole, writing
from formsim.results.kept_drawings import way_to
from formsim.sources import sources
from formsim.version import VERSION

FORMAT = 1
"""Number of the layout of a study folder."""

STUDY, JOB, SEARCH = "study.toml", "job.json", "search.toml"
TABLE, PARQUET, RULES = "table.csv", "table.parquet", "handbook.csv"
SENSITIVITY, SCATTER, LAWS = "sensitivity.csv", "scatter.csv", "laws.json"
PAGE = "study.html"
CASES, ROWS, RESULTS, LOCK = "variants", "rows", "results", "lock"
FINER_MESH, SAID = "finer", "workers.txt"


@dataclass(frozen=True)
class Job:
    """What a worker has to know beside the case of a variant.

    Attributes
    ----------
    cases : folder to which files named in the cases are relative
    keep : ``summary``, ``curves`` or ``history``
    wanted : measures of every variant
    longest : time a variant may take [s]; None for any
    sources : of the program that planned it
    """

    cases: Path
    keep: str
    wanted: tuple[Wanted, ...]
    longest: float | None = None
    sources: str = field(default_factory=sources)


@dataclass(frozen=True)
class StudyFolder:
    """Where everything of a study lies."""

    path: Path

    def case(self, key: str) -> Path:
        """Case file of a variant."""
        return self.path / CASES / f"{key}.toml"

    def result(self, key: str) -> Path:
        """Result folder of a variant, whole."""
        return self.path / RESULTS / key

    def scratch(self, key: str) -> Path:
        """Result folder of a variant while this process makes it.

        Each has its own: a worker that only seemed lost may still be at the same variant.
        """
        return self.path / RESULTS / f".{key}~{process_name(os.getpid())}"

    def clear_scratch(self, key: str = "*", worker: str = "*") -> None:
        """Remove what workers left half made, of one variant or one worker where they are named."""
        for left in (self.path / RESULTS).glob(f".{key}~{worker}"):
            shutil.rmtree(left, ignore_errors=True)

    def keep_result(self, key: str) -> None:
        """Make what lies in the scratch folder of a variant its result."""
        target = self.result(key)
        with writing(target):
            shutil.rmtree(target, ignore_errors=True)
            self.scratch(key).replace(target)

    def row(self, key: str) -> dict[str, Any] | None:
        """What became of a variant; None where nothing did yet, or by another version."""
        try:
            row = json.loads((self.path / ROWS / f"{key}.json").read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return None
        same = isinstance(row, dict) and row.get("format") == FORMAT
        return row if same and row.get("key") == key and row.get("version") == VERSION else None

    def solved_keys(self) -> list[str]:
        """Keys of all variants that came to something, by whatever version."""
        return sorted(file.stem for file in (self.path / ROWS).glob("*.json"))

    def solved_by_others(self, keys: Iterable[str]) -> tuple[int, int]:
        """How many variants without a row were solved by other sources, by other versions."""
        names = set(self.solved_keys())
        makers: dict[str, set[bool]] = {}
        for name in names:
            case, _, maker = name.partition("-")
            makers.setdefault(case, set()).add(f"{maker}-".startswith(f"{VERSION}-"))
        case_of = [key.partition("-")[0] for key in keys if key not in names]
        found = [True in makers[case] for case in case_of if case in makers]
        return sum(found), len(found) - sum(found)

    def solved_before(self, keys: Iterable[str]) -> int:
        """How many cases this formsim has solved here that are not among those of a study."""
        digests = {key.partition("-")[0] for key in keys}
        own = [name for name in self.solved_keys() if name.endswith(f"-{sources()[:8]}")]
        return sum(name.partition("-")[0] not in digests for name in own)

    def row_stamp(self, key: str) -> int:
        """When the row of a variant was written [ns]; 0 where there is none."""
        try:
            return (self.path / ROWS / f"{key}.json").stat().st_mtime_ns
        except OSError:
            return 0

    def write_row(self, key: str, row: Mapping[str, Any]) -> None:
        """Write what became of a variant."""
        stamp = {"format": FORMAT, "key": key, "version": VERSION}
        text = json.dumps(stamp | dict(row), indent=1, ensure_ascii=False) + "\n"
        write_whole(self.path / ROWS / f"{key}.json", text)

    @property
    def again(self) -> str:
        """The command that goes on with the study as its file in the folder has it."""
        file, folder = (shlex.quote(str(one)) for one in (self.path / STUDY, self.path))
        return f"formsim sweep {file} --into {folder}"

    @property
    def extended(self) -> str:
        """How to have more variants in the same folder; what is solved stays."""
        return f"add values or samples in {self.path / STUDY}, then: {self.again}"

    def shown(self) -> list[str]:
        """Files and folders a user may look at."""
        names = (PAGE, TABLE, PARQUET, RULES, SENSITIVITY, SCATTER, SEARCH, STUDY)
        return [name for name in (*names, RESULTS, FINER_MESH) if (self.path / name).exists()]

    def text(self, name: str) -> str:
        """Text of one of the files.

        Raises
        ------
        StoreError : it is missing or cannot be read
        """
        try:
            return (self.path / name).read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as error:
            message = f"{self.path / name} cannot be read: {error}"
            raise StoreError(message, hint="run formsim sweep again") from None

    def remove(self, name: str) -> None:
        """Remove one of the tables, where it is there."""
        with writing(self.path / name):
            (self.path / name).unlink(missing_ok=True)

    def drop_said(self, *, empty_only: bool = False) -> None:
        """Remove what workers have said beside their rows, such as how one ended early."""
        path = self.path / SAID
        with suppress(OSError):
            if not empty_only or path.stat().st_size == 0:
                path.unlink()

    def write(self, name: str, content: str | bytes) -> Path:
        """Write one of the tables."""
        path = self.path / name
        write_whole(path, content)
        return path


def process_name(pid: int) -> str:
    """Name of a process of this machine among those of all that see a folder."""
    return f"{socket.gethostname()}-{pid}"


def open_study(path: Path) -> StudyFolder:
    """Make the folder of a study, or go on in the one of an earlier call.

    Raises
    ------
    StoreError : the folder holds something else, or cannot be written
    """
    with writing(path):
        if path.exists() and not path.is_dir():
            message = f"{path} is a file, so no study can be put into it"
            raise StoreError(message, hint="choose another folder with --into")
        if path.is_dir() and any(path.iterdir()) and not (path / JOB).is_file():
            message = f"the folder {path} is not empty and holds no study"
            raise StoreError(message, hint="choose another folder with --into")
        for name in (CASES, ROWS, RESULTS):
            (path / name).mkdir(parents=True, exist_ok=True)
    return StudyFolder(path)


def write_job(
    folder: StudyFolder, job: Job, asked: Mapping[str, Any], cases: Mapping[str, str]
) -> None:
    """Write the study as it was asked for, the cases of its variants, and what workers need.

    Parameters
    ----------
    asked : the study file as nested tables
    cases : text of the case of every variant, by key
    """
    plain = {
        "format": FORMAT,
        "version": VERSION,
        "longest": job.longest,
        "sources": job.sources,
        "cases": way_to(job.cases, folder.path),
        "keep": job.keep,
        "measures": [one.model_dump(exclude_none=True) for one in job.wanted],
    }
    folder.write(JOB, json.dumps(plain, indent=1, ensure_ascii=False) + "\n")
    folder.write(STUDY, toml_text(asked))
    for key, text in cases.items():
        if not folder.case(key).is_file():
            write_whole(folder.case(key), text)


def read_job(path: Path) -> tuple[StudyFolder, Job]:
    """The study in a folder, for a worker.

    Raises
    ------
    StoreError : there is none, or another version wrote it
    """
    try:
        raw = json.loads((path / JOB).read_text(encoding="utf-8"))
        wanted = _measures(raw["measures"])
        more = raw.get("longest"), str(raw.get("sources", ""))
        job = Job(path / raw["cases"], str(raw["keep"]), wanted, *more)
        made_by = (raw["format"], raw["version"])
    except (OSError, ValueError, KeyError, TypeError, ValidationError):
        message = f"{path} holds no study, or its {JOB} is damaged"
        raise StoreError(message, hint="name the folder formsim sweep writes into") from None
    if made_by != (FORMAT, VERSION):
        message = f"the study in {path} was planned by version {made_by[1]}, this is {VERSION}"
        raise StoreError(message, hint="run formsim sweep again with this version")
    return StudyFolder(path), job


def _measures(raw: Sequence[Mapping[str, Any]]) -> tuple[Wanted, ...]:
    return tuple(Wanted.model_validate(one) for one in raw)


@contextmanager
def locked(folder: StudyFolder) -> Iterator[None]:
    """Keep a second call away from a study while one works on it; a kill gives it free.

    Raises
    ------
    StoreError : another call works on it
    """
    path = folder.path / LOCK
    with ExitStack() as stack:
        # What goes wrong while it is held is not a matter of this file.
        with writing(path):
            file = stack.enter_context(path.open("w"))
        _lock(file.fileno(), folder.path)
        yield


def _lock(handle: int, path: Path) -> None:
    try:
        import fcntl
    except ImportError:
        return
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        message = f"another formsim works on the study in {path}"
        raise StoreError(message, hint="wait for it, or choose another folder") from None
