"""Small sections of the sheet after every stage, all to one scale, from the thickness table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from formsim.arrays import Floats
from formsim.report.page_top import key_number
from formsim.results.tables import Table

MOST = 180
"""Points of a face that are drawn; a small picture shows no more."""

MARGIN = 0.04
"""Free border of the pictures over the width of the widest section."""


class Small(NamedTuple):
    """One stage of the strip; ``path`` is empty where the table has no section of it."""

    number: int
    name: str
    label: str
    value: str
    path: str


class Strip(NamedTuple):
    """Stages in their order, and the part of the plane their pictures show [mm]."""

    stages: tuple[Small, ...]
    box: str
    widest: float


def strip(summary: Mapping[str, Any], table: Table | None) -> Strip:
    """Strip of all stages of a summary; without a table it has no pictures."""
    sections = list(_sections(table)) if table is not None else []
    stages = summary.get("stages", ())
    paths = [_path(section) for section in sections[: len(stages)]]
    paths += [""] * (len(stages) - len(paths))
    small = tuple(
        Small(k + 1, str(stage["name"]), *key_number(stage), path)
        for k, (stage, path) in enumerate(zip(stages, paths, strict=True))
    )
    return Strip(small, *_box(sections))


def _sections(table: Table) -> Iterator[tuple[Floats, Floats]]:
    """Both faces of the sheet after every stage, (n, 2) each [mm], lowest point at zero."""
    names = table.columns["stage"]
    ends = [k for k in range(1, len(names)) if names[k] != names[k - 1]]
    for rows in np.split(np.arange(len(names)), ends):
        kept = rows[np.unique(np.linspace(0, len(rows) - 1, MOST).astype(int))]
        r, z, t = (
            np.asarray(table.columns[key], dtype=float)[kept]
            for key in ("radius_mm", "z_mm", "thickness_mm")
        )
        if len(kept) < 2 or not np.isfinite([r, z, t]).all():
            continue
        middle, along = np.stack([r, z], axis=1), np.stack([np.gradient(r), np.gradient(z)], axis=1)
        length = np.maximum(np.hypot(*along.T), 1e-9)
        normal = np.stack([-along[:, 1], along[:, 0]], axis=1) / length[:, None]
        low, high = (middle + side * 0.5 * t[:, None] * normal for side in (-1.0, 1.0))
        lowest = np.array([0.0, min(low[:, 1].min(), high[:, 1].min())])
        yield low - lowest, high - lowest


def _path(section: tuple[Floats, Floats]) -> str:
    """Outline of both halves of a section as the path of a picture, heights downwards."""
    low, high = section
    outline = np.concatenate([low, high[::-1]]) * (1.0, -1.0)
    return " ".join(_closed(outline * (side, 1.0)) for side in (1.0, -1.0))


def _closed(points: Floats) -> str:
    return "M" + "L".join(f"{r:.2f} {z:.2f}" for r, z in points) + "Z"


def _box(sections: Sequence[tuple[Floats, Floats]]) -> tuple[str, float]:
    """Left, top, width and height of a picture that holds every section, and the widest one."""
    points = np.concatenate([face for pair in sections for face in pair] or [np.ones((1, 2))])
    widest, height = 2.0 * float(points[:, 0].max()), float(points[:, 1].max())
    free = MARGIN * widest
    left, width = -0.5 * widest - free, widest + 2.0 * free
    return f"{left:.2f} {-height - free:.2f} {width:.2f} {height + 2.0 * free:.2f}", widest
