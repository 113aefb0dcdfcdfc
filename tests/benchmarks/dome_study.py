"""Strength against mass of the canister: dome depth and nose radius varied, formed and pressurised.

Usage: python tests/benchmarks/dome_study.py

The canister line up to the trim on 400 x 2 elements, without bake, necks and flange.
"""

from __future__ import annotations

import copy
import tomllib
from pathlib import Path
from typing import Any

from formsim.case.load import build_case
from formsim.pipeline.run import run_case

LINE = Path(__file__).parents[2] / "cases" / "canister_line.toml"
KINDS = ("draw", "redraw", "iron", "dome", "trim", "pressurise")
NOSES, DEPTHS = (1.6, 2.0, 2.4), (8.0, 9.0, 10.0)


def variant(base: dict[str, Any], nose: float, depth: float) -> dict[str, Any]:
    """Case with another radius of the nose ring and another depth of the dome [mm]."""
    raw = copy.deepcopy(base)
    raw["stage"] = [stage for stage in raw["stage"] if stage["kind"] in KINDS]
    for stage in raw["stage"]:
        if "nose_ring" in stage.get("punch", {}):
            stage["punch"]["nose_ring"]["radius"] = nose
        if stage["kind"] == "dome":
            stage["depth"] = depth
    raw["mesh"] = {"columns": 400, "layers": 2}
    raw["output"] = {"figures": False, "picture": False}
    return raw


def main() -> None:
    base = tomllib.loads(LINE.read_text(encoding="utf-8"))
    print("nose [mm]  depth [mm]  mass [g]  gives way [MPa]  centre grows at 2 bar [mm]")
    for nose in NOSES:
        for depth in DEPTHS:
            run = run_case(build_case(variant(base, nose, depth), "dome study"))
            held = run.summary["stages"][-1]["pressurise"]
            growth = held["named"][0]["centre_growth"]
            mass, limit = run.summary["mass_g"], held["limit"]
            print(
                f"{nose:9.1f}  {depth:10.1f}  {mass:8.3f}  {limit:15.3f}  {growth:26.3f}",
                flush=True,
            )


if __name__ == "__main__":
    main()
