"""How often the 95 % intervals of predict hold: some rows of large studies against all others.

Call: python tests/benchmarks/prediction_intervals.py STUDY_FOLDER ...
"""

import sys
from pathlib import Path

import numpy as np

from formsim.study.gaussian import fit_gaussian
from formsim.study.kept import read_study
from formsim.study.surrogate import LEAST_EACH
from formsim.study.surrogate_place import coded, surrounded, usable

COUNTS, REPEATS, TRIED = (7, 10, 15, 30), 4, 30


def spread_out(points, count, rng):
    """Rows that lie far from each other, as those of a designed study do: the best of some."""
    tried = [rng.choice(len(points), count, replace=False) for _ in range(TRIED)]
    return max(tried, key=lambda rows: nearest(points[rows]))


def nearest(points):
    away = np.linalg.norm(points[:, None] - points[None], axis=-1)
    return away[np.triu_indices(len(points), 1)].min()


def held(points, values, rows):
    """Of the other rows that these surround, which lie in their interval; its half width."""
    low, width = points[rows].min(axis=0), np.ptp(points[rows], axis=0)
    rest = [k for k in range(len(points)) if k not in rows and surrounded(points[rows], points[k])]
    law = fit_gaussian((points[rows] - low) / width, values[rows])
    first, last = law.within((points[rest] - low) / width)
    inside = (first <= values[rest]) & (values[rest] <= last)
    return inside, 0.5 * (last - first) / np.ptp(values)


def main(folders):
    for folder in folders:
        table = read_study(Path(folder)).table
        print(f"{folder}: number, rows: held, of others, half width in the range of all numbers")
        for name in table.measures:
            rows = usable(table, name)
            place = {head: table.columns[head][0] for head in table.inputs}
            points, _ = coded(table, rows, place)
            values = np.array(table.columns[name], dtype=object)[rows].astype(float)
            for count in COUNTS:
                if count < LEAST_EACH * points.shape[1] or not np.ptp(values):
                    continue
                found = [
                    held(points, values, spread_out(points, count, np.random.default_rng(k)))
                    for k in range(REPEATS)
                ]
                inside, wide = (np.concatenate([one[k] for one in found]) for k in (0, 1))
                told = f"{100 * inside.mean():4.0f} % {len(inside):5d} {100 * wide.mean():7.1f} %"
                print(f"  {name:42s} {count:3d} {told}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
