"""All tools of a case written to drawings, with pictures of them."""

from __future__ import annotations

from pathlib import Path

from formsim.case.schema import Case
from formsim.errors import StoreError
from formsim.geometry.drawing import DrawnOutline, read_outline
from formsim.geometry.drawing_write import write_outlines
from formsim.stages.drawn_check import drawn_tools
from formsim.stages.toolset import StageTools, toolset


def write_drawings(case: Case, into: Path, *, replace: bool = False) -> list[Path]:
    """Write one DXF drawing per stage, a layer for each tool, and a picture of every tool.

    Every outline has its own z = 0, as the key ``outline`` of a tool reads it. The picture of a
    tool that the case takes from a drawing shows what was understood of that.

    Returns
    -------
    The drawings, then the pictures.

    Raises
    ------
    CaseError : a drawing of the case cannot be used
    StoreError : there are drawings already, or the folder cannot be written
    """
    understood = {tool.key: tool.fitted.drawn for tool in drawn_tools(case)}
    stages = list(toolset(case))
    files = [into / f"{stage.number}-{stage.name}.dxf" for stage in stages]
    there = [file.name for file in files if file.exists()]
    if there and not replace:
        message = f"in {into} there is already {', '.join(there)}"
        raise StoreError(message, hint="choose another folder with --into, or add --replace")
    try:
        into.mkdir(parents=True, exist_ok=True)
        pictures: list[Path] = []
        for file, stage in zip(files, stages, strict=True):
            write_outlines(file, stage.outlines, replace=replace)
            pictures += _pictures(file, stage, understood)
    except OSError as error:
        message = f"{into} cannot be written: {error.strerror or error}"
        raise StoreError(message, hint="choose another folder with --into") from error
    return files + pictures


def _pictures(file: Path, stage: StageTools, understood: dict[str, DrawnOutline]) -> list[Path]:
    from formsim.report.drawing import save_drawing

    paths: list[Path] = []
    for tool, side in stage.sides.items():
        drawn = understood.get(f"{stage.keys[tool]}.outline")
        if drawn is None:
            drawn = read_outline(file, tool, free_side=side)
        paths += save_drawing(drawn, file.with_name(f"{file.stem}-{tool}"))
    return paths
