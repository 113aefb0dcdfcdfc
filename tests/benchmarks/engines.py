"""Times of one study on this machine, on a Slurm of two nodes and on two Dask workers, all here.

Call from the root of the repository: python -m tests.benchmarks.engines [VARIANTS [ENGINE ...]]
"""

import csv
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.interface.small import small_cup
from tests.loopback_slurm import loopback_slurm, missing

TOLD = ("time [s]",)
"""Columns that differ from one call to the next."""


def sweep(case: Path, into: Path, count: int, on: str, env: dict[str, str]) -> float:
    """Time of a whole call of the command [s]."""
    step = 0.02 / (count - 1)
    values = ", ".join(f"{0.27 + step * k:.6f}" for k in range(count))
    words = [sys.executable, "-m", "formsim", "sweep", str(case), "--into", str(into)]
    words += ["--vary", f"sheet.thickness = [{values}]", "--on", on, "--workers", "2", "--quiet"]
    begin = time.perf_counter()
    subprocess.run(words, env=env, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - begin


@contextmanager
def place(name: str, folder: Path) -> Iterator[tuple[str, dict[str, str]]]:
    """Where variants are solved, and the environment a call needs for it."""
    plain = dict(os.environ)
    if name == "local":
        yield "local", plain
    elif name == "slurm":
        with loopback_slurm(folder / "s") as env:
            yield "slurm", {**plain, **env}
    else:
        from distributed import LocalCluster

        one = {"n_workers": 2, "threads_per_worker": 1, "dashboard_address": None}
        with LocalCluster(**one) as cluster:
            yield cluster.scheduler_address, plain


def table(into: Path) -> list[dict[str, str]]:
    """Rows of a table, without what differs from one call to the next."""
    with (into / "table.csv").open(encoding="utf-8", newline="") as file:
        return [{k: v for k, v in row.items() if k not in TOLD} for row in csv.DictReader(file)]


def main(count: int, names: list[str]) -> None:
    """Time the same study on every engine and compare the tables."""
    found = {}
    with tempfile.TemporaryDirectory(prefix="engines-") as text:
        folder = Path(text)
        (folder / "cup.toml").write_text(small_cup(), encoding="utf-8")
        for name in names:
            if name == "slurm" and (why := missing()):
                print(f"slurm  {why}")
                continue
            with place(name, folder) as (on, env):
                seconds = sweep(folder / "cup.toml", folder / name, count, on, env)
            found[name] = table(folder / name)
            load = os.getloadavg()[0]
            print(f"{name:6} {seconds:6.1f} s for {count} variants; load {load:.1f}", flush=True)
    rows = list(found.values())
    print("tables", "the same" if all(one == rows[0] for one in rows) else "DIFFER")


if __name__ == "__main__":
    given = sys.argv[1:]
    main(int(given[0]) if given else 50, given[1:] or ["local", "slurm", "dask"])
