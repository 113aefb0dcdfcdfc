"""Names of the files in a result folder that a later case reads, and the number of the layout."""

from __future__ import annotations

FORMAT = 1
"""Number of the layout and of every file in it; grows when a reader would have to change."""

SUMMARY, CASE = "summary.json", "case.toml"
SHEETS = "sheets"
BEFORE = f"{SHEETS}/before.npz"
"""What was done to the sheet in the results a case starts from."""


def sheet_file(number: int, stage: str) -> str:
    """The sheet as a stage passes it on, below the result folder; ``number`` from 0."""
    return f"{SHEETS}/{number + 1}-{stage}.npz"
